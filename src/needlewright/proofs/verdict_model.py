"""What a verdict is: of a row, of a dial, of a run."""

from dataclasses import dataclass
from typing import Final, Literal

from needlewright.readings.runs import RunRow
from needlewright.rules.decision import Decision, VerdictCode, people_words
from needlewright.rules.model import Limits, Rule

Basis = Literal["rule", "rest", "none"]

WORST_FIRST: Final[tuple[VerdictCode, ...]] = (
    "fail",
    "conditional_fail",
    "not complete",
    "not_read",
    "conditional_pass",
    "pass",
    "not_judged",
)


@dataclass(frozen=True, slots=True)
class RowVerdict:
    """One row of a run, judged."""

    row: RunRow
    code: VerdictCode
    basis: Basis
    """What the row was held against: the dial's rule, its rest limit, or nothing."""
    true_value: float | None
    """What was commanded, in the dial's unit; None at rest."""
    limits: Limits | None
    """Of `judged`, in `limits_unit`."""
    limits_unit: str
    """The dial's unit, or `deg` under the rest limit."""
    judged: float | None
    """What was held against the limits: the shown value, or the needle's angle."""
    shown: float | None
    """In the dial's unit; None where it was not read or lies too far beyond the scale."""
    error: float | None
    """Shown minus true, in the dial's unit; None at rest, and where the needle is on a stop."""
    u_error: float | None
    """Standard uncertainty (k = 1) of `error`, stimulus included where it is known."""
    decision: Decision | None
    """None where nothing was judged."""
    reason: str = ""
    """Why it was not read, or not judged."""
    notes: tuple[str, ...] = ()

    @property
    def margin(self) -> float | None:
        """Distance to the nearer limit in `limits_unit`, negative outside."""
        return self.decision.margin if self.decision else None

    @property
    def expanded(self) -> float | None:
        """Guard band U = 2 u at the nearer limit, in `limits_unit`."""
        return self.decision.expanded if self.decision else None

    @property
    def probability(self) -> float | None:
        """Probability of conformity."""
        return self.decision.probability if self.decision else None

    @property
    def words(self) -> str:
        """The verdict for people."""
        return people_words(self.code, self.reason)


@dataclass(frozen=True, slots=True)
class DialVerdict:
    """All rows of one dial, judged."""

    dial: str
    unit: str
    is_speedometer: bool
    rule: Rule | None
    rows: tuple[RowVerdict, ...]
    code: VerdictCode
    complete: bool
    """Whether every check point of the rule was commanded and read."""
    missing: tuple[float, ...]
    """Check points with no row that was read, in the dial's unit."""
    summary: str
    """One sentence for people."""

    @property
    def conforms(self) -> bool:
        """Whether a certificate may call the dial conforming, in doubt or not."""
        return self.code in ("pass", "conditional_pass")

    @property
    def stimulus_stated(self) -> bool:
        """Whether every commanded value came with its standard uncertainty."""
        return all(r.row.u_commanded is not None for r in self.rows if r.true_value is not None)

    @property
    def worst_row(self) -> RowVerdict | None:
        """The row that decides, as `worst_row` finds it; None without a judged row."""
        return worst_row(self.rows)


@dataclass(frozen=True, slots=True)
class RunVerdict:
    """All dials of one run, judged."""

    run: str
    family: str
    dials: tuple[DialVerdict, ...]
    code: VerdictCode

    def dial(self, dial_id: str) -> DialVerdict | None:
        """The verdict on that dial, or None."""
        return next((d for d in self.dials if d.dial == dial_id), None)

    @property
    def speedometers_conform(self) -> bool:
        """Whether the cluster has a speedometer and each conforms, in doubt or not."""
        speedometers = [d for d in self.dials if d.is_speedometer]
        return bool(speedometers) and all(d.conforms for d in speedometers)


def worst(codes: tuple[VerdictCode, ...]) -> VerdictCode:
    """The worst of some codes; `not_judged` of none."""
    return min(codes, key=WORST_FIRST.index, default="not_judged")


def worst_row(rows: tuple[RowVerdict, ...]) -> RowVerdict | None:
    """The row that decides for a dial.

    Parameters
    ----------
    rows
        Of one dial.

    Returns
    -------
    RowVerdict or None
        The worst code first, then rows under the rule before those under the rest limit, then
        the smallest margin; None when no row was judged.
    """
    judged = [(row.margin, row) for row in rows if row.margin is not None]
    if not judged:
        return None
    return min(judged, key=lambda m: (WORST_FIRST.index(m[1].code), m[1].basis != "rule", m[0]))[1]
