"""Which check points a bench run has: given, by rule and marks, or those of an older run."""

from dataclasses import dataclass
from math import isfinite
from pathlib import Path

from needlewright.bench.steps import RunPlan, plan_again, plan_run
from needlewright.composing.steps import check_values
from needlewright.errors import RunError, UsageError
from needlewright.families.model import Family
from needlewright.readings.run_csv import read_run


@dataclass(frozen=True, slots=True)
class Points:
    """What is said of the check points, as typed."""

    dials: list[str]
    """The only ones to be told something; empty: all that can be."""
    given: list[str]
    """Like `speed=40,80,120`."""
    max_speed: float | None
    key_ons: str


def plan_of(family: Family, points: Points) -> RunPlan:
    """Lay out an as-found run.

    Parameters
    ----------
    family
        The cluster design.
    points
        What is said of it.

    Returns
    -------
    RunPlan
        Points that are not given are those of the dial's rule and marks.

    Raises
    ------
    UsageError
        If a dial is not there, a number is none, values do not rise, or no dial can be told
        anything.
    RuleError
        If a dial's rule does not fit it.
    """
    given = dict(_given(text, family) for text in points.given)
    for name in points.dials:
        _refuse_unknown(f"--dial {name}", name, family)
    chosen = [
        dial
        for dial in family.dials
        if (dial.id in points.dials)
        or (not points.dials and (dial.signal is not None or dial.id in given))
    ]
    if not chosen:
        raise UsageError(
            f"no dial of '{family.name}' states a signal, so none can be told anything; describe "
            "them under `signal` in family.json, or add --rehearse"
        )
    values = {
        dial.id: given[dial.id]
        if dial.id in given
        else check_values(dial, max_speed=points.max_speed)
        for dial in chosen
    }
    try:
        return plan_run(values, _key_ons(points.key_ons))
    except RunError as error:  # of what was typed
        raise UsageError(str(error)) from error


def plan_like(repeats: Path | None, family: Family, out: Path) -> RunPlan:
    """Lay out an as-left run, point for point the as-found one.

    Parameters
    ----------
    repeats
        The as-found run.
    family
        The cluster design.
    out
        Where the new run goes.

    Returns
    -------
    RunPlan
        The same steps.

    Raises
    ------
    UsageError
        If none is named, or it is the file to be written.
    RunError
        If it cannot be used.
    """
    if repeats is None:
        raise UsageError("as-left repeats the as-found run; name it with --repeats RUN.csv")
    if repeats.resolve() == out.resolve():
        raise UsageError(f"--out {out} is the as-found run itself; name another file")
    return plan_again(read_run(repeats), family)


def _given(text: str, family: Family) -> tuple[str, tuple[float, ...]]:
    name, _, numbers = (part.strip() for part in text.partition("="))
    _refuse_unknown(f"--points {text}", name, family)
    try:
        values = tuple(float(number) for number in numbers.split(","))
        if not all(isfinite(value) for value in values):
            raise ValueError
        return name, values
    except ValueError as error:
        raise UsageError(
            f"--points {text}: expected a dial and its values, like speed=40,80,120"
        ) from error


def _refuse_unknown(option: str, name: str, family: Family) -> None:
    if family.dial(name) is None:
        known = ", ".join(dial.id for dial in family.dials)
        raise UsageError(f"{option}: '{family.name}' has {known}")


def _key_ons(text: str) -> tuple[int, ...]:
    try:
        return tuple(int(number) for number in text.split(",") if number.strip())
    except ValueError as error:
        raise UsageError(f"--key-ons {text}: expected whole numbers, like 0,1,3,5") from error
