"""What was found at a dial, in sentences a customer understands."""

from collections.abc import Callable, Mapping
from math import isclose
from typing import Final

from needlewright.errors import ScaleError
from needlewright.families.model import Dial
from needlewright.findings.signatures.explain import Explanation, Fault
from needlewright.findings.signatures.knowledge import FaultCode
from needlewright.findings.wording import share_words
from needlewright.readings.complete import BY_EYE
from needlewright.units import unit_for_people

MILE: Final = 1.609344
_NEAR_MILE: Final = 0.01
SURE: Final = 0.95
LIKELY: Final = 0.9
"""Answers of 0.8 to 0.9 are right less often than 0.9 (docs/findings.md, measured)."""
PROBABLE: Final = 0.6
"""Answers of 0.5 to 0.6 are right less often than not (docs/findings.md, measured)."""
WORTH_NAMING: Final = 0.05
FEW_ROWS: Final = 5

NAMES: Final[Mapping[FaultCode, str]] = {
    "sound": "nothing wrong",
    "needle_offset": "needle turned on its shaft",
    "scale_factor": "wrong factor",
    "lost_steps": "movement slips",
    "backlash": "play in the gears",
    "dragging": "needle or movement rubs",
    "stalled": "standing still",
    "blocked": "blocked",
    "wrong_face": "face and programme of different shape",
    "erratic": "erratic",
}
"""Each fault in a few words, for charts and lists."""


def size_words(fault: Fault) -> str:
    """How large a fault is, for people.

    Parameters
    ----------
    fault
        With its size, or without one.

    Returns
    -------
    str
        With U (k = 2); empty where U is more than the size itself, which then says nothing.
    """
    if fault.size is None or fault.u_size is None:
        return ""
    expanded = 2 * fault.u_size
    match fault.unit:
        case "cycle":
            number = abs(round(fault.size))
            way = "counter-clockwise" if fault.size < 0 else "clockwise"
            return f"{number} {'cycle' if number == 1 else 'cycles'} {way}"
        case "ratio":
            return f"{fault.size:.3g} ± {expanded:.1g} times"
    is_place = fault.fault in ("stalled", "blocked")
    if not is_place and expanded > abs(fault.size):
        return ""
    size = f"{fault.size:+.3g}".replace("-", "−")
    return f"{'at ' if is_place else ''}{size} ± {expanded:.2g}°"


def reason_of(found: Explanation) -> str:
    """Say what was found, how sure that is, and what to look at.

    Parameters
    ----------
    found
        Of one dial.

    Returns
    -------
    str
        Sentences for a customer.
    """
    top = found.faults[0]
    said = [_led(top.probability, _sentence(found, top))]
    others = [code for code in found.combined if code != top.fault]
    if top.fault in found.combined:
        said += [
            "Beside that: " + _lower(_sentence(found, fault))
            for fault in found.faults
            if fault.fault in others
        ]
    said += [*_runner_up(found), *_remarks(found, top)]
    return " ".join(said)


def _led(probability: float, sentence: str) -> str:
    if probability >= SURE:
        return sentence
    if probability >= LIKELY:
        return f"Most probably: {_lower(sentence)}"
    if probability >= PROBABLE:
        return f"Probably: {_lower(sentence)}"
    return f"Not certain, but first to think of: {_lower(sentence)}"


def _lower(sentence: str) -> str:
    return sentence[0].lower() + sentence[1:]


def _runner_up(found: Explanation) -> list[str]:
    second = found.faults[1]
    if second.probability < WORTH_NAMING:
        return []
    return [f"It may also be: {NAMES[second.fault]} ({share_words(second.probability)})."]


def _remarks(found: Explanation, top: Fault) -> list[str]:
    said, rows, dial = [], found.rows.rows, found.rows.dial
    wild = found.winner.wild
    if wild >= 0:
        row = rows[wild]
        said.append(
            f"The reading at {row.commanded:g} {unit_for_people(row.unit)} {row.approach} stands "
            "apart from all others and was left aside; take it again."
        )
    if len(rows) < FEW_ROWS:
        number = "one row" if len(rows) == 1 else f"{len(rows)} rows"
        said.append(f"It rests on {number}; five or more, up and down, would say more.")
    if any(BY_EYE in row.flags for row in rows):
        said.append("Readings without an uncertainty were taken as read by eye.")
    if any(row.u_angle_deg == 0 for row in rows):
        said.append("A reading states an uncertainty of 0; none is that good, so 0.02° stand.")
    if top.fault == "needle_offset" and dial.rest_pin:
        said.append("Homed against its pin, an offset shows only what is left of whole cycles.")
    return said


def _sentence(found: Explanation, fault: Fault) -> str:
    size = fault.size if fault.size is not None else 0.0
    return _SENTENCES[fault.fault](found.rows.dial, size)


def _reads(dial: Dial, clockwise: float) -> str:
    return "high" if clockwise * dial.scale.sense > 0 else "low"


def _offset(dial: Dial, size: float) -> str:
    return (
        f"The needle sits turned on its shaft: it reads {_reads(dial, size)} by {abs(size):.1f} "
        "degrees at every point."
    )


def _factor(dial: Dial, size: float) -> str:
    said = f"It shows {size:.3g} times what it is told"
    if isclose(size, MILE, rel_tol=_NEAR_MILE):
        return f"{said}: kilometres are counted under a face or programme of miles."
    if isclose(size, 1 / MILE, rel_tol=_NEAR_MILE):
        return f"{said}: miles are counted under a face or programme of kilometres."
    return f"{said}: a signal constant, a sender's range or the face does not match."


def _lost(dial: Dial, size: float) -> str:
    cycles, degrees = abs(size), abs(size) * dial.movement.cycle_deg
    number = "one cycle" if round(cycles) == 1 else f"{cycles:.0f} cycles"
    return (
        f"The movement slipped {number}, {degrees:.0f} degrees, during the run, and the needle "
        f"reads {_reads(dial, size)} from there on."
    )


def _backlash(dial: Dial, size: float) -> str:
    return f"Rising and falling the needle stands {size:.1f} degrees apart: its gears have play."


def _dragging(dial: Dial, size: float) -> str:
    return f"The needle lags by up to {size:.1f} degrees: something holds it back."


def _stalled(dial: Dial, size: float) -> str:
    return f"The needle does not move, whatever it is told; it stands {_at(dial, size)}."


def _blocked(dial: Dial, size: float) -> str:
    return f"The needle follows no further than {_at(dial, size)}: something is in its way."


def _wrong_face(dial: Dial, size: float) -> str:
    return (
        f"The error bends along the scale, up to {size:.1f} degrees: face and programme do not "
        "belong together."
    )


def _erratic(dial: Dial, size: float) -> str:
    return (
        f"The needle stands elsewhere each time, by {size:.1f} degrees or so and without a "
        "pattern: a contact or a joint comes and goes."
    )


def _sound(dial: Dial, size: float) -> str:
    return "The gauge shows what it is told, as closely as these readings can say."


def _at(dial: Dial, angle_deg: float) -> str:
    """A place on the scale for people, or its angle where the scale can state none."""
    try:
        value = dial.scale.value_at(dial.scale.on_branch(angle_deg))
    except ScaleError:
        return f"at {angle_deg:.0f} degrees"
    return f"at {value:.3g} {unit_for_people(dial.unit)}"


_SENTENCES: Final[Mapping[FaultCode, Callable[[Dial, float], str]]] = {
    "sound": _sound,
    "needle_offset": _offset,
    "scale_factor": _factor,
    "lost_steps": _lost,
    "backlash": _backlash,
    "dragging": _dragging,
    "stalled": _stalled,
    "blocked": _blocked,
    "wrong_face": _wrong_face,
    "erratic": _erratic,
}
