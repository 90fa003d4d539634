"""One stimulus, one look: whether a needle is there yet, and which turn would put it there."""

from dataclasses import dataclass, replace
from math import hypot
from typing import Literal

from needlewright.errors import ScaleError
from needlewright.families.model import Dial
from needlewright.proofs.row_verdicts import judge_row
from needlewright.proofs.verdict_model import RowVerdict
from needlewright.proofs.verdicts import rule_of
from needlewright.readings.model import Reading
from needlewright.readings.runs import RunRow
from needlewright.readings.stops import mark_stops
from needlewright.rules.decision import COVERAGE_K
from needlewright.rules.model import Limits

LookCode = Literal["there", "within", "not_there", "on_stop", "not_read"]
"""`within`: conforms, and a turn would still bring it nearer to its target."""


@dataclass(frozen=True, slots=True)
class Look:
    """One dial at one commanded value; turns and angles positive clockwise."""

    dial: str
    unit: str
    at: float | None
    """What the dial was told, in its unit; None: nothing, the needle lies at rest."""
    code: LookCode
    verdict: RowVerdict
    """By the dial's rule, or by its rest limit."""
    target: float | None
    """Value the needle should show; None where the scale states none at the target's angle."""
    target_angle_deg: float
    turn_deg: float | None = None
    """From where the needle is to its target; None: not read, or on a stop."""
    u_turn_deg: float | None = None
    """Standard uncertainty (k = 1) of the turn: the reading's and the movement's repeatability."""
    turn_tip_widths: float | None = None
    turn_graduations: float | None = None
    """In graduations (or smallest intervals of marks), positive toward higher values."""


def look_at(dial: Dial, reading: Reading, at: float | None) -> Look:
    """Judge one reading at one commanded value.

    The target is what the dial's programme shows at that value; where its rule leaves no room
    for that, the middle of what the rule allows. At zero and at rest it is the rest position.

    Parameters
    ----------
    dial
        The dial.
    reading
        Of that dial, read or refused.
    at
        Commanded true value in the dial's unit, on the scale; None: at rest.

    Returns
    -------
    Look
        The verdict and the turn.

    Raises
    ------
    ScaleError
        If `at` lies beyond the scale.
    RuleError
        If the dial's rule is unknown or does not fit it.
    """
    row = mark_stops([_row(dial, reading, at)], dial)[0]
    verdict = judge_row(dial, rule_of(dial), row)
    target_deg = _target_deg(dial, verdict, at)
    look = Look(
        dial=dial.id,
        unit=dial.unit,
        at=at,
        code="not_read",
        verdict=verdict,
        target=_value_at(dial, target_deg),
        target_angle_deg=target_deg,
    )
    if reading.angle_deg is None:
        return look
    if row.on_stop:
        return replace(look, code="on_stop")
    return _with_turn(look, dial, reading.angle_deg, reading.u_angle_deg)


def _with_turn(look: Look, dial: Dial, angle_deg: float, u_angle_deg: float | None) -> Look:
    turn_deg = look.target_angle_deg - angle_deg
    if look.verdict.basis == "rest":  # a needle half a turn off may lie on another branch
        turn_deg -= 360.0 * round(turn_deg / 360.0)
    u_turn_deg = hypot(u_angle_deg or 0.0, dial.movement.repeatability_deg)
    in_place = abs(turn_deg) <= COVERAGE_K * u_turn_deg
    conforms = look.verdict.code in ("pass", "conditional_pass")
    unjudged = look.verdict.code == "not_judged"
    code: LookCode = "not_there"
    if in_place and (conforms or unjudged):
        code = "there"
    elif conforms:
        code = "within"
    return replace(
        look,
        code=code,
        turn_deg=turn_deg,
        u_turn_deg=u_turn_deg,
        turn_tip_widths=dial.tip_widths(turn_deg),
        turn_graduations=_value_step(dial, angle_deg, turn_deg) / dial.graduation_or_step,
    )


def _value_step(dial: Dial, angle_deg: float, turn_deg: float) -> float:
    """Change of the shown value by a turn; by the end segment's slope beyond the scale."""
    before, after = _value_at(dial, angle_deg), _value_at(dial, angle_deg + turn_deg)
    if before is None or after is None:
        return dial.scale.slope_at(angle_deg) * turn_deg
    return after - before


def _row(dial: Dial, reading: Reading, at: float | None) -> RunRow:
    return RunRow(
        run="look",
        dial=dial.id,
        unit=dial.unit,
        approach="rest" if at is None else "up",
        commanded=at,
        angle_deg=reading.angle_deg,
        u_angle_deg=reading.u_angle_deg,
        indicated=reading.value,
        u_indicated=reading.u_value,
        flags=reading.flags if reading.reason is None else (*reading.flags, reading.reason),
    )


def _target_deg(dial: Dial, verdict: RowVerdict, at: float | None) -> float:
    limits = verdict.limits
    if verdict.basis == "rest" and limits is not None:
        assert limits.lower is not None
        assert limits.upper is not None
        return (limits.lower + limits.upper) / 2
    if at is None:
        return dial.rest_target_deg
    shown = dial.programme.shown_at(at)
    if limits is not None and limits.margin(shown) < 0:
        shown = _middle(limits, at)
    return dial.scale.angle_at(shown)


def _middle(limits: Limits, at: float) -> float:
    """The value with the most room on both sides; the nearer of limit and `at` on a single one."""
    if limits.lower is not None and limits.upper is not None:
        return (limits.lower + limits.upper) / 2
    return max(at, limits.lower) if limits.lower is not None else min(at, limits.upper or at)


def _value_at(dial: Dial, angle_deg: float) -> float | None:
    try:
        return dial.scale.value_at(angle_deg)
    except ScaleError:
        return None
