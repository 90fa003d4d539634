"""One look in words a metre away can read, and as JSON."""

from typing import Any, Final

from rich.text import Text

from needlewright.cli.read import rounded
from needlewright.composing.overlays import reading_label, reason_words
from needlewright.families.model import Dial
from needlewright.papers.figures import decimals_for, with_expanded
from needlewright.proofs.one_look import Look, LookCode
from needlewright.readings.flags import REASONS
from needlewright.readings.model import Reading
from needlewright.rules.decision import COVERAGE_K
from needlewright.units import unit_for_people

HEADLINES: Final[dict[LookCode, tuple[str, str]]] = {
    "there": ("THERE", "bold green"),
    "within": ("WITHIN THE RULE", "bold green"),
    "not_there": ("NOT THERE YET", "bold red"),
    "on_stop": ("ON ITS STOP", "bold yellow"),
    "not_read": ("NOT READ", "bold yellow"),
}
"""Words and their colour, which is never the only sign."""

ON_STOP: Final = "it says only that it would stand there or beyond; command it off the stop"


def look_document(dial: Dial, reading: Reading, look: Look) -> dict[str, Any]:
    """A dial's part of the JSON document of `needlewright look --json`."""
    verdict = look.verdict
    limits = verdict.limits
    return {
        "dial": look.dial,
        "unit": look.unit,
        "at": look.at,
        "status": reading.status,
        "reason": reading.reason,
        "answer": look.code,
        "words": look_sentence(dial, reading, look),
        "angle_deg": rounded(reading.angle_deg),
        "u_angle_deg": rounded(reading.u_angle_deg),
        "value": rounded(reading.value),
        "u_value": rounded(reading.u_value),
        "error": rounded(verdict.error),
        "u_error": rounded(verdict.u_error),
        "rule": None if dial.rule is None else _rule_code(dial),
        "band": None
        if limits is None
        else {
            "of": "angle" if verdict.basis == "rest" else "value",
            "unit": verdict.limits_unit,
            "lower": rounded(limits.lower),
            "upper": rounded(limits.upper),
        },
        "decision": verdict.code,
        "target": rounded(look.target),
        "target_angle_deg": rounded(look.target_angle_deg),
        "turn_deg": rounded(look.turn_deg),
        "u_turn_deg": rounded(look.u_turn_deg),
        "turn_tip_widths": rounded(look.turn_tip_widths),
        "turn_graduations": rounded(look.turn_graduations),
        "graduation": dial.graduation_or_step,
        "flags": list(reading.flags),
    }


def look_text(dial: Dial, reading: Reading, look: Look) -> Text:
    """A few lines for people: the answer, the turn, and the numbers behind it."""
    headline, style = HEADLINES[look.code]
    text = Text()
    text.append(f"{look.dial}: {headline}", style=style)
    text.append(f"   told {told_words(look)}\n")
    for line in _lines(dial, reading, look):
        text.append(f"    {line}\n")
    return text


def look_sentence(dial: Dial, reading: Reading, look: Look) -> str:
    """The same in one sentence."""
    said = "; ".join(_lines(dial, reading, look))
    return f"{look.dial} {HEADLINES[look.code][0].lower()}, told {told_words(look)}: {said}"


def _lines(dial: Dial, reading: Reading, look: Look) -> list[str]:
    lines = (turn_words(dial, look), _why(reading, look), _shows(reading, look), _judged(look))
    return [line for line in lines if line]


def told_words(look: Look) -> str:
    """What the dial was told, for people."""
    return "nothing, at rest" if look.at is None else f"{look.at:g} {unit_for_people(look.unit)}"


def turn_words(dial: Dial, look: Look) -> str:
    """The turn that puts the needle right, in the three measures a hand understands."""
    if look.turn_deg is None or look.turn_tip_widths is None or look.turn_graduations is None:
        return ""
    expanded = None if look.u_turn_deg is None else COVERAGE_K * look.u_turn_deg
    places = 1 if not expanded else min(decimals_for(expanded), 2)
    known_to = "" if not expanded else f" (known to ± {expanded:.{places}f}°)"
    if look.code == "there":
        return f"no turn that one look could show{known_to}"
    side = "clockwise" if look.turn_deg > 0 else "anticlockwise"
    graduation = f"{dial.graduation_or_step:g} {unit_for_people(dial.unit)}"
    return (
        f"turn {abs(look.turn_deg):.{places}f}° {side}{known_to}"
        f" = {abs(look.turn_tip_widths):.1f} tip widths"
        f" = {abs(look.turn_graduations):.2f} graduations of {graduation}"
    )


def _why(reading: Reading, look: Look) -> str:
    if look.code == "not_read":
        known = REASONS.get(reading.reason or "")
        words = reason_words(reading.reason)
        return f"{words}: {known.long}" if known else words
    if look.code == "on_stop":
        return ON_STOP
    return ""


def _shows(reading: Reading, look: Look) -> str:
    if reading.status == "refused":
        return ""
    shows = f"shows {reading_label(reading)}"
    if look.target is None:
        return shows
    return f"{shows}, belongs at {look.target:.4g} {unit_for_people(look.unit)}"


def _judged(look: Look) -> str:
    if look.code == "not_read":
        return ""
    parts = (_error(look), _band(look))
    return "; ".join(part for part in parts if part)


def _error(look: Look) -> str:
    error, u_error = look.verdict.error, look.verdict.u_error
    if error is None or look.verdict.basis == "rest":
        return ""
    expanded = None if u_error is None else COVERAGE_K * u_error
    if expanded is not None and abs(error) <= expanded:
        return f"reads true within {expanded:.1g} {unit_for_people(look.unit)}"
    side = "high" if error > 0 else "low"
    return f"reads {side} by {with_expanded(abs(error), expanded, look.unit)}"


def _band(look: Look) -> str:
    limits, words = look.verdict.limits, look.verdict.words
    if limits is None:
        return words
    at_rest = look.verdict.basis == "rest"
    low = "no limit" if limits.lower is None else f"{limits.lower:.4g}"
    high = "no limit" if limits.upper is None else f"{limits.upper:.4g}"
    unit = "°" if at_rest else f" {unit_for_people(look.unit)}"
    stands = ""
    if at_rest and look.verdict.judged is not None:
        stands = f"stands at {look.verdict.judged:.2f}°, "
    return f"{stands}allowed {low} to {high}{unit}: {words}"


def _rule_code(dial: Dial) -> str:
    return dial.rule if isinstance(dial.rule, str) else "house"
