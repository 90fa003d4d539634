"""Where a needle should be turned to, and what that would gain."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot
from typing import Final, Literal

from needlewright.families.model import Dial
from needlewright.plans.margins import (
    Margin,
    RuledRow,
    best_turn,
    side_margin,
    smallest_margin,
)
from needlewright.plans.rest_room import rest_room
from needlewright.plans.seat import SeatFit, SeatRow, turn_components_deg
from needlewright.readings.runs import RunRow
from needlewright.rules.decision import COVERAGE_K

Target = Literal["programme", "rule"]

_NO_TURN_DEG: Final = 1e-6
"""Below this a computed turn is rounding."""


@dataclass(frozen=True, slots=True)
class Aim:
    """The turn that brings the needle to its target."""

    target: Target
    turn_deg: float
    """Positive clockwise."""
    components_deg: tuple[tuple[str, float], ...]
    """Named standard uncertainties of the turn."""
    held_by_rest: bool
    """Whether the rest limit allows less than the target asks for."""

    @property
    def u_deg(self) -> float:
        """Standard uncertainty (k = 1) of the turn."""
        return hypot(*(u for _, u in self.components_deg))


@dataclass(frozen=True, slots=True)
class Gain:
    """What a turn would bring."""

    before: Margin | None
    """None where no rule limits anything."""
    after: Margin | None
    deg: float
    """Degrees nearer to the target."""
    conforms: bool
    """By the rule and the rest limit, as the needle stands; without a rule by the latter."""
    would_conform: bool


def aim_at(
    dial: Dial,
    rows: Sequence[RunRow],
    fit: SeatFit,
    ruled: Sequence[RuledRow],
    eccentricity_mm: float,
) -> Aim:
    """Choose the target of a needle that is one rigid turn away from its programme.

    Parameters
    ----------
    dial
        The dial.
    rows
        Its completed rows, those at rest included.
    fit
        The rigid turn.
    ruled
        The rows a rule speaks about.
    eccentricity_mm
        Standard deviation of shaft to printed centre.

    Returns
    -------
    Aim
        The programme; where the rule leaves no room for it, the turn that makes the smallest
        margin largest; either as far as the rest limit allows.
    """
    target: Target = "programme"
    wanted_deg, used, weights = -fit.seat_deg, fit.used, fit.weights
    if not _room_for_programme(dial, ruled):
        by_rule_deg = best_turn(dial, ruled)
        if by_rule_deg is not None:
            target, wanted_deg = "rule", by_rule_deg
            used, weights = _deciding_rows(dial, ruled, by_rule_deg)
    turn_deg = rest_room(dial, rows, wanted_deg).hold(wanted_deg)
    return Aim(
        target=target,
        turn_deg=turn_deg,
        components_deg=turn_components_deg(dial, used, weights, eccentricity_mm),
        held_by_rest=turn_deg != wanted_deg,
    )


def gain_of(dial: Dial, rows: Sequence[RunRow], ruled: Sequence[RuledRow], aim: Aim) -> Gain:
    """Work out what a turn would bring.

    Parameters
    ----------
    dial
        The dial.
    rows
        Its completed rows, those at rest included.
    ruled
        The rows a rule speaks about.
    aim
        The turn.

    Returns
    -------
    Gain
        Toward the programme the turn itself; under the rule the growth of the smallest margin,
        as degrees of needle at the row it is found at.
    """
    before = smallest_margin(dial, ruled)
    after = smallest_margin(dial, ruled, aim.turn_deg)
    gained_deg = abs(aim.turn_deg)
    if aim.target == "rule" and before is not None and after is not None:
        slope = abs(dial.scale.slope_at(before.at.row.angle_deg))
        gained_deg = (after.size - before.size) / slope
    return Gain(
        before=before,
        after=after,
        deg=gained_deg,
        conforms=rest_room(dial, rows, 0.0).allows(0.0) and (before is None or before.size >= 0),
        would_conform=rest_room(dial, rows, aim.turn_deg).allows(aim.turn_deg)
        and (after is None or after.size >= 0),
    )


def _room_for_programme(dial: Dial, ruled: Sequence[RuledRow]) -> bool:
    """Whether a sound unit would keep U from every limit, or no turn of it would keep further."""
    if all(
        r.limits.margin(dial.programme.shown_at(r.row.told)) >= COVERAGE_K * r.row.u_value
        for r in ruled
    ):
        return True
    sound = [RuledRow(r.row.on_programme(), r.limits) for r in ruled]
    better_deg = best_turn(dial, sound)
    return better_deg is None or abs(better_deg) < _NO_TURN_DEG


def _deciding_rows(
    dial: Dial, ruled: Sequence[RuledRow], turn_deg: float
) -> tuple[tuple[SeatRow, ...], tuple[float, ...]]:
    """The two rows between whose limits the best turn balances, and what each weighs in it.

    There shown_1 - lower = upper - shown_2; an error of row i moves the turn by slope_i over the
    sum of both slopes.
    """
    sides = [
        side_margin(dial, ruled, turn_deg, "lower"),
        side_margin(dial, ruled, turn_deg, "upper"),
    ]
    rows = tuple(side.at.row for side in sides if side is not None)
    slopes = [abs(dial.scale.slope_at(row.angle_deg + turn_deg)) for row in rows]
    return rows, tuple(slope / sum(slopes) for slope in slopes)
