"""Guides beside those of the program: of a shop's own, or of a family's own operations."""

from collections.abc import Collection, Mapping
from typing import Any

from pydantic import ValidationError

from needlewright.errors import PlanError
from needlewright.families.model import Family
from needlewright.plans.catalogue.file_tables import AddedTables, CatalogueTables
from needlewright.plans.guides.file_tables import GuideTable
from needlewright.plans.guides.load import (
    GuideBook,
    cautions_at,
    cautions_needed,
    guide_table,
    levels_of,
    refuse_guides,
    wrong_words,
)


def with_own(
    book: GuideBook,
    catalogue: CatalogueTables,
    own: Mapping[str, tuple[str, GuideTable]],
    drawings: Collection[str],
) -> GuideBook:
    """Put guides of one's own beside those of the program, by a catalogue of one's own.

    Parameters
    ----------
    book
        Of the program.
    catalogue
        Whose operations are done.
    own
        By name: where it stands, for sentences, and the guide; one that is called as a guide of
        the program stands in its place.
    drawings
        Names of those that can be drawn.

    Returns
    -------
    GuideBook
        Guides of the program tell of the operations of this catalogue only, also of those that
        name them, and with every caution these need.

    Raises
    ------
    PlanError
        If one of one's own names something there is not, or lacks a caution.
    """
    catalogue = catalogue.model_copy(
        update={"caution": dict(book.catalogue.caution) | dict(catalogue.caution)}
    )
    guides = {
        name: _fitted(name, guide, catalogue)
        for name, guide in book.guides.items()
        if name not in own
    }
    guides |= {name: guide for name, (_, guide) in own.items()}
    known = {code: one for code, one in book.levels.level.items() if code in catalogue.level}
    levels = book.levels.model_copy(update={"level": known})
    made = GuideBook(dict(sorted(guides.items())), levels, book.refit, catalogue)
    refuse_guides(made, drawings, {name: where for name, (where, _) in own.items()})
    return made


def with_operations_of(catalogue: CatalogueTables, family: Family) -> CatalogueTables:
    """A catalogue with what a family's `plan` adds; raises PlanError if that is of another form."""
    try:
        added = AddedTables.model_validate((family.raw or {}).get("plan") or {})
    except ValidationError as error:
        raise PlanError(f"family '{family.name}': plan: {wrong_words(error)}") from error
    return catalogue.model_copy(
        update={
            "level": catalogue.level | added.level,
            "operation": catalogue.operation | added.operation,
            "caution": catalogue.caution | added.caution,
        }
    )


def guides_of_family(family: Family) -> dict[str, tuple[str, GuideTable]]:
    """The guides a family brings in its `guides`, by name; raises PlanError."""
    raw: Any = (family.raw or {}).get("guides") or {}
    where = f"family '{family.name}': guides"
    if not isinstance(raw, dict):
        raise PlanError(f"{where}: expected an object of guides by their names")
    return {
        name: (f"{where}.{name}", guide_table(f"{where}.{name}", one)) for name, one in raw.items()
    }


def _fitted(name: str, guide: GuideTable, catalogue: CatalogueTables) -> GuideTable:
    """A guide of the program for another catalogue's operations."""
    codes = [code for code in guide.operations if code in catalogue.operation]
    codes += [code for code, one in catalogue.operation.items() if one.guide == name]
    operations = tuple(dict.fromkeys(codes))
    levels = tuple(one for one in guide.open if one in catalogue.level)
    needed = [kind for code in operations for kind in cautions_needed(catalogue, code)]
    needed += [
        kind for level in levels_of(catalogue, (), levels) for kind in cautions_at(catalogue, level)
    ]
    cautions = tuple(dict.fromkeys((*guide.cautions, *needed)))
    return guide.model_copy(update={"operations": operations, "open": levels, "cautions": cautions})
