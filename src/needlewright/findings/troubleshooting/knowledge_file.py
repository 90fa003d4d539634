"""The knowledge file: TOML people can read and edit, checked when it is loaded."""

import re
import tomllib
from collections.abc import Iterable, Mapping
from importlib import resources
from pathlib import Path
from typing import Annotated, Any, Final, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from needlewright.errors import KnowledgeError
from needlewright.findings.troubleshooting.model import (
    Cause,
    Finding,
    Knowledge,
    Remedy,
    Scope,
    Work,
    code_of,
    part_of,
)
from needlewright.settings_trouble import first_wrong

SHIPPED: Final = "knowledge.toml"
MOST_BYTES: Final = 500_000
MOST_WHOLE: Final = 14
"""Causes of the whole whose every combination is looked at."""
_KEY: Final = re.compile(r"[a-z][a-z0-9_]*")
"""Of a cause, finding or remedy: it stands in answers (`KEY yes`) and in courses (`KEY:DIAL`)."""
Share = Annotated[float, Field(gt=0, lt=1)]
Part = Annotated[float, Field(gt=0, le=1)]
Minutes = Annotated[float, Field(ge=0, allow_inf_nan=False)]
Words = Annotated[str, Field(min_length=1)]


class _Closed(BaseModel):
    """A table of the file; a misspelt key must not pass for a default."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class _CauseTable(_Closed):
    scope: Literal["dial", "whole"]
    inside: bool
    prior: Share
    words: Words
    brings: dict[str, Share] = Field(default_factory=dict)
    parts: dict[str, Part] = Field(default_factory=dict)
    source: Words


class _FindingTable(_Closed):
    scope: Literal["dial", "whole"]
    place: Literal["asked", "vehicle", "bench"]
    words: Words
    shown_by: dict[str, Share] = Field(min_length=1)
    otherwise: Share
    minutes: Minutes
    risk_minutes: Minutes = 0.0
    opens: bool = False
    source: Words


class _RemedyTable(_Closed):
    scope: Literal["dial", "whole"]
    inside: bool
    words: Words
    cures: dict[str, Share] = Field(min_length=1)
    minutes: Annotated[float, Field(gt=0, allow_inf_nan=False)]
    source: Words


class _WorkTable(_Closed):
    send_minutes: Minutes
    open_minutes: Minutes
    check_minutes: Minutes
    give_up_minutes: Minutes
    source: Words


class _PartTable(_Closed):
    words: Words
    source: Words


class _PointingTable(_Closed):
    ratio: Annotated[float, Field(ge=1, allow_inf_nan=False)]
    source: Words


class _File(_Closed):
    prior_weight: Annotated[float, Field(gt=0, allow_inf_nan=False)]
    work: _WorkTable
    pointing: _PointingTable
    part: dict[str, _PartTable]
    cause: dict[str, _CauseTable] = Field(min_length=1)
    finding: dict[str, _FindingTable]
    remedy: dict[str, _RemedyTable]


def load_knowledge(path: Path | None = None) -> Knowledge:
    """Read a knowledge file.

    Parameters
    ----------
    path
        Of TOML; None: the one that comes with the program.

    Returns
    -------
    Knowledge
        Checked.

    Raises
    ------
    KnowledgeError
        If it cannot be read, a key is unknown or missing, a cause, finding or remedy has a name no
        answer can be written with, a probability is not between 0 and 1, those of a dial leave
        nothing for a sound one, a name is not there, or causes lead to one another in a circle.
    """
    if path is None:
        shipped = resources.files("needlewright.findings.troubleshooting") / SHIPPED
        return _checked(SHIPPED, shipped.read_bytes())
    try:
        content = path.read_bytes()
    except OSError as error:
        raise KnowledgeError(f"{path}: cannot be opened: {error.strerror or error}") from error
    return _checked(str(path), content)


def _checked(name: str, content: bytes) -> Knowledge:
    if len(content) > MOST_BYTES:
        raise KnowledgeError(f"{name}: {len(content)} bytes are no knowledge file")
    try:
        file = _File.model_validate(tomllib.loads(content.decode("utf-8")))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise KnowledgeError(f"{name}: is no TOML: {error}") from error
    except ValidationError as error:
        raise KnowledgeError(f"{name}: {first_wrong(error, 'key')}") from error
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
    return Knowledge(
        {code: Cause(code, **_fields(table)) for code, table in file.cause.items()},
        {name: Finding(name, **_fields(table)) for name, table in file.finding.items()},
        {name: Remedy(name, **_fields(table)) for name, table in file.remedy.items()},
        Work(**_fields(file.work)),
        file.prior_weight,
        {name: table.words for name, table in file.part.items()},
        file.pointing.ratio,
    )


def _fields(table: BaseModel) -> dict[str, Any]:
    return {name: getattr(table, name) for name in type(table).model_fields}


def _refuse_keys(name: str, file: _File) -> None:
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


def _refuse_unknown(name: str, file: _File) -> None:
    """Every cause that is named must be there, in a scope that can have the effect."""
    for code, cause in file.cause.items():
        _refuse_names(f"{name}: cause.{code}.brings", cause.brings, file.cause)
        if cause.scope == "dial" and cause.brings:
            raise KnowledgeError(
                f"{name}: cause.{code}.brings: only a cause of the whole leads to others"
            )
    for kind, tables in (("finding", file.finding), ("remedy", file.remedy)):
        for one, table in tables.items():
            named = table.shown_by if isinstance(table, _FindingTable) else table.cures
            where = f"{name}: {kind}.{one}"
            _refuse_names(where, named, file.cause)
            if table.scope == "whole":
                _refuse_dials(where, named, file.cause)
    whole = sum(cause.scope == "whole" for cause in file.cause.values())
    if whole > MOST_WHOLE:
        raise KnowledgeError(
            f"{name}: has {whole} causes of the whole; every combination of them is looked at, so "
            f"at most {MOST_WHOLE} can be there"
        )


def _refuse_names(where: str, named: Iterable[str], causes: Mapping[str, _CauseTable]) -> None:
    for name in named:
        code, part = code_of(name), part_of(name)
        if code not in causes:
            raise KnowledgeError(
                f"{where}: there is no cause '{code}'; known: {', '.join(sorted(causes))}"
            )
        if part is not None and part not in causes[code].parts:
            known = ", ".join(causes[code].parts) or "none"
            raise KnowledgeError(f"{where}: '{code}' has no part '{part}'; its parts: {known}")


def _refuse_dials(where: str, named: Iterable[str], causes: Mapping[str, _CauseTable]) -> None:
    scope: Scope = "dial"
    for code in map(code_of, named):
        if causes[code].scope == scope:
            raise KnowledgeError(
                f"{where}: '{code}' is a cause of one dial, and this is of the whole; give it "
                "scope 'dial', or name causes of the whole"
            )


def _refuse_parts(name: str, file: _File) -> None:
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


def _refuse_too_likely(name: str, file: _File) -> None:
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
