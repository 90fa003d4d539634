"""Loading a catalogue and what a family adds to it; what is wrong is said in one sentence."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cache
from hashlib import sha256
from importlib import resources
from pathlib import Path
from typing import Any, Final, TypeVar

from pydantic import BaseModel, ValidationError

from needlewright.errors import PlanError
from needlewright.families.model import Family
from needlewright.findings.troubleshooting.model import Knowledge
from needlewright.plans.catalogue.assembling import catalogue_from
from needlewright.plans.catalogue.checks import refuse_misfits
from needlewright.plans.catalogue.file_tables import (
    AddedTables,
    CatalogueTables,
    FamilyPointTable,
    WeakPointTable,
)
from needlewright.plans.catalogue.model import Catalogue

SHIPPED: Final = "catalogue.toml"
MOST_BYTES: Final = 500_000
LONGEST: Final = 60
T = TypeVar("T", bound=BaseModel)


@dataclass(frozen=True, slots=True)
class CatalogueText:
    """A catalogue as it is written, whole.

    Parameters
    ----------
    name
        What it is called in a sentence and in a plan.
    content
        TOML.
    """

    name: str
    content: bytes

    @property
    def sha256(self) -> str:
        """Of the content: plans name by it what they were made with."""
        return sha256(self.content).hexdigest()


def load_catalogue(
    knowledge: Knowledge,
    family: Family,
    path: Path | CatalogueText | None = None,
    variant: str | None = None,
) -> Catalogue:
    """Load a catalogue for a family.

    Parameters
    ----------
    knowledge
        Whose fault codes and parts it speaks in.
    family
        Its `weak_points` and `plan` come on top, entry by entry.
    path
        Of TOML, or its text; None: the catalogue that comes with the program.
    variant
        Of the family; weak points of other variants are left out.

    Returns
    -------
    Catalogue
        Checked as a whole.

    Raises
    ------
    PlanError
        If it cannot be read, a key is unknown or missing, or what it says does not fit together.
    """
    text = path if isinstance(path, CatalogueText) else catalogue_text(path)
    name, tables = text.name, check_catalogue(text, knowledge)
    known = [one.id for one in family.variants]
    if variant is not None and variant not in known:
        raise PlanError(
            f"family '{family.name}' has no variant '{variant}'; it has: "
            f"{', '.join(known) or 'none'}"
        )
    tables, dials, not_used = _with_family(_with_usual_cautions(tables), family, variant)
    refuse_misfits(f"{name} with family '{family.name}'", tables, knowledge)
    made = catalogue_from(name, tables, family, dials, not_used)
    return replace(made, name=Path(name).name, sha256=text.sha256)


def check_catalogue(text: CatalogueText, knowledge: Knowledge) -> CatalogueTables:
    """The tables of a catalogue, held against the knowledge; raises PlanError in one sentence."""
    tables = parse_catalogue(text.name, text.content)
    refuse_misfits(text.name, tables, knowledge)
    return tables


def parse_catalogue(name: str, content: bytes) -> CatalogueTables:
    """The tables of a catalogue's text, each checked by itself; raises PlanError."""
    if len(content) > MOST_BYTES:
        raise PlanError(f"{name}: {len(content)} bytes are no catalogue")
    try:
        raw = tomllib.loads(content.decode("utf-8"), parse_float=Decimal)
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise PlanError(f"{name}: is no TOML: {error}") from error
    return _checked(name, CatalogueTables, raw)


@cache
def _usual_cautions() -> Mapping[str, str]:
    return parse_catalogue(SHIPPED, catalogue_text().content).caution


def _with_usual_cautions(tables: CatalogueTables) -> CatalogueTables:
    """With the program's words for kinds of caution that a catalogue has none for: checks need."""
    return tables.model_copy(update={"caution": dict(_usual_cautions()) | tables.caution})


def catalogue_text(path: Path | None = None) -> CatalogueText:
    """A file as it is written, or what comes with the program; raises PlanError."""
    if path is None:
        shipped = resources.files("needlewright.plans.catalogue") / SHIPPED
        return CatalogueText(SHIPPED, shipped.read_bytes())
    try:
        return CatalogueText(str(path), path.read_bytes())
    except OSError as error:
        raise PlanError(f"{path}: cannot be opened: {error.strerror or error}") from error


def _with_family(
    tables: CatalogueTables, family: Family, variant: str | None
) -> tuple[CatalogueTables, dict[str, tuple[str, ...]], tuple[str, ...]]:
    """The tables with a family's on top; of which dials its weak points are; what says nothing."""
    raw: Mapping[str, Any] = family.raw or {}
    where = f"family '{family.name}'"
    added = _checked(f"{where}: plan", AddedTables, raw.get("plan") or {})
    points, dials, not_used = dict(added.weak_point), dict[str, tuple[str, ...]](), list[str]()
    for number, entry in enumerate(raw.get("weak_points") or ()):
        place = f"{where}: weak_points[{number}]"
        if not {"leads_to", "life"} & set(entry):
            called = entry.get("id") or entry.get("words") or number
            not_used.append(
                f"weak point '{called}' of the family is not in the plan: it states no 'leads_to' "
                "and no 'life'"
            )
            continue
        point = _checked(place, FamilyPointTable, entry)
        _refuse_strangers(place, point, family)
        if point.variants and variant is None:
            not_used.append(
                f"weak point '{point.id}' of the family is of variant "
                f"{', '.join(point.variants)} and not in the plan: give the variant"
            )
        elif not point.variants or variant in point.variants:
            points[point.id] = WeakPointTable.model_validate(
                point.model_dump(exclude={"id", "variants", "dials"})
            )
            dials[point.id] = point.dials
    merged = {
        "level": tables.level | added.level,
        "part": tables.part | added.part,
        "operation": tables.operation | added.operation,
        "weak_point": tables.weak_point | points,
        "caution": tables.caution | added.caution,
    }
    return tables.model_copy(update=merged), dials, tuple(not_used)


def _refuse_strangers(place: str, point: FamilyPointTable, family: Family) -> None:
    """Dials and variants the family does not have."""
    for what, named, known in (
        ("variant", point.variants, [one.id for one in family.variants]),
        ("dial", point.dials, [one.id for one in family.dials]),
    ):
        for one in named:
            if one not in known:
                raise PlanError(
                    f"{place}: there is no {what} '{one}'; the family has: "
                    f"{', '.join(known) or 'none'}"
                )


def _checked(where: str, kind: type[T], raw: Any) -> T:
    try:
        return kind.model_validate(raw)
    except ValidationError as error:
        raise PlanError(f"{where}: {_first_wrong(error)}") from error


def _first_wrong(error: ValidationError) -> str:
    """The first thing that is wrong; a mistyped name before the one that is missing for it."""
    wrong = error.errors(include_url=False)
    first = min(wrong, key=lambda each: each["type"] != "extra_forbidden")
    place = ".".join(str(step) for step in first["loc"]) or "all of it"
    given = first["input"]
    shown = str(given) if isinstance(given, Decimal) else repr(given)
    found = f"found {shown[:LONGEST]}"
    match first["type"]:
        case "extra_forbidden":
            said = "there is no such key; take it out or mend its spelling"
        case "missing":
            said = "is missing; add it"
        case "dict_type" | "model_type" | "model_attributes_type":
            said = f"expected a table, {found}"
        case "value_error":
            said = str(first["ctx"]["error"])
        case "decimal_parsing" | "decimal_type":
            said = f"expected a number with a point, such as 16.50, {found}"
        case "greater_than_equal" if "minutes" in place:
            said = f"minutes must not be negative, found {shown}"
        case _:
            said = f"{first['msg'][0].lower()}{first['msg'][1:]}, {found}"
    return f"{place}: {said}"
