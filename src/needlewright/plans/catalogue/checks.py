"""What a catalogue must not say, whatever its tables look like: one sentence each."""

from collections.abc import Iterable, Mapping
from typing import Final

from needlewright.errors import PlanError, UnitError
from needlewright.findings.troubleshooting.model import Knowledge, code_of, part_of
from needlewright.plans.catalogue.file_tables import CatalogueTables, LevelTable, OperationTable
from needlewright.plans.money import currency_named

MOST_LEVELS: Final = 8
"""Levels of the whole, and of a dial, whose every combination is looked at."""


def refuse_misfits(name: str, tables: CatalogueTables, knowledge: Knowledge) -> None:
    """Refuse what does not fit together.

    Parameters
    ----------
    name
        What the catalogue is called in a sentence.
    tables
        Its tables.
    knowledge
        Whose fault codes and parts it speaks in.

    Raises
    ------
    PlanError
        If the currency, a fault code, part, level, weak point or caution is not known, levels lead
        to one another in a circle, or an operation does nothing.
    """
    try:
        currency_named(tables.currency)
    except UnitError as error:
        raise PlanError(f"{name}: currency: {error}") from error
    _refuse_levels(name, tables)
    for code, point in tables.weak_point.items():
        place = f"{name}: weak_point.{code}"
        _refuse_fault(f"{place}.leads_to", point.leads_to, point.scope, knowledge)
        states = knowledge.causes[code_of(point.leads_to)].states
        if point.leads_to not in states:
            raise PlanError(
                f"{place}.leads_to: '{point.leads_to}' says no part; name one: {', '.join(states)}"
            )
    for code, operation in tables.operation.items():
        _refuse_operation(f"{name}: operation.{code}", operation, tables, knowledge)
    _refuse_twice(name, tables)
    _refuse_check_places(name, tables)
    _refuse_settled(name, tables, knowledge)


def _refuse_settled(name: str, tables: CatalogueTables, knowledge: Knowledge) -> None:
    """A check settles faults there are, where it is made."""
    every: list[tuple[str, LevelTable | OperationTable]] = [
        *((f"level.{code}", one) for code, one in tables.level.items()),
        *((f"operation.{code}", one) for code, one in tables.operation.items()),
    ]
    for where, one in every:
        for check in (each for each in one.checks if not isinstance(each, str)):
            for fault in check.settles:
                place = f"{name}: {where}.checks: '{check.words}': settles"
                _refuse_fault(place, fault, one.scope, knowledge)


def _refuse_twice(name: str, tables: CatalogueTables) -> None:
    """What has minutes is paid once: contained work with its level, a check at one entry."""
    for code, operation in tables.operation.items():
        level = operation.included_in
        if level is None:
            continue
        place = f"{name}: operation.{code}.included_in"
        _refuse_unknown(place, "level", [level], tables.level)
        if level not in operation.open or tables.level[level].scope != operation.scope:
            raise PlanError(
                f"{place}: '{level}' must be a level of scope '{operation.scope}' that stands in "
                "the operation's 'open'; its way out contains the work"
            )
    said: dict[str, str] = {}
    every = [(f"level.{code}", one.checks) for code, one in tables.level.items()]
    every += [(f"operation.{code}", one.checks) for code, one in tables.operation.items()]
    for where, checks in every:
        for check in checks:
            if isinstance(check, str) or check.minutes is None:
                continue
            if check.words in said:
                raise PlanError(
                    f"{name}: {where}.checks: '{check.words}' has its minutes in "
                    f"{said[check.words]} already, and would be charged twice; give them once, at "
                    "the level that both need"
                )
            said[check.words] = where


def _refuse_check_places(name: str, tables: CatalogueTables) -> None:
    """A check can be made at a level that is open after what it checks, and at one only."""
    made: dict[str, tuple[str, str]] = {}
    every: list[tuple[str, tuple[str, ...], LevelTable | OperationTable, str | None]] = [
        (f"level.{code}", (code,), one, None) for code, one in tables.level.items()
    ]
    every += [
        (f"operation.{code}", one.open, one, one.included_in)
        for code, one in tables.operation.items()
    ]
    for where, opened, one, work_at in every:
        able = _below(opened, tables.level)
        # what still needs the level that the work closes is closed before the work
        able = [at for at in able if work_at is None or work_at not in _below((at,), tables.level)]
        able = [at for at in able if one.scope == "dial" or tables.level[at].scope == "whole"]
        for check in one.checks:
            if isinstance(check, str):
                continue
            place = f"{name}: {where}.checks: '{check.words}'"
            _refuse_unknown(f"{place}: cautions", "caution", check.cautions, tables.caution)
            at, place = check.at, f"{place}: at"
            if at is None:
                continue
            _refuse_unknown(place, "level", [at], tables.level)
            if at not in able:
                raise PlanError(
                    f"{place}: '{at}' does not stand open after that; name one that does "
                    f"({', '.join(able) or 'there is none'}), or leave 'at' out"
                )
            before, other = made.setdefault(check.words, (at, where))
            if before != at:
                raise PlanError(
                    f"{place}: '{at}' here and '{before}' in {other}; one check is made once, so "
                    "name one level"
                )


def _below(levels: Iterable[str], known: Mapping[str, LevelTable]) -> list[str]:
    """Levels with everything they need in turn."""
    found: list[str] = []
    waiting = list(levels)
    while waiting:
        level = waiting.pop(0)
        if level not in found:
            found.append(level)
            waiting += known[level].needs
    return found


def _refuse_operation(
    place: str, operation: OperationTable, tables: CatalogueTables, knowledge: Knowledge
) -> None:
    if not operation.fixes and not operation.prevents:
        raise PlanError(
            f"{place}: fixes nothing and prevents nothing; say what it is for, or drop it"
        )
    for fault in operation.fixes:
        _refuse_fault(f"{place}.fixes", fault, operation.scope, knowledge)
    _refuse_unknown(f"{place}.prevents", "weak point", operation.prevents, tables.weak_point)
    for code in operation.prevents:
        if tables.weak_point[code].scope != operation.scope:
            raise PlanError(
                f"{place}.prevents: '{code}' is of scope '{tables.weak_point[code].scope}' and the "
                f"operation of '{operation.scope}'; they must be of one"
            )
    _refuse_unknown(f"{place}.open", "level", operation.open, tables.level)
    if operation.scope == "whole":
        for level in operation.open:
            if tables.level[level].scope == "dial":
                raise PlanError(
                    f"{place}.open: '{level}' is of one dial and the operation of the whole; name "
                    "a level of the whole"
                )
    named = [one.part for one in operation.parts]
    _refuse_unknown(f"{place}.parts", "part", named, tables.part)
    _refuse_unknown(f"{place}.cautions", "caution", operation.cautions, tables.caution)


def _refuse_levels(name: str, tables: CatalogueTables) -> None:
    for code, level in tables.level.items():
        place = f"{name}: level.{code}"
        _refuse_unknown(f"{place}.needs", "level", level.needs, tables.level)
        for way in (level.way_in, level.way_out):
            _refuse_unknown(f"{place}.cautions", "caution", way.cautions, tables.caution)
    circle = _circle(tables.level)
    if circle:
        raise PlanError(
            f"{name}: levels need one another in a circle ({' -> '.join(circle)}); take one "
            "'needs' out"
        )
    for scope, of in (("whole", "the whole"), ("dial", "a dial")):
        count = sum(level.scope == scope for level in tables.level.values())
        if count > MOST_LEVELS:
            raise PlanError(
                f"{name}: has {count} levels of {of}; every combination of them is looked at, so "
                f"at most {MOST_LEVELS} can be there"
            )


def _refuse_unknown(
    place: str, what: str, named: Iterable[str], known: Mapping[str, object]
) -> None:
    for one in named:
        if one not in known:
            raise PlanError(
                f"{place}: there is no {what} '{one}'; known: {', '.join(sorted(known)) or 'none'}"
            )


def _refuse_fault(place: str, fault: str, scope: str, knowledge: Knowledge) -> None:
    """A fault must be of the vocabulary, in a part it can lie in, and inside the cluster."""
    code, part = code_of(fault), part_of(fault)
    cause = knowledge.causes.get(code)
    inside = sorted(one.code for one in knowledge.causes.values() if one.inside)
    if cause is None:
        raise PlanError(f"{place}: there is no fault '{code}'; known: {', '.join(inside)}")
    if not cause.inside:
        raise PlanError(f"{place}: '{code}' is in the vehicle and not in the cluster; take it out")
    if cause.scope != scope:
        raise PlanError(
            f"{place}: '{code}' is a fault of scope '{cause.scope}' and stands in one of '{scope}'"
        )
    if part is not None and part not in cause.parts:
        known = ", ".join(cause.parts) or "none"
        raise PlanError(f"{place}: '{code}' has no part '{part}'; its parts: {known}")


def _circle(levels: Mapping[str, LevelTable]) -> list[str]:
    """A way through the levels that comes back to where it began; empty: there is none."""
    done: set[str] = set()

    def walk(code: str, way: list[str]) -> list[str]:
        if code in way:
            return [*way[way.index(code) :], code]
        if code not in done:
            done.add(code)
            for needed in levels[code].needs:
                found = walk(needed, [*way, code])
                if found:
                    return found
        return []

    return next((found for code in levels if (found := walk(code, []))), [])
