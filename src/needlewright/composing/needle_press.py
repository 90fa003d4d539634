"""How to press needles onto new movements: worked out dial by dial, in words and as a document."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import isfinite
from typing import Any, Final

from needlewright.errors import RunError
from needlewright.families.model import Dial, Family
from needlewright.findings.wording import share_words
from needlewright.plans.pressing.hand import HandSpread
from needlewright.plans.pressing.landed import Landed, chance_of_all
from needlewright.plans.pressing.press import LEAST_CHANCE, Press, plan_press
from needlewright.proofs.verdicts import rule_of
from needlewright.readings.runs import Run, RunRow
from needlewright.units import unit_for_people

CAUTIONS: Final = (
    "Supply: current limit set and polarity checked before power.",
    "Support the movement from behind and press straight down; never force a needle, and never "
    "turn a movement by its needle.",
    "Cover the face, touch neither needle tip nor lens, and keep the print free of the tool.",
    "A speedometer is never set to read low.",
)
_DECIMALS: Final = 4
_ALIKE_DEG: Final = 0.05


@dataclass(frozen=True, slots=True)
class DialPress:
    """One dial's plan, or why there is none."""

    dial: Dial
    press: Press | None
    trouble: str | None


def presses_of(
    family: Family,
    run: Run,
    hand: HandSpread,
    *,
    only: str | None = None,
    at: Mapping[str, float] | None = None,
    max_speed: float | None = None,
) -> tuple[DialPress, ...]:
    """Plan every dial of a run.

    Parameters
    ----------
    family
        The cluster design.
    run
        The new movements' own run, completed with it.
    hand
        How truly a hand presses.
    only
        Id of the one dial that is wanted.
    at
        Values to press at, by dial.
    max_speed
        The vehicle's maximum design speed, in the speedometer's unit.

    Returns
    -------
    tuple of DialPress
        In the family's order, without dials that have no row.

    Raises
    ------
    RunError
        If no dial of the run can be planned, or a named dial is not in it.
    """
    wanted = dict(at or {})
    for name in (*wanted, *((only,) if only is not None else ())):
        _require_seen(family, run, name)
    found = []
    for dial in family.dials:
        rows = run.of_dial(dial.id)
        if not _is_of_run(rows) or only not in (None, dial.id):
            continue
        rule = rule_of(dial, max_speed=max_speed)
        try:
            one = plan_press(dial, rows, rule, family.eccentricity_mm, hand, at=wanted.get(dial.id))
        except RunError as error:
            found.append(DialPress(dial, None, str(error)))
        else:
            found.append(DialPress(dial, one, None))
    if not found:
        raise RunError(f"run '{run.name}' has no row of any dial")
    if all(one.press is None for one in found):
        raise RunError(f"run '{run.name}', {found[0].trouble}")
    return tuple(found)


def _is_of_run(rows: Sequence[RunRow]) -> bool:
    """Whether a dial was told or seen: a step at rest names all of them, new or not."""
    return any(row.commanded is not None or row.angle_deg is not None for row in rows)


def _require_seen(family: Family, run: Run, name: str) -> None:
    dial = family.dial(name)
    if dial is None or not run.of_dial(name):
        seen = ", ".join(one.id for one in family.dials if run.of_dial(one.id)) or "none"
        raise RunError(f"run '{run.name}' has no row of a dial '{name}'; it has {seen}")


def press_lines(one: DialPress) -> tuple[str, ...]:
    """A plan as a technician reads it at the bench, line by line."""
    if one.press is None:
        return (f"{one.trouble}",)
    press, dial = one.press, one.dial
    lines = []
    if press.verdict == "press":
        lines += [_order_line(dial, press), _room_line(dial, press), _rest_line(dial, press)]
        lines.append(_chance_line(press))
    elif min(press.room_deg) >= 0:
        lines.append(
            f"no place: do not press it; the best one has an expected pass of "
            f"{share_words(press.pass_probability)}, and a press is offered from "
            f"{share_words(LEAST_CHANCE)} on"
        )
    else:
        lines.append(
            f"no angle brings every row within its limits; the best leaves "
            f"{-min(press.room_deg):.1f}° outside; do not press it, look for the cause"
        )
    return (*lines, *(f"note: {doubt}" for doubt in press.doubts))


def _order_line(dial: Dial, press: Press) -> str:
    at, unit = press.reference, unit_for_people(press.unit)
    side = "above" if at.above_mark_deg >= 0 else "below"
    tips = abs(dial.tip_widths(at.above_mark_deg))
    off = (
        f"on the {at.mark:g} mark"
        if tips < 0.05
        else f"{abs(at.above_mark_deg):.1f}° = {tips:.1f} tip widths {side} the {at.mark:g} mark"
    )
    came = "from below" if at.approach == "up" else "from above"
    home = "home, " if dial.movement.kind == "stepper" else ""
    return (
        f"{home}drive {press.dial} to {at.value:g} {unit} {came}, press at {at.press_value:.4g} "
        f"{unit}: {off}"
    )


def _room_line(dial: Dial, press: Press) -> str:
    low, high = press.room_deg
    if not isfinite(low) and not isfinite(high):
        return "nothing limits where it may land"
    if abs(low - high) < _ALIKE_DEG:
        return f"may land {_room(dial, min(low, high))} either way"
    said = [
        f"{_room(dial, room)} {side}"
        for room, side in ((low, "below"), (high, "above"))
        if isfinite(room)
    ]
    return f"may land {' and '.join(said)}"


def _room(dial: Dial, room_deg: float) -> str:
    slope = abs(dial.scale.span / (dial.scale.angles_deg[-1] - dial.scale.angles_deg[0]))
    graduations = room_deg * slope / dial.graduation_or_step
    tips = abs(dial.tip_widths(room_deg))
    return f"{room_deg:.1f}° = {tips:.1f} tip widths = {graduations:.2f} graduations"


def _rest_line(dial: Dial, press: Press) -> str:
    aimed = (
        "follows its programme"
        if press.aimed == "programme"
        else f"gives the smallest margin the most room, {press.programme_off_deg:.1f}° off its "
        "programme at most"
    )
    if press.rest_deg is None:
        return f"{aimed}; rests {'on its pin' if dial.rest_pin else 'where it is left'}"
    return f"{aimed}; rests at {press.rest_deg:.1f}°"


def _chance_line(press: Press) -> str:
    hand = press.hand
    whose = (
        f"a hand of {hand.sd_tips:g} tip widths (common practice, no source; {hand.count} needles "
        "seen)"
        if hand.is_default
        else f"this shop's hand, {hand.sd_tips:.2f} ± {2 * (hand.u_tips or 0):.2f} tip widths from "
        f"{hand.count} needles"
    )
    low = ""
    if press.low_probability is not None:
        low = f"; reads low somewhere {share_words(press.low_probability)}"
    return (
        f"expected pass {share_words(press.pass_probability)}, without doubt "
        f"{share_words(press.no_doubt_probability)}{low}; {whose}"
    )


def press_document(
    found: Sequence[DialPress],
    hand: HandSpread,
    set_already: Mapping[str, Landed] | None = None,
    run: Mapping[str, str] | None = None,
) -> dict[str, Any]:
    """The JSON document of `needlewright needle-set press --json`.

    Parameters
    ----------
    found
        Dial by dial.
    hand
        How truly a hand presses.
    set_already
        Needles of the job that were pressed on, by dial.
    run
        Job and name of the stored run; None: the run came as a file.

    Returns
    -------
    dict
        For JSON.
    """
    chances = [one.press.pass_probability for one in found if one.press is not None]
    done = set_already or {}
    return {
        "job": None if run is None else run["job"],
        "run": None if run is None else run["run"],
        "expected_pass_of_all": (
            _rounded(chance_of_all(chances)) if chances and len(chances) == len(found) else None
        ),
        "hand": {
            "sd_tip_widths": _rounded(hand.sd_tips),
            "u_sd_tip_widths": _rounded(hand.u_tips),
            "bias_tip_widths": _rounded(hand.bias_tips),
            "needles": hand.count,
            "is_default": hand.is_default,
        },
        "dials": {
            one.dial.id: _dial_document(one) | {"pressed": _landed_document(done.get(one.dial.id))}
            for one in found
        },
        "cautions": list(CAUTIONS),
    }


def _dial_document(one: DialPress) -> dict[str, Any]:
    press = one.press
    if press is None:
        return {"verdict": None, "reason": one.trouble, "press": None, "expected": None}
    at = press.reference
    low, high = press.room_deg
    return {
        "verdict": press.verdict,
        "reason": "; ".join(press.doubts) or None,
        "press": {
            "aimed": press.aimed,
            "drive_to": at.value,
            "approach": at.approach,
            "unit": press.unit,
            "press_deg": _rounded(at.press_deg),
            "press_value": _rounded(at.press_value),
            "mark": at.mark,
            "above_mark_deg": _rounded(at.above_mark_deg),
            "above_mark_tip_widths": _rounded(one.dial.tip_widths(at.above_mark_deg)),
            "turn_deg": _rounded(press.turn_deg),
            "room_below_deg": _finite(low),
            "room_above_deg": _finite(high),
            "rest_deg": _rounded(press.rest_deg),
        },
        "expected": {
            "pass": _rounded(press.pass_probability),
            "pass_by_trials": _rounded(press.trialled.probability),
            "u_pass_by_trials": _rounded(press.trialled.u_probability),
            "without_doubt": _rounded(press.no_doubt_probability),
            "reads_low": _rounded(press.low_probability),
            "spread_deg": _rounded(at.spread_deg),
            "margin": None if press.margin is None else _rounded(press.margin.size),
            "programme_off_deg": _rounded(press.programme_off_deg),
        },
    }


def _landed_document(one: Landed | None) -> dict[str, Any] | None:
    if one is None:
        return None
    return {
        "intended_deg": _rounded(one.press.reference.press_deg),
        "achieved_deg": _rounded(one.achieved_deg),
        "u_achieved_deg": _rounded(one.u_deg),
        "off_deg": _rounded(one.off_deg),
        "slipped": one.slipped,
        "pass": _rounded(one.pass_probability),
        "pass_by_trials": _rounded(one.trialled.probability),
        "u_pass_by_trials": _rounded(one.trialled.u_probability),
        "without_doubt": _rounded(one.no_doubt_probability),
        "reads_low": _rounded(one.low_probability),
        "advice": one.advice,
    }


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, _DECIMALS)


def _finite(value: float) -> float | None:
    return round(value, _DECIMALS) if isfinite(value) else None
