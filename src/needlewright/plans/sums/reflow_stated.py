"""Limits that the data sheet of a paste states, in the place of the standard's."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Final

from needlewright.errors import SumError
from needlewright.plans.sums.reflow_limits import LIMITS, Alloys, Limit, ReflowLimits, Stated, What

INPUTS: Final[Mapping[str, tuple[Stated, str]]] = {
    "paste-soak-from": ("soak_c", "Soak from"),
    "paste-soak-to": ("soak_c", "Soak to"),
    "paste-soak-least": ("soak_low", "Soak takes at least"),
    "paste-soak-most": ("soak_high", "Soak takes at most"),
    "paste-liquidus": ("liquidus", "Its liquidus"),
    "paste-above-least": ("above_low", "Above the liquidus at least"),
    "paste-above-most": ("above_high", "Above the liquidus at most"),
    "paste-climb": ("ramp", "Climb at most"),
    "paste-fall": ("cool", "Fall at most"),
    "paste-rise": ("rise", "To the peak at most"),
    "paste-peak-least": ("peak_low", "Peak of the paste at least"),
    "paste-peak-most": ("peak_high", "Peak of the paste at most"),
}
"""By the input's name: what it states, and its words."""
HARDER: Final[tuple[tuple[What, str, str], ...]] = (
    ("ramp", "climb", "K/s"),
    ("cool", "fall", "K/s"),
    ("soak", "soak", "s"),
    ("above", "above the liquidus", "s"),
    ("rise", "to the peak", "s"),
)
"""What parts are tested to: more of it is harder on them."""


def limits_of(alloy: Alloys, part_c: Limit, stated: Callable[[str], float | None]) -> ReflowLimits:
    """The limits a profile is held against.

    Parameters
    ----------
    alloy
        Whose limits of the standard are taken where the paste states none.
    part_c
        Peak that the most delicate part asks for and may take, degC.
    stated
        What is stated for one of `INPUTS`, by its name; None: nothing.

    Returns
    -------
    ReflowLimits
        With what of it is the paste's. Where paste and part both limit the peak, the narrower side
        of each is taken.

    Raises
    ------
    SumError
        If two of them cannot be kept at once, or a soak of other temperatures has no time.

    Notes
    -----
    **Source**: J-STD-020, classification reflow profiles, for what is not stated.
    """
    given = {name: value for name in INPUTS if (value := stated(name)) is not None}
    standard = LIMITS[alloy]
    soak_c = (
        given.get("paste-soak-from", standard.soak_c[0]),
        given.get("paste-soak-to", standard.soak_c[1]),
    )
    peak_c, of_paste = _narrower(
        (given.get("paste-peak-least"), given.get("paste-peak-most")), part_c
    )
    names = {INPUTS[name][0] for name in given} - {"peak_low", "peak_high"} | of_paste
    limits = ReflowLimits(
        soak_c=soak_c,
        soak_s=_soak_s(given, standard, soak_c),
        liquidus_c=given.get("paste-liquidus", standard.liquidus_c),
        above_s=(
            given.get("paste-above-least", standard.above_s[0]),
            given.get("paste-above-most", standard.above_s[1]),
        ),
        ramp_k_s=given.get("paste-climb", standard.ramp_k_s),
        cool_k_s=given.get("paste-fall", standard.cool_k_s),
        rise_s=given.get("paste-rise", standard.rise_s),
        peak_c=peak_c,
        stated=frozenset(names),
    )
    _refuse_crossed(given, limits)
    return limits


def harder_than_tested(limits: ReflowLimits, alloy: Alloys) -> tuple[str, ...]:
    """What a paste allows beyond what the standard tests parts to: `climb 4 K/s, tested to 3 K/s`.

    The soak is left out where its temperatures are not the standard's.
    """
    standard, said = replace(LIMITS[alloy], liquidus_c=limits.liquidus_c), []
    for what, words, unit in HARDER:
        allowed, tested = limits.of(what)[1], standard.of(what)[1]
        if what == "soak" and limits.soak_c != standard.soak_c:
            continue
        if allowed is not None and tested is not None and allowed > tested:
            said.append(f"{words} {allowed:g} {unit}, tested to {tested:g} {unit}")
    return tuple(said)


def _soak_s(
    given: Mapping[str, float], standard: ReflowLimits, soak_c: tuple[float, float]
) -> Limit:
    """The soak's time: the standard's goes with the standard's temperatures alone."""
    least, most = given.get("paste-soak-least"), given.get("paste-soak-most")
    if soak_c == standard.soak_c:
        low, high = standard.soak_s
        return (low if least is None else least, high if most is None else most)
    if least is None and most is None:
        low_c, high_c = standard.soak_c
        raise SumError(
            f"{INPUTS['paste-soak-most'][1]}: a soak from {soak_c[0]:g} to {soak_c[1]:g} °C needs "
            f"its own time, and the standard's is that from {low_c:g} to {high_c:g} °C; give how "
            "long it takes at least, at most, or both"
        )
    return least, most


def _narrower(paste: Limit, part: Limit) -> tuple[Limit, set[Stated]]:
    """The narrower side of two, and which of them are the paste's."""
    lows = [one for one in (paste[0], part[0]) if one is not None]
    highs = [one for one in (paste[1], part[1]) if one is not None]
    low, high = max(lows, default=None), min(highs, default=None)
    of_paste: set[Stated] = set()
    if paste[0] is not None and paste[0] == low:
        of_paste.add("peak_low")
    if paste[1] is not None and paste[1] == high:
        of_paste.add("peak_high")
    return (low, high), of_paste


def _refuse_crossed(given: Mapping[str, float], limits: ReflowLimits) -> None:
    """Refuse limits no profile can keep; the sentence begins with the field to correct."""
    low, high = limits.soak_c
    if not low < high:
        name = "paste-soak-to" if "paste-soak-to" in given else "paste-soak-from"
        raise SumError(
            f"{INPUTS[name][1]}: the soak runs from {low:g} to {high:g} °C; it has to end warmer "
            "than it begins, so give both"
        )
    sides: tuple[tuple[What, str, str], ...] = (
        ("soak", "paste-soak", "s"),
        ("above", "paste-above", "s"),
        ("peak", "paste-peak", "°C"),
    )
    for what, name, unit in sides:
        least, most = limits.of(what)
        if least is None or most is None or least < most:
            continue
        whose = limits.whose(what)
        words = {"paste": "the paste's", "standard": "the standard's", "part": "the part's"}
        asked, allowed = (words[one or "standard"] for one in whose)
        field = INPUTS[f"{name}-least" if f"{name}-least" in given else f"{name}-most"][1]
        if f"{name}-least" not in given and f"{name}-most" not in given:
            field = "Peak of the part at least"
        raise SumError(
            f"{field}: at least {least:g} {unit} ({asked}) and at most {most:g} {unit} ({allowed}) "
            "cannot both be kept; correct one of them"
        )
