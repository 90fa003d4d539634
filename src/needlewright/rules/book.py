"""The book of rules: from what a family file names to a rule bound to its dial."""

from collections.abc import Mapping
from math import isfinite

from needlewright.errors import RuleError
from needlewright.rules.house import EXAMPLE, house_rule
from needlewright.rules.jp_148 import jp_148
from needlewright.rules.model import Rule
from needlewright.rules.un_r39 import un_r39
from needlewright.rules.us_393_82 import us_393_82
from needlewright.units import unit as known_unit

RuleSpec = str | Mapping[str, Mapping[str, float]]
"""A code of `rule_codes`, or `{"house": {...}}`."""


def rule_codes() -> tuple[str, ...]:
    """Codes of the published rules a family may name; a house rule is written out instead."""
    return ("un-r39", "us-393.82", "jp-148", "jp-148-before-2007")


def rule_for(
    spec: RuleSpec,
    *,
    unit: str,
    scale_values: tuple[float, float],
    graduation: float | None,
    max_speed: float | None = None,
) -> Rule:
    """Bind the rule a family names to one of its dials.

    Parameters
    ----------
    spec
        A code of `rule_codes`, or `{"house": {"of_span": 0.01}}`,
        `{"house": {"of_graduation": 0.5}}`.
    unit
        The dial's unit; every value of the rule is in it.
    scale_values
        First and last mark of the scale.
    graduation
        Interval of the printed graduations; None when not known.
    max_speed
        The vehicle's maximum design speed in the dial's unit; None takes the last mark.

    Returns
    -------
    Rule
        Cheap and pure.

    Raises
    ------
    RuleError
        If the rule is unknown or malformed, or does not fit the dial.
    UnitError
        If the unit is outside the closed set.
    """
    known_unit(unit)
    if isinstance(spec, Mapping):
        if set(spec) != {"house"}:
            raise RuleError(f"a rule that is written out must be {EXAMPLE}; given: {dict(spec)!r}")
        return house_rule(
            spec["house"], unit=unit, scale_values=scale_values, graduation=graduation
        )
    match spec:
        case "un-r39":
            return un_r39(unit, _max_speed(scale_values[1], max_speed, unit))
        case "us-393.82":
            return us_393_82(unit)
        case "jp-148":
            return jp_148(unit)
        case "jp-148-before-2007":
            return jp_148(unit, "before 2007")
        case _:
            known = ", ".join(rule_codes())
            raise RuleError(f"rule {spec!r} is not known; use one of {known}, or {EXAMPLE}")


def _max_speed(last_mark: float, stated: float | None, unit: str) -> float:
    speed = last_mark if stated is None else stated
    if not isfinite(speed) or speed <= 0:
        raise RuleError(
            f"the maximum design speed must be above zero, in {unit}; given: {speed:g}; state "
            "the vehicle's, or leave it out to take the dial's last mark"
        )
    return speed
