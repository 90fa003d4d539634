"""The runs of one cluster judged, dial by dial, as page and command line show them."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal

from pydantic import TypeAdapter

from needlewright.families.model import Dial, Family
from needlewright.proofs.budget import budget_of
from needlewright.proofs.certificate import MeasuredRun
from needlewright.proofs.dial_record import dial_record
from needlewright.proofs.proof_model import DialRecord
from needlewright.proofs.verdict_model import DialVerdict, RunVerdict
from needlewright.proofs.verdicts import judge_run

Side = Literal["found", "left"]
_RECORD: Final = TypeAdapter(DialRecord)


@dataclass(frozen=True, slots=True, eq=False)
class JudgedDial:
    """One dial in the runs that were given; one judgement is equal to itself alone."""

    dial: Dial
    found: DialVerdict | None
    """None: no such run was given."""
    left: DialVerdict | None
    document: Mapping[str, Any]
    """As a dial stands in the document of a proof: what strips and tables are drawn from."""

    def side(self, side: Side) -> DialVerdict | None:
        """The verdict on one run."""
        return self.found if side == "found" else self.left


def judged_dials(
    family: Family, runs: Mapping[Side, MeasuredRun], *, max_speed: float | None = None
) -> tuple[JudgedDial, ...]:
    """Judge what there is, whether the runs are whole yet or not.

    Parameters
    ----------
    family
        The cluster design.
    runs
        By side; one of the two may be missing.
    max_speed
        The vehicle's maximum design speed, in the speedometer's unit.

    Returns
    -------
    tuple of JudgedDial
        In the family's order.

    Raises
    ------
    RunError, RuleError
        As `judge_run`.
    """
    verdicts: dict[Side, RunVerdict] = {
        side: judge_run(family, run.run, max_speed=max_speed) for side, run in runs.items()
    }
    return tuple(_judged(family, runs, verdicts))


def _judged(
    family: Family, runs: Mapping[Side, MeasuredRun], verdicts: Mapping[Side, RunVerdict]
) -> Iterator[JudgedDial]:
    about: Side = "left" if "left" in runs else "found"
    for dial in family.dials:
        found, left = (
            verdicts[side].dial(dial.id) if side in verdicts else None for side in ("found", "left")
        )
        verdict, budget = left or found, None
        if verdict is not None:
            evidence = runs[about].evidence
            budget = budget_of(dial, verdict, family.eccentricity_mm, evidence)
        record = dial_record(dial, found, left, budget)
        yield JudgedDial(dial, found, left, _RECORD.dump_python(record, mode="json"))
