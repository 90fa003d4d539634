"""What is wrong with each field of a burn-in's form, all at once, to be said beside it."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Final

from needlewright.amounts import figure
from needlewright.bench.burn_in.plan import LONGEST_DWELL_S, LONGEST_H
from needlewright.composing.bench_plan import points_in
from needlewright.composing.burn_in_bench import chamber_of
from needlewright.errors import NeedlewrightError, RunError
from needlewright.families.model import Family
from needlewright.papers.wording import sentence_for_people
from needlewright.plans.burn_in.early import LONGEST, SHORTEST, Clock
from needlewright.plans.burn_in.paying import DEAREST, cost_typed
from needlewright.plans.money import currency_named
from needlewright.plans.wear.fit import FLATTEST, STEEPEST
from needlewright.web.burn_in_forms import LAW_FIELDS, MOST_POINTS, Typed, number
from needlewright.web.refusals import Wrong, wrong_of


@dataclass(frozen=True, slots=True)
class _Range:
    """What a number must lie in; the unit for people."""

    least: float
    most: float
    unit: str
    whole: bool = False
    above: bool = False
    """Whether the least itself is too little."""


NUMBERS: Final[Mapping[str, _Range]] = {
    "hours": _Range(0.0, LONGEST_H, "h", above=True),
    "dwell": _Range(1.0, LONGEST_DWELL_S, "s"),
    "sweeps_each": _Range(0, 1000, "sweeps", whole=True),
    "check_every": _Range(0.0, LONGEST_H, "h", above=True),
    "warranty_hours": _Range(0.0, 1e6, "h", above=True),
    "warranty_sweeps": _Range(0.0, 1e9, "sweeps", above=True),
}
SHAPE: Final = _Range(FLATTEST, STEEPEST, "")
SCALE: Final[Mapping[Clock, _Range]] = {
    "hours": _Range(SHORTEST, LONGEST, "h"),
    "sweeps": _Range(SHORTEST, LONGEST, "sweeps"),
}
COSTS: Final = ("cost_hour", "cost_return", "cost_repair")


def wrong_fields(typed: Typed, family: Family) -> dict[str, Wrong]:
    """What cannot be used of what was typed.

    Parameters
    ----------
    typed
        The form.
    family
        The cluster design.

    Returns
    -------
    dict
        By field; empty where each can be used by itself.
    """
    found: dict[str, Wrong] = {}

    def held(name: str, check: Callable[[], object]) -> None:
        try:
            check()
        except NeedlewrightError as error:
            wrong = wrong_of(error)
            said = sentence_for_people(wrong.what)
            found[name] = replace(wrong, where="", what=f"{said[:1].upper()}{said[1:]}")

    for name, one in NUMBERS.items():
        held(name, lambda name=name, one=one: _within(typed(name), one))  # type: ignore[misc]
    for clock, (shape, scale) in LAW_FIELDS.items():
        if typed(shape) or typed(scale):
            held(shape, lambda shape=shape: _within(typed(shape), SHAPE))  # type: ignore[misc]
            ranged = SCALE[clock]
            held(scale, lambda scale=scale, one=ranged: _within(typed(scale), one))  # type: ignore[misc]
    for name in COSTS:
        if typed(name):
            held(name, lambda name=name: _cost(typed(name), name))  # type: ignore[misc]
    if any(map(typed, COSTS)):
        held("currency", lambda: currency_named(typed("currency") or "EUR"))
    held("chamber", lambda: chamber_of(typed("chamber").replace("\u2212", "-")))
    for dial in typed.dials(family):
        if dial.is_told:
            name = f"points-{dial.dial.id}"
            held(name, lambda dial=dial: points_in(dial.points, "", MOST_POINTS))  # type: ignore[misc]
    return found


def _within(text: str, one: _Range) -> None:
    value = number(text, "", whole=one.whole)
    if one.least <= value <= one.most and not (one.above and value == one.least):
        return
    least = f"more than {figure(one.least)}" if one.above else f"{figure(one.least)}"
    to = "and at most" if one.above else "to"
    raise RunError(
        f": found {figure(value)}; give {least} {to} {figure(one.most)} {one.unit}".rstrip()
    )


def _cost(text: str, name: str) -> None:
    value = cost_typed("", text)
    if not (0 <= value < DEAREST) or (value == 0 and name != "cost_repair"):
        raise RunError(f": found {figure(value)}; give an amount above 0")
