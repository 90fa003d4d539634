"""Every fault of a dial with its probability: hypotheses weighed, and pairs shared out."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import log

import numpy as np

from needlewright.families.model import Dial
from needlewright.findings.signatures import scattered, slipping, standing, steady
from needlewright.findings.signatures.knowledge import (
    CODES,
    UNITS,
    FaultCode,
    Knowledge,
    Members,
    shipped_knowledge,
)
from needlewright.findings.signatures.noise import log_sum
from needlewright.findings.signatures.rows import DialRows, dial_rows
from needlewright.findings.signatures.weighed import (
    Size,
    Weighed,
)
from needlewright.findings.signatures.weighing import Weigher
from needlewright.readings.runs import RunRow

CLOCKWISE: frozenset[FaultCode] = frozenset({"needle_offset", "lost_steps", "stalled", "blocked"})
"""Faults whose size has a sign or is an angle, and so turns with the dial."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One code, and how probable it is that it is the dial's main fault."""

    fault: FaultCode
    probability: float
    size: float | None
    """In the unit of the vocabulary, angles positive clockwise; None of `sound`."""
    u_size: float | None
    unit: str | None


@dataclass(frozen=True, slots=True, eq=False)
class Explanation:
    """What the rows of one dial say."""

    rows: DialRows
    faults: tuple[Fault, ...]
    """Every code a run can show, most probable first; the probabilities add up to one."""
    combined: Members
    """All members of the most probable hypothesis."""
    hypotheses: tuple[tuple[float, Weighed], ...]
    """Every hypothesis with its probability, most probable first."""

    @property
    def winner(self) -> Weighed:
        """The most probable hypothesis."""
        return self.hypotheses[0][1]

    @property
    def runner_up(self) -> Weighed:
        """The most probable one with another main fault."""
        return next(h for _, h in self.hypotheses if h.main != self.winner.main)


def explain_dial(
    dial: Dial, rows: Sequence[RunRow], knowledge: Knowledge | None = None
) -> Explanation | None:
    """Weigh what may be wrong with a dial.

    Parameters
    ----------
    dial
        The dial.
    rows
        Its rows in time order, completed (`readings.complete`).
    knowledge
        What is taken to be known beforehand; None: what travels with the program.

    Returns
    -------
    Explanation or None
        None where no commanded row of the dial was read.

    Notes
    -----
    Probability of a hypothesis: its weight times the marginal likelihood of the rows, to the power
    `TRUST`, over the sum of all. **Source** Bayes' theorem, coarsened (see `TRUST`); models and
    approximations: docs/findings.md.
    """
    gathered = dial_rows(dial, rows)
    if not len(gathered.rows):
        return None
    known = knowledge or shipped_knowledge()
    weigher = Weigher(gathered, known)
    gears = dial.movement.kind == "stepper"
    both_ways = len(set(gathered.way)) > 1
    found = [
        (log(weight) + one.log_support, one)
        for one in _hypotheses(weigher)
        if (weight := known.prior(one.members, gears=gears, both_ways=both_ways)) > 0
    ]
    total = float(log_sum(np.array([value for value, _ in found])))
    ranked = sorted(((float(np.exp(v - total)), h) for v, h in found), key=lambda one: -one[0])
    return Explanation(gathered, _faults(dial, ranked), ranked[0][1].members, tuple(ranked))


def _hypotheses(weigher: Weigher) -> Iterator[Weighed]:
    offset: Members = ("needle_offset",)
    yield steady.sound(weigher)
    yield steady.needle_offset(weigher)
    yield steady.wrong_face(weigher)
    yield steady.scale_factor(weigher)
    yield steady.scale_factor(weigher, "offset", offset)
    yield steady.scale_factor(weigher, "offset+play", ("backlash",))
    yield steady.backlash(weigher)
    yield steady.backlash(weigher, "offset", offset)
    for law, others in (("", ()), ("offset", offset), ("play", ("backlash",))):
        slipped = slipping.lost_steps(weigher, law, others)
        if slipped is not None:
            yield slipped
    yield standing.stalled(weigher)
    for stopped in (
        standing.blocked(weigher),
        standing.blocked(weigher, "offset", offset),
        standing.blocked_and_slipping(weigher),
    ):
        if stopped is not None:
            yield stopped
    yield scattered.dragging(weigher)
    yield scattered.dragging(weigher, seated_wrong=True)
    yield scattered.erratic(weigher)


def _faults(dial: Dial, ranked: Sequence[tuple[float, Weighed]]) -> tuple[Fault, ...]:
    shares: dict[FaultCode, float] = dict.fromkeys(CODES, 0.0)
    for probability, one in ranked:
        shares[one.main] += probability
    total = sum(shares.values())
    faults = [_fault(dial, code, shares[code] / total, _size(code, ranked)) for code in CODES]
    return tuple(sorted(faults, key=lambda one: -one.probability))


def _size(code: FaultCode, ranked: Sequence[tuple[float, Weighed]]) -> Size | None:
    """The size under the most probable hypothesis, as unsure as all that have the code disagree."""
    said = [(probability, one.sizes[code]) for probability, one in ranked if code in one.sizes]
    if not said:
        return None
    size = said[0][1].size
    total = sum(probability for probability, _ in said)
    if total <= 0:
        return said[0][1]
    spread = sum(p * (one.u_size**2 + (one.size - size) ** 2) for p, one in said)
    return Size(size, float(np.sqrt(spread / total)))


def _fault(dial: Dial, code: FaultCode, probability: float, size: Size | None) -> Fault:
    unit = UNITS[code]
    if size is None:
        return Fault(code, probability, None, None, unit)
    sign = dial.scale.sense if code in CLOCKWISE else 1
    return Fault(code, probability, sign * size.size, size.u_size, unit)
