"""Reading what was typed into a sum; what cannot be used is said in one sentence each."""

import re
from collections.abc import Mapping
from math import isfinite
from typing import Any, Final

from needlewright.amounts import grouped
from needlewright.errors import SumError, UnitError
from needlewright.plans.decimal_comma import pointed
from needlewright.plans.sums.bench_units import converted, for_people
from needlewright.plans.sums.model import Amount, Answered, Choice, Given, Input, Line, Pasted, Sum
from needlewright.plans.sums.wording import limit

NUMBER: Final = re.compile(r"([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*)", re.S)
LONGEST: Final = 60
"""Characters of a number with its unit."""


def read_input(one: Input, typed: str | None) -> float | str | None:
    """What was typed for one input.

    Parameters
    ----------
    one
        The input.
    typed
        As typed, with a decimal point or a decimal comma. None takes the default or the example; a
        number that was left empty is missing, unless it may be left empty.

    Returns
    -------
    float or str or None
        A number in the input's own unit; a choice or a text; None for what may be left empty.

    Raises
    ------
    SumError
        If it cannot be used.
    """
    if typed is None:
        return _untyped(one)
    if isinstance(one, Amount):
        return _amount(one, " ".join(typed.split()).replace("\u2212", "-"))
    if isinstance(one, Choice):
        return _choice(one, typed.strip())
    if isinstance(one, Line):
        return _line(one, typed.strip())
    return _pasted(one, typed)


def read_inputs(which: Sum[Any], typed: Mapping[str, str]) -> Given:
    """Everything that was typed into a sum.

    Parameters
    ----------
    which
        The sum.
    typed
        By the names of its inputs; what is not there takes its default.

    Returns
    -------
    Given
        For the sum's function.

    Raises
    ------
    SumError
        If an input cannot be used, or there is none of that name.
    """
    names = [one.name for one in which.inputs]
    for name in typed:
        if name not in names:
            raise SumError(f"{which.name} asks for no '{name}'; it asks for: {', '.join(names)}")
    read = {one.name: read_input(one, typed.get(one.name)) for one in which.inputs}
    return Given(
        {name: value for name, value in read.items() if isinstance(value, float)},
        {name: value for name, value in read.items() if isinstance(value, str)},
    )


def wrong_inputs(which: Sum[Any], typed: Mapping[str, str]) -> dict[str, SumError]:
    """What is wrong with each input, by name; empty where all can be used."""
    wrong = {}
    for one in which.inputs:
        try:
            read_input(one, typed.get(one.name))
        except SumError as error:
            wrong[one.name] = error
    return wrong


def work_out(which: Sum[Any], typed: Mapping[str, str]) -> Answered[Any]:
    """Work a sum out of what was typed.

    Parameters
    ----------
    which
        The sum.
    typed
        By the names of its inputs.

    Returns
    -------
    Answered
        With its result and what is said of it.

    Raises
    ------
    SumError
        If an input cannot be used, or they do not go together.
    """
    given = read_inputs(which, typed)
    result = which.work(given)
    return Answered(which, given, result, which.told(result))


def _untyped(one: Input) -> float | str | None:
    """What an input is where nobody was asked for it."""
    return one.example if isinstance(one, Pasted | Line) else one.default


def _amount(one: Amount, typed: str) -> float | None:
    if not typed and one.default is None:
        return None
    if not typed:
        raise SumError(f"{one.words}: give {_expected(one)}")
    found = NUMBER.fullmatch(_pointed(one, typed)) if len(typed) <= LONGEST else None
    if found is None:
        raise SumError(f"{one.words}: expected {_expected(one)}, found '{_shown(typed)}'")
    value, unit = float(found[1]), found[2].strip()
    if unit:
        value = _in_unit(one, value, unit, typed)
    if not isfinite(value) or not _within(one, value):
        raise SumError(
            f"{one.words}: {typed} is out of what this sum is good for; give {_expected(one)}"
        )
    if one.whole and value != round(value):
        raise SumError(f"{one.words}: {typed} is not a whole number; give {_expected(one)}")
    return value


def _pointed(one: Amount, typed: str) -> str:
    """A number as it was typed, with a point where it had a decimal comma."""
    try:
        return pointed(typed)
    except UnitError as error:
        raise SumError(f"{one.words}: {error}") from error


def _shown(typed: str) -> str:
    """The beginning of what was typed, on one line."""
    return " ".join(typed[: 4 * LONGEST].split())[:LONGEST]


def _within(one: Amount, value: float) -> bool:
    """Whether it lies between the limits; a conversion may miss them by a rounding."""
    slack = 1e-12 * max(abs(one.least), abs(one.most))
    return one.least - slack <= value <= one.most + slack


def _in_unit(one: Amount, value: float, unit: str, typed: str) -> float:
    if not one.unit:
        raise SumError(f"{one.words}: it has no unit, found '{typed}'; give {_expected(one)}")
    try:
        return converted(value, unit, one.unit)
    except SumError as error:
        raise SumError(f"{one.words}: {error}") from None


def _expected(one: Amount) -> str:
    unit = f" {for_people(one.unit)}".rstrip()
    kind = "a whole number" if one.whole else "a number"
    return f"{kind} from {limit(one.least)} to {limit(one.most)}{unit}"


def _choice(one: Choice, typed: str) -> str:
    if not typed:
        return one.default
    known = [name for name, _ in one.choices]
    if typed not in known:
        raise SumError(
            f"{one.words}: there is no '{_shown(typed)}'; use one of: {', '.join(known)}"
        )
    return typed


def _line(one: Line, typed: str) -> str:
    if not typed:
        raise SumError(f"{one.words}: give one such as {one.example}")
    if len(typed) > LONGEST or not typed.isprintable():
        raise SumError(f"{one.words}: expected one such as {one.example}, found '{_shown(typed)}'")
    return typed


def _pasted(one: Pasted, typed: str) -> str:
    if len(typed) > one.longest:
        raise SumError(
            f"{one.words}: {grouped(len(typed))} characters are more than the "
            f"{grouped(one.longest)} that are taken; leave out what is not needed"
        )
    if not typed.strip():
        raise SumError(f"{one.words}: there is nothing in it; paste the text, or take its file")
    return typed
