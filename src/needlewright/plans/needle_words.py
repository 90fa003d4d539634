"""Why a needle is left, or turned: one sentence."""

from needlewright.families.model import Dial
from needlewright.plans.needle_aim import Aim, Gain


def reason_to_turn(dial: Dial, aim: Aim, gain: Gain, count: int) -> str:
    """Say why a needle is turned.

    Parameters
    ----------
    dial
        The dial.
    aim
        The turn.
    gain
        What it brings.
    count
        Number of rows it was taken from.

    Returns
    -------
    str
        For people, without a full stop.
    """
    why = "" if gain.conforms else f"{_outside(gain)}; "
    after = "" if gain.would_conform else "; even then it does not conform, look elsewhere too"
    return f"{why}{_seat_words(dial, aim)}{_held(aim)}{after}{_alone(count)}"


def reason_to_leave(aim: Aim, gain: Gain, count: int) -> str:
    """Say why a needle is left as it sits.

    Parameters
    ----------
    aim
        The turn that was weighed.
    gain
        What it would bring.
    count
        Number of rows it was taken from.

    Returns
    -------
    str
        For people, without a full stop.
    """
    if not gain.conforms:
        why = f"{_outside(gain)}, and no turn of the needle would bring it in"
    elif gain.deg <= 0:
        why = "it conforms, and a turn would gain nothing"
    elif gain.deg < aim.u_deg:
        why = "it conforms, and the gain is below what can be told"
    else:
        why = "it conforms, and the turn is less than a hand can aim for"
    return f"{why}{_held(aim)}{_alone(count)}"


def _seat_words(dial: Dial, aim: Aim) -> str:
    reads_low = dial.scale.sense * aim.turn_deg > 0
    if aim.target == "rule":
        side = "lower" if reads_low else "upper"
        return f"the rule leaves no room for the programme, and the {side} limit is the nearer one"
    low_or_high = "low" if reads_low else "high"
    return f"every row reads {low_or_high} by one turn of the needle, {abs(aim.turn_deg):.1f} deg"


def _outside(gain: Gain) -> str:
    if gain.before is not None and gain.before.size < 0:
        return f"it does not conform at {gain.before.at.row.name}"
    return "it lies outside its rest limit"


def _held(aim: Aim) -> str:
    return "; the rest limit allows no more" if aim.held_by_rest else ""


def _alone(count: int) -> str:
    return "; one row only, so nothing says the others agree" if count == 1 else ""
