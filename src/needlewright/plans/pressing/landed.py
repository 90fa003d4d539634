"""What a needle that was pressed has come to: where it landed, and what the check will now say.

Before, only the hand's spread was known. Once the needle was read, the hand's spread is what was
known before the reading, and both together say where the needle sits.
"""

from dataclasses import dataclass
from math import hypot, sqrt
from typing import Final, Literal

from needlewright.families.model import Dial
from needlewright.plans.pressing.aim import beside
from needlewright.plans.pressing.chance import (
    Trialled,
    chance_by_integration,
    chance_by_trials,
)
from needlewright.plans.pressing.press import Press
from needlewright.rules.decision import COVERAGE_K

SLIPPED: Final = 3.0
"""A needle that landed more spreads than this from the aim is none of this hand's: what was read
counts by itself (common practice, no source)."""
WORTH: Final = 0.05
"""A needle is pressed again for no less than this gain in the chance to pass (common practice, no
source): each pressing wears hub and shaft."""
TELLS: Final = 2.0
"""A reading whose uncertainty is more than so many spreads of the hand weighs less than a fifth."""
Advice = Literal["stays", "again", "again_low", "read_again"]


@dataclass(frozen=True, slots=True)
class Landed:
    """One needle as it was pressed."""

    press: Press
    achieved_deg: float
    """On the face, on the scale's branch, while the movement was told the value pressed at."""
    u_deg: float
    """Standard uncertainty (k = 1) of it."""
    off_deg: float
    """How far up the scale from the aim it landed, as read."""
    believed_deg: float
    """The same with the hand taken into account."""
    spread_deg: float
    """Standard deviation that is left of what all rows share."""
    slipped: bool
    """Whether it landed too far off for the hand to say anything."""
    pass_probability: float
    """That every row of the final check conforms, now."""
    trialled: Trialled
    no_doubt_probability: float
    low_probability: float | None
    """That a speedometer reads low at some row; None: the dial is none."""
    advice: Advice


def landed(press: Press, dial: Dial, achieved_deg: float, u_deg: float) -> Landed:
    """Say what a pressed needle has come to.

    Parameters
    ----------
    press
        Its plan, pressed at the same value.
    dial
        Its dial.
    achieved_deg
        Where it stood when it was read, the movement told the value pressed at.
    u_deg
        Standard uncertainty (k = 1) of it.

    Returns
    -------
    Landed
        With the chance to pass as it now is, and whether to press again.

    Notes
    -----
    Prior N(0, h) of the hand and reading N(off, u) give N(k off, u sqrt(k)) with
    k = h^2 / (h^2 + u^2); what the movement and the run's own reading add stays. **Source** JCGM
    106:2012, 6.2 and 7 (knowledge before and after a measurement); derivation:
    docs/needle-set.md.
    """
    at = press.reference
    stands_deg = beside(achieved_deg, at.press_deg)
    off_deg = dial.scale.sense * (stands_deg - at.press_deg)
    slipped = abs(off_deg) > SLIPPED * hypot(at.hand_deg, u_deg)
    known = at.hand_deg**2 + u_deg**2
    share = 1.0 if slipped or known == 0 else at.hand_deg**2 / known
    believed_deg = share * off_deg
    spread_deg = hypot(u_deg * sqrt(share), at.seen_deg)
    rise_deg = press.rise_deg + believed_deg
    low = (
        1.0 - chance_by_integration(press.low, rise_deg, spread_deg)
        if press.low_probability is not None
        else None
    )
    chance = chance_by_integration(press.judged, rise_deg, spread_deg)
    return Landed(
        press=press,
        achieved_deg=stands_deg,
        u_deg=u_deg,
        off_deg=off_deg,
        believed_deg=believed_deg,
        spread_deg=spread_deg,
        slipped=slipped,
        pass_probability=chance,
        trialled=chance_by_trials(press.judged, rise_deg, spread_deg),
        no_doubt_probability=chance_by_integration(
            [one.guarded() for one in press.judged], rise_deg, spread_deg
        ),
        low_probability=low,
        advice=_advice(press, chance, low, u_deg),
    )


def left_deg(one: Landed, dial: Dial) -> float:
    """How far a needle is still to be turned to its aim, degrees, positive clockwise."""
    return -dial.scale.sense * one.off_deg


def _advice(press: Press, chance: float, low: float | None, u_deg: float) -> Advice:
    """Whether a new pressing is to be expected to do better, by enough to be worth it.

    A reading that weighs less than a fifth beside the hand, and whose expanded uncertainty is wider
    than the room the needle has, cannot tell whether it sits inside that room: it lets none stay.
    """
    if press.verdict == "no_place":
        return "stays"
    if low is not None and low > max(0.5, (press.low_probability or 0.0) + WORTH):
        return "again_low"
    if chance < press.pass_probability - WORTH:
        return "again"
    tells = u_deg <= TELLS * press.reference.hand_deg or COVERAGE_K * u_deg <= min(press.room_deg)
    return "stays" if tells else "read_again"


def chance_of_all(chances: list[float]) -> float:
    """That every dial passes: their hands' errors have nothing to do with each other."""
    whole = 1.0
    for one in chances:
        whole *= one
    return whole
