"""What speaks against pressing a needle yet, from the movement's own run."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from needlewright.families.model import Dial
from needlewright.plans.margins import RuledRow, value_beyond
from needlewright.plans.pressing.reference import Reference
from needlewright.plans.pressing.windows import Window
from needlewright.plans.rigidity import check_rigidity, describe
from needlewright.plans.seat import LEAST_U_DEG, SeatFit
from needlewright.readings.complete import BY_EYE
from needlewright.readings.runs import RunRow
from needlewright.rules.model import Rule

FEW: Final = 3
"""Fewer free rows cannot show a line, a step or play (common practice, no source)."""

FINER: Final = "read it by the camera, or to a tenth of a graduation"
CLOSER: Final = "bring the camera closer, hold it still and sharp, and take the run again"


@dataclass(frozen=True, slots=True)
class SeenMovement:
    """A movement's own run."""

    dial: Dial
    rows: Sequence[RunRow]
    fit: SeatFit
    ruled: Sequence[RuledRow]
    rule: Rule | None
    pinned: int = 0
    """Rows whose needle lay on the pin and will not once it is pressed on."""


def too_coarse(judged: Sequence[Window], rows: Sequence[RunRow]) -> tuple[str, ...]:
    """Say that rows were read with a ± wider than all that their limits leave.

    Parameters
    ----------
    judged
        Windows of the final check, which is taken to be read as the run was.
    rows
        Of the run: one with a photo was read by the camera, unless its ± is half a graduation.

    Returns
    -------
    tuple of str
        One clause with what to do by how it was read, or nothing.
    """
    coarse = [one for one in judged if one.high_deg - one.low_deg < 2 * one.expanded_deg]
    if not coarse:
        return ()
    worst = max(coarse, key=lambda one: one.expanded_deg)
    by_camera = any(row.photo is not None and BY_EYE not in row.flags for row in rows)
    return (
        f"{worst.name} is read to ± {worst.expanded_deg:.1f} deg, where its limits leave "
        f"{worst.high_deg - worst.low_deg:.1f} deg in all, so the check cannot tell a good needle "
        f"from a bad one; {CLOSER if by_camera else FINER}",
    )


def hardly_passes(judged: Sequence[Window], spread_deg: float) -> str:
    """Say why a place that fits hardly ever passes.

    Parameters
    ----------
    judged
        Windows of the final check.
    spread_deg
        Standard deviation of what all rows share.

    Returns
    -------
    str
        One clause: the row that leaves least for what strays.
    """
    worst = min(
        judged, key=lambda one: (one.high_deg - one.low_deg) / max(one.stray_deg, LEAST_U_DEG)
    )
    return (
        f"its rows share a spread of {spread_deg:.1f} deg and {worst.name} strays by "
        f"{worst.stray_deg:.1f} deg more, where its limits leave "
        f"{worst.high_deg - worst.low_deg:.1f} deg in all; take the run again with a steadier "
        "camera or more rows, or look for the cause"
    )


def _missing_points(seen: SeenMovement, turn_deg: float) -> tuple[float, ...]:
    """Check points the rule names and no row of the run stands for."""
    if seen.rule is None:
        return ()
    shown = [
        (one.row.told, value_beyond(seen.dial.scale, one.row.angle_deg + turn_deg))
        for one in seen.ruled
    ]
    return tuple(
        point
        for point in seen.rule.check_points()
        if not any(seen.rule.covers(point, told, value) for told, value in shown)
    )


def doubts_of(seen: SeenMovement, turn_deg: float, reference: Reference) -> tuple[str, ...]:
    """What speaks against pressing yet.

    Parameters
    ----------
    seen
        The movement's own run.
    turn_deg
        The turn of its needle that is aimed for, positive clockwise.
    reference
        Where it is pressed.

    Returns
    -------
    tuple of str
        Clauses for people; empty: nothing.
    """
    dial, fit, said = seen.dial, seen.fit, []
    found = check_rigidity(dial, fit)
    if not found.rigid:
        said.append(
            f"no one turn explains the movement's run: {describe(fit, found)}; find the cause first"
        )
    if not seen.ruled:
        low = ", never low" if dial.is_speedometer else ""
        said.append(f"no rule limits this dial, so only programme{low} and rest were aimed for")
    missing = _missing_points(seen, turn_deg)
    if missing:
        said.append(
            f"the final check needs {', '.join(f'{one:g}' for one in missing)} {dial.unit} as "
            "well, which the run does not hold, so nothing is expected of it there"
        )
    if len({row.row.approach for row in fit.used if not row.on_stop} & {"up", "down"}) < 2:
        said.append("the run came from one side only, so play would not be seen")
    free = sum(not row.on_stop for row in fit.used)
    if free < FEW:
        said.append(
            f"only {free} row{'s' if free > 1 else ''} of the run stand{'s' if free == 1 else ''} "
            "free of a stop, so a movement that is bent or slips would not be seen; "
            "drive it to more values"
        )
    if dial.movement.kind != "stepper" and not any(row.approach == "rest" for row in seen.rows):
        said.append(
            "without power this movement rests wherever it is left, and the run has no row at "
            "rest, so nothing is expected of its rest"
        )
    if not reference.is_representative:
        said.append("the row pressed at lies off the others; add rows, or choose another value")
    if seen.pinned:
        said.append(
            f"in {seen.pinned} row{'s' if seen.pinned > 1 else ''} the run's needle lay on the pin "
            "where the pressed one will hang free, so what it shows there is taken from the "
            "programme; push it on further up and take the run again to see it"
        )
    if dial.rest_pin:
        said.append(
            f"with its needle on, the movement homes against the pin and counts from there, so a "
            f"press more than {dial.movement.cycle_deg / 2:g} deg off shows up as another error: "
            "home again and take the run before the cluster is closed"
        )
    return tuple(said)
