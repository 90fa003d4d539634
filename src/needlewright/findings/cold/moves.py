"""The moves of a temperature series: how warm each was, how far it went, whether it failed.

A move is the way from one command to the next. It failed if the needle was left behind by more than
half a cycle against where it stood, counted from what the warmest run shows at the same command, so
that a needle that sits turned, or a face that does not fit, is no failure of a move.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final, Literal

import numpy as np

from needlewright.families.model import Dial
from needlewright.findings.signatures.explain import explain_dial
from needlewright.readings.runs import Run, RunRow

Outcome = Literal["held", "slipped", "stood"]
Parts = Mapping[str, float]
"""What a temperature's error is made of: signed sensitivity times standard uncertainty, degC. Parts
of one name are one error, common to all rows that name it."""

DEMANDING: Final = 0.5
"""Moves at least so long against the dial's longest one ask enough of a motor to count. A geared
stepper reaches its full rate within some tens of degrees (common practice, no source)."""
STANDING_FAULTS: Final = frozenset(
    {"sound", "needle_offset", "scale_factor", "wrong_face", "backlash"}
)
"""Of a warm run: with one of these its errors come again in the cold, and are no failure there."""
_SURE: Final = 3.0
_STOOD: Final = 0.1
_LONG: Final = 4.0
_NEAR_STOP_DEG: Final = 3.0
_REPEATS: Final = 10.0
_UNKNOWN_U_DEG: Final = 0.2
_FAILS: Final = ("lost_steps", "stalled", "blocked")


@dataclass(frozen=True, slots=True)
class RunInCold:
    """One run of a series."""

    run: Run
    parts: Mapping[int, Parts] = field(default_factory=dict)
    """By step, what the errors of its temperature are made of."""
    common: Parts = field(default_factory=dict)
    """The same of steps that are not named there."""
    sweep: "SweepInCold | None" = None


@dataclass(frozen=True, slots=True)
class SweepInCold:
    """The sweep at the end of a run."""

    degc: float
    parts: Parts
    dials: tuple[str, ...]
    """Those that were told to sweep."""
    events: tuple[tuple[str, str], ...]
    """Dial and fault of what went wrong."""


@dataclass(frozen=True, slots=True)
class Move:
    """One way of a needle at one temperature."""

    run: str
    degc: float
    outcome: Outcome
    way_deg: float
    """How far it was told to go, 0 or more."""
    off_deg: float
    """What it was left behind by, clockwise."""
    parts: Parts = field(default_factory=dict)

    @property
    def failed(self) -> bool:
        """Whether it slipped or stood."""
        return self.outcome != "held"


@dataclass(frozen=True, slots=True)
class Moves:
    """All that a series says of one dial's moves."""

    dial: str
    moves: tuple[Move, ...]
    """Those that asked enough of the motor and can be judged."""
    short: int = 0
    """Moves left out because they asked too little."""
    untold: int = 0
    """Moves of which a reading, or a needle that had lost its place, does not say how they went."""
    without_temperature: int = 0


def moves_of(dial: Dial, runs: Sequence[RunInCold]) -> Moves:
    """Judge every move of a dial in a series.

    Parameters
    ----------
    dial
        The dial.
    runs
        Of the series, completed with the family (`readings.complete`), in any order.

    Returns
    -------
    Moves
        In the order of the runs and their rows.
    """
    reference = _reference(dial, runs)
    found: list[Move] = []
    untold = without = 0
    for one in runs:
        for row, move in _judged(dial, one, reference):
            if row.temperature_c is None:
                without += 1
            elif move is None:
                untold += 1
            else:
                found.append(move)
        found += _swept(dial, one)
    longest = max((move.way_deg for move in found), default=0.0)
    asked = tuple(move for move in found if move.way_deg >= DEMANDING * longest)
    return Moves(dial.id, asked, len(found) - len(asked), untold, without)


def _swept(dial: Dial, one: RunInCold) -> Iterator[Move]:
    sweep = one.sweep
    if sweep is None or dial.id not in sweep.dials:
        return
    kinds = {fault for of, fault in sweep.events if of == dial.id}
    failed = kinds & set(_FAILS)
    outcome: Outcome = "held" if not failed else "slipped" if "lost_steps" in failed else "stood"
    way_deg = abs(dial.scale.angles_deg[-1] - dial.scale.angles_deg[0])
    yield Move(one.run.name, sweep.degc, outcome, way_deg, 0.0, sweep.parts)


def _judged(
    dial: Dial, one: RunInCold, reference: Mapping[tuple[float, str], float]
) -> Iterator[tuple[RunRow, Move | None]]:
    level_deg, at_deg, told_deg = 0.0, dial.stop_angle_deg, dial.stop_angle_deg
    usual = float(np.median(list(reference.values()))) if reference else 0.0
    for row in one.run.of_dial(dial.id):
        if row.commanded is None:
            level_deg, told_deg = 0.0, dial.stop_angle_deg
            at_deg = dial.stop_angle_deg if row.angle_deg is None else row.angle_deg
            continue
        want_deg = dial.programme_angle_deg(row.commanded)
        way_deg, told_deg = want_deg - told_deg, want_deg
        if row.angle_deg is None:
            yield row, None
            continue
        if row.on_stop:  # there it finds its zero again, and says nothing of its way
            level_deg, at_deg = 0.0, row.angle_deg
            continue
        off_deg = row.angle_deg - want_deg - reference.get((row.commanded, row.approach), usual)
        u_deg = row.u_angle_deg if row.u_angle_deg is not None else _UNKNOWN_U_DEG
        above_deg = dial.scale.sense * (want_deg + level_deg - dial.stop_angle_deg)
        meets_stop = above_deg < _NEAR_STOP_DEG
        went = _Went(way_deg, row.angle_deg - at_deg, off_deg, level_deg, u_deg, meets_stop)
        outcome = went.outcome(dial)
        jump_deg = off_deg - level_deg
        level_deg, at_deg = off_deg, row.angle_deg
        if outcome is None or row.temperature_c is None:
            yield row, None
            continue
        parts = one.common if row.step is None else one.parts.get(row.step, one.common)
        yield row, Move(one.run.name, row.temperature_c, outcome, abs(way_deg), jump_deg, parts)


@dataclass(frozen=True, slots=True)
class _Went:
    """How one move went; degrees clockwise."""

    way_deg: float
    """Told."""
    moved_deg: float
    off_deg: float
    """After it, against the reference."""
    level_deg: float
    """Before it."""
    u_deg: float
    meets_stop: bool
    """Whether a needle that moved on as it stood would come to the lower stop."""

    def outcome(self, dial: Dial) -> Outcome | None:
        """What became of it; None: that cannot be told."""
        least_deg, jump_deg = _least_deg(dial), self.off_deg - self.level_deg
        if self.meets_stop and abs(self.level_deg) >= least_deg:
            return None  # one that has lost its place finds its zero there, however it moved
        # two readings, and what each is held against
        blur_deg = 2 * _SURE * float(np.hypot(self.u_deg, dial.movement.repeatability_deg))
        if abs(jump_deg) < least_deg:
            return "held" if blur_deg < least_deg or abs(jump_deg) < least_deg / 2 else None
        if abs(jump_deg) < blur_deg:
            return None
        way_deg = abs(self.way_deg)
        if way_deg > _LONG * least_deg and abs(self.moved_deg) < _STOOD * way_deg:
            return "stood"
        behind = jump_deg * self.way_deg < 0
        return "slipped" if behind or abs(self.off_deg) > abs(self.level_deg) else None


def _least_deg(dial: Dial) -> float:
    """The smallest jump that is a failure: half a cycle, or well beyond what repeats."""
    if dial.movement.kind == "stepper":
        return dial.movement.cycle_deg / 2
    return _REPEATS * dial.movement.repeatability_deg


def _reference(dial: Dial, runs: Iterable[RunInCold]) -> dict[tuple[float, str], float]:
    """What the warmest run shows at each command, where it shows a fault that always stands."""
    warm: tuple[float, tuple[RunRow, ...]] | None = None
    for one in runs:
        rows = one.run.of_dial(dial.id)
        degc = [row.temperature_c for row in rows if row.temperature_c is not None]
        if degc and (warm is None or float(np.mean(degc)) > warm[0]):
            warm = float(np.mean(degc)), rows
    if warm is None:
        return {}
    explained = explain_dial(dial, warm[1])
    if explained is None or not set(explained.combined) <= STANDING_FAULTS:
        return {}
    return {
        (row.commanded, row.approach): row.angle_deg - dial.programme_angle_deg(row.commanded)
        for row in warm[1]
        if row.commanded is not None and row.angle_deg is not None and not row.on_stop
    }
