"""What a knowledge file must not say, whatever its tables look like: one sentence each."""

import re
from collections.abc import Iterable, Mapping
from typing import Final

from needlewright.errors import KnowledgeError
from needlewright.findings.knowledge_tables import KnowledgeTables
from needlewright.findings.signatures.run_tables import CODES, Members, RunTables, pair_of
from needlewright.findings.troubleshooting.file_tables import (
    CauseTable,
    FindingTable,
    RemedyTable,
)
from needlewright.findings.troubleshooting.model import Scope, code_of, part_of

MOST_WHOLE: Final = 14
"""Causes of the whole whose every combination is looked at."""
_KEY: Final = re.compile(r"[a-z][a-z0-9_]*")
"""Of a cause, finding or remedy: it stands in answers (`KEY yes`) and in courses (`KEY:DIAL`)."""


def refuse_misfits(name: str, file: KnowledgeTables) -> None:
    """Refuse what does not fit together.

    Parameters
    ----------
    name
        What the file is called in a sentence.
    file
        Its tables.

    Raises
    ------
    KnowledgeError
        If a name can stand in no answer or is not there, probabilities or parts leave nothing or
        too much, causes lead to one another in a circle, or what is said of runs names no fault a
        run can show.
    """
    _refuse_keys(name, file)
    _refuse_parts(name, file)
    _refuse_unknown(name, file)
    _refuse_too_likely(name, file)
    circle = _circle({code: cause.brings for code, cause in file.cause.items()})
    if circle:
        raise KnowledgeError(
            f"{name}: causes lead to one another in a circle ({' -> '.join(circle)}); take one "
            "'brings' out"
        )
    if file.run is not None:
        _refuse_run(name, file.run, file.cause)


def _refuse_run(name: str, run: RunTables, causes: Mapping[str, CauseTable]) -> None:
    """Faults a run can show are causes of a dial, and what is said of them names only them."""
    for code in CODES[1:]:
        if code not in causes or causes[code].scope != "dial":
            raise KnowledgeError(
                f"{name}: run: there is no cause '{code}' of a dial, which a run can show; add "
                "cause." + code
            )
    seen = dict[Members, str]()
    for pair in run.pairs.met:
        members = pair_of(pair)
        if len(members) != 2:
            raise KnowledgeError(
                f"{name}: run.pairs.met: expected two of {', '.join(CODES[1:])} joined by '+', "
                f"found '{pair}'"
            )
        if members in seen:
            raise KnowledgeError(
                f"{name}: run.pairs.met: '{pair}' stands there as '{seen[members]}' already; take "
                "one out"
            )
        seen[members] = pair
    kinds = run.movement
    for kind, said in (
        ("without_gears", kinds.without_gears),
        ("one_approach", kinds.one_approach),
    ):
        for named in said:
            if named not in CODES:
                raise KnowledgeError(
                    f"{name}: run.movement.{kind}: '{named}' is no fault a run can show; known: "
                    f"{', '.join(CODES)}"
                )


def _refuse_keys(name: str, file: KnowledgeTables) -> None:
    """What answers could not be written with."""
    tables = (
        ("part", [*file.part]),
        ("cause", [*file.cause]),
        ("finding", [*file.finding]),
        ("remedy", [*file.remedy]),
    )
    for kind, keys in tables:
        for key in keys:
            if not _KEY.fullmatch(key):
                raise KnowledgeError(
                    f"{name}: {kind}: expected names that begin with a small letter and go on with "
                    f"small letters, digits and underscores, found {key!r}; give it another name"
                )


def _refuse_unknown(name: str, file: KnowledgeTables) -> None:
    """Every cause that is named must be there, in a scope that can have the effect."""
    for code, cause in file.cause.items():
        where = f"{name}: cause.{code}.brings"
        _refuse_names(where, cause.brings, file.cause)
        parted = [one for one in cause.brings if part_of(one) is not None]
        if parted:
            raise KnowledgeError(
                f"{where}: '{parted[0]}' names a part; what is brought is a cause, in whatever part"
            )
        if cause.scope == "dial" and cause.brings:
            raise KnowledgeError(
                f"{name}: cause.{code}.brings: only a cause of the whole leads to others"
            )
    for kind, tables in (("finding", file.finding), ("remedy", file.remedy)):
        for one, table in tables.items():
            named = table.shown_by if isinstance(table, FindingTable) else table.cures
            where = f"{name}: {kind}.{one}"
            _refuse_names(where, named, file.cause)
            if table.scope == "whole":
                _refuse_dials(where, named, file.cause)
    for one, remedy in file.remedy.items():
        _refuse_includes(f"{name}: remedy.{one}.includes", one, remedy, file)
    whole = sum(cause.scope == "whole" for cause in file.cause.values())
    if whole > MOST_WHOLE:
        raise KnowledgeError(
            f"{name}: has {whole} causes of the whole; every combination of them is looked at, so "
            f"at most {MOST_WHOLE} can be there"
        )


def _refuse_includes(where: str, own: str, remedy: RemedyTable, file: KnowledgeTables) -> None:
    """What is done with a remedy is another, of the same scope."""
    for other in remedy.includes:
        if other == own or other not in file.remedy:
            known = ", ".join(sorted({*file.remedy} - {own}))
            raise KnowledgeError(f"{where}: there is no other remedy '{other}'; known: {known}")
        if file.remedy[other].scope != remedy.scope:
            raise KnowledgeError(
                f"{where}: '{other}' is of scope '{file.remedy[other].scope}', and this of "
                f"'{remedy.scope}'; name one of the same scope"
            )


def _refuse_names(where: str, named: Iterable[str], causes: Mapping[str, CauseTable]) -> None:
    for name in named:
        code, part = code_of(name), part_of(name)
        if code not in causes:
            raise KnowledgeError(
                f"{where}: there is no cause '{code}'; known: {', '.join(sorted(causes))}"
            )
        if part is not None and part not in causes[code].parts:
            known = ", ".join(causes[code].parts) or "none"
            raise KnowledgeError(f"{where}: '{code}' has no part '{part}'; its parts: {known}")


def _refuse_dials(where: str, named: Iterable[str], causes: Mapping[str, CauseTable]) -> None:
    scope: Scope = "dial"
    for code in map(code_of, named):
        if causes[code].scope == scope:
            raise KnowledgeError(
                f"{where}: '{code}' is a cause of one dial, and this is of the whole; give it "
                "scope 'dial', or name causes of the whole"
            )


def _refuse_parts(name: str, file: KnowledgeTables) -> None:
    """Parts are of a dial's causes, are listed, and share all there is of a cause."""
    for code, cause in file.cause.items():
        where = f"{name}: cause.{code}.parts"
        for part in cause.parts:
            if part not in file.part:
                raise KnowledgeError(
                    f"{where}: there is no part '{part}'; known: {', '.join(file.part) or 'none'}"
                )
        if cause.parts and cause.scope == "whole":
            raise KnowledgeError(
                f"{where}: only the causes of a dial are told apart by parts; make a cause of the "
                "whole for each part"
            )
        total = sum(cause.parts.values())
        if cause.parts and abs(total - 1) > 1e-6:
            raise KnowledgeError(
                f"{where}: the shares of its parts sum to {total:.6g}; they must sum to 1"
            )


def _refuse_too_likely(name: str, file: KnowledgeTables) -> None:
    """The causes of a dial exclude one another and leave something for a sound one."""
    total = sum(cause.prior for cause in file.cause.values() if cause.scope == "dial")
    if total >= 1:
        raise KnowledgeError(
            f"{name}: the priors of one dial's causes sum to {total:.3g}; they exclude one another "
            "and must leave something for a sound dial, so keep the sum below 1"
        )


def _circle(brings: Mapping[str, Mapping[str, float]]) -> list[str]:
    """A way through the causes that comes back to where it began; empty: there is none."""
    done: set[str] = set()

    def walk(code: str, way: list[str]) -> list[str]:
        if code in way:
            return [*way[way.index(code) :], code]
        if code in done:
            return []
        for led in brings[code]:
            found = walk(led, [*way, code])
            if found:
                return found
        done.add(code)
        return []

    for code in brings:
        found = walk(code, [])
        if found:
            return found
    return []
