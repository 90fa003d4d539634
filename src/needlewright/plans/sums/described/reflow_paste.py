"""The limits of a reflow profile: what is asked of a paste's data sheet, and what is told."""

from typing import Final

from needlewright.plans.sums.model import Amount, Step
from needlewright.plans.sums.reflow_limits import ROOM_C, Alloys, ReflowLimits, What, Whose
from needlewright.plans.sums.reflow_stated import INPUTS, harder_than_tested

UNITS: Final[dict[What, str]] = {
    "ramp": "K/s", "soak": "s", "above": "s", "peak": "degC", "rise": "s", "cool": "K/s",
}  # fmt: skip
WHOSE: Final[dict[Whose, str]] = {
    "paste": "the paste's",
    "standard": "the standard's",
    "part": "the part's",
}
GROUP: Final = "The paste's own limits, of its data sheet"
EMPTY: Final = "empty: the standard's"


def _asked(name: str, unit: str, least: float, most: float, hint: str = EMPTY) -> Amount:
    return Amount(name, INPUTS[name][1], unit, least, most, None, hint, group=GROUP)


PASTE_INPUTS: Final = (
    _asked("paste-soak-from", "degC", 25.0, 300.0),
    _asked("paste-soak-to", "degC", 25.0, 300.0),
    _asked("paste-soak-least", "s", 1.0, 1200.0),
    _asked("paste-soak-most", "s", 1.0, 1200.0),
    _asked("paste-liquidus", "degC", 100.0, 320.0, "empty: that of the solder chosen"),
    _asked("paste-above-least", "s", 1.0, 600.0),
    _asked("paste-above-most", "s", 1.0, 600.0),
    _asked("paste-climb", "K/s", 0.1, 20.0),
    _asked("paste-fall", "K/s", 0.1, 20.0),
    _asked("paste-rise", "s", 30.0, 1800.0, f"from 25 °C; {EMPTY}"),
    _asked("paste-peak-least", "degC", 100.0, 350.0, "empty: none"),
    _asked("paste-peak-most", "degC", 100.0, 350.0, "empty: none"),
)


def what_words(what: What, limits: ReflowLimits) -> str:
    """What is measured, with its levels."""
    low, high = limits.soak_c
    return {
        "ramp": "climb",
        "soak": f"soak, {low:g} to {high:g} °C",
        "above": f"above {limits.liquidus_c:g} °C",
        "peak": "peak",
        "rise": f"{ROOM_C:g} °C to the peak",
        "cool": "fall",
    }[what]


def limit_words(what: What, limits: ReflowLimits) -> str:
    """Limits and whose they are: `60 to 120 s, the standard's`, `at most 2 K/s, the paste's`."""
    unit = UNITS[what].replace("degC", "°C")
    (low, high), (low_of, high_of) = limits.of(what), limits.whose(what)
    if low_of is None and high_of is None:
        return "no limit"
    if low_of is None or high_of is None:
        side = f"at most {high:g}" if high is not None else f"at least {low:g}"
        return f"{side} {unit}, {WHOSE[high_of or low_of or 'standard']}"
    if low_of == high_of:
        return f"{low:g} to {high:g} {unit}, {WHOSE[low_of]}"
    return f"at least {low:g} {unit}, {WHOSE[low_of]}, at most {high:g} {unit}, {WHOSE[high_of]}"


def limits_notes(limits: ReflowLimits, alloy: Alloys) -> list[str]:
    """What is to be said of the limits themselves."""
    notes = []
    if limits.peak_c == (None, None):
        notes.append(
            "The peak is told and not judged: state what the paste asks for and what the most "
            "delicate part may take, as their data sheets have it."
        )
    elif limits.whose("peak")[1] != "part":
        notes.append(
            "What the most delicate part may take at its peak is not stated: the paste's limit "
            "spares no part."
        )
    harder = harder_than_tested(limits, alloy)
    if harder:
        notes.append(
            f"The paste allows more than parts are tested to by the standard ({'; '.join(harder)}):"
            " ask what the parts may take."
        )
    return notes


def limits_step(limits: ReflowLimits) -> Step:
    """Whose limits are held, at a glance."""
    kinds: tuple[What, ...] = ("ramp", "soak", "above", "peak", "rise", "cool")
    levels = "".join(
        f"; {words}: {WHOSE['paste']}"
        for stated, words in (
            ("soak_c", "temperatures of the soak"),
            ("liquidus", f"liquidus of {limits.liquidus_c:g} °C"),
        )
        if stated in limits.stated
    )
    said = "; ".join(
        f"{what_words(what, limits)}: {limit_words(what, limits)}"
        for what in kinds
        if limits.of(what) != (None, None)
    )
    return Step(
        "Limits", "the paste's where its data sheet states one, else the standard's", said + levels
    )
