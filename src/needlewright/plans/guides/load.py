"""Loading the guides: every one is held against the catalogue before any is shown."""

import tomllib
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from importlib import resources
from importlib.resources.abc import Traversable
from typing import Final, TypeVar

from pydantic import BaseModel, ValidationError

from needlewright.errors import PlanError
from needlewright.plans.catalogue import load as catalogue_load
from needlewright.plans.catalogue.check_cautions import check_cautions
from needlewright.plans.catalogue.file_tables import CatalogueTables
from needlewright.plans.guides.file_tables import GuideTable, LevelsTable, RefitTable

FOLDER: Final = "texts"
LEVELS: Final = "levels.toml"
REFIT: Final = "refit.toml"
WAIT: Final = "{wait}"
OHMMETER: Final = "no ohmmeter on airbag circuits"
MOST_DRAWINGS: Final = 3
"""On one sheet, so that it stays one."""
T = TypeVar("T", bound=BaseModel)


@dataclass(frozen=True, slots=True)
class GuideBook:
    """Every guide as it is written, with what they share and the refit sheet."""

    guides: Mapping[str, GuideTable]
    levels: LevelsTable
    refit: RefitTable
    catalogue: CatalogueTables

    @property
    def missing(self) -> tuple[str, ...]:
        """Operations that name a guide there is not, one sentence each."""
        return tuple(
            f"operation '{code}' names the guide '{one.guide}', which is not there"
            for code, one in self.catalogue.operation.items()
            if one.guide is not None and one.guide not in self.guides
        )


def shipped_catalogue() -> CatalogueTables:
    """The catalogue that comes with the program, of no family."""
    name = catalogue_load.SHIPPED
    content = (resources.files("needlewright.plans.catalogue") / name).read_bytes()
    return catalogue_load.parse_catalogue(name, content)


def load_guides(
    catalogue: CatalogueTables, drawings: Collection[str], folder: Traversable | None = None
) -> GuideBook:
    """Load every guide.

    Parameters
    ----------
    catalogue
        Whose operations they tell how to do.
    drawings
        Names of those that can be drawn.
    folder
        With `texts`, `levels.toml` and `refit.toml`; None: the one of the program.

    Returns
    -------
    GuideBook
        Checked as a whole.

    Raises
    ------
    PlanError
        If one cannot be read, names an operation, caution, level or drawing there is not, lacks a
        caution that its operation needs, or an operation's guide is missing.
    """
    root = resources.files("needlewright.plans.guides") if folder is None else folder
    texts = root.joinpath(FOLDER)
    guides = {
        file.name.removesuffix(".toml"): _parsed(file, GuideTable)
        for file in sorted(texts.iterdir(), key=lambda one: one.name)
        if file.name.endswith(".toml")
    }
    book = GuideBook(
        guides,
        _parsed(root.joinpath(LEVELS), LevelsTable),
        _parsed(root.joinpath(REFIT), RefitTable),
        catalogue,
    )
    _refuse_misfits(book, drawings)
    return book


def levels_of(
    catalogue: CatalogueTables, operations: Collection[str], more: Collection[str] = ()
) -> tuple[str, ...]:
    """The levels some operations need, and some more, each after what it needs itself."""
    found: dict[str, None] = {}

    def open_(level: str) -> None:
        for needed in catalogue.level[level].needs:
            open_(needed)
        found.setdefault(level)

    for operation in operations:
        for level in catalogue.operation[operation].open:
            open_(level)
    for level in more:
        open_(level)
    return tuple(found)


def cautions_needed(catalogue: CatalogueTables, operation: str) -> dict[str, str]:
    """Kinds of caution an operation needs, each with what it is of."""
    needed = {
        kind: f"level '{level}', which operation '{operation}' opens,"
        for level in levels_of(catalogue, (operation,))
        for kind in cautions_at(catalogue, level)
    }
    of_itself = dict.fromkeys(catalogue.operation[operation].cautions, f"operation '{operation}'")
    return needed | of_itself


def checks_need(
    catalogue: CatalogueTables, operations: Collection[str], levels: Collection[str]
) -> tuple[str, ...]:
    """Kinds of caution that the checks of operations and levels need, each once."""
    checks = [one for code in operations for one in catalogue.operation[code].checks]
    checks += [one for code in levels for one in catalogue.level[code].checks]
    needed = (kind for check in checks for kind in check_cautions(catalogue, check))
    return tuple(kind for kind in dict.fromkeys(needed) if kind in catalogue.caution)


def cautions_at(catalogue: CatalogueTables, level: str) -> tuple[str, ...]:
    """Kinds of caution the way in and out of a level needs."""
    ways = (catalogue.level[level].way_in, catalogue.level[level].way_out)
    return tuple(kind for way in ways for kind in way.cautions)


def guide_from(where: str, content: bytes) -> GuideTable:
    """A guide out of its text; raises PlanError in one sentence on where it stands."""
    try:
        raw = tomllib.loads(content.decode("utf-8"))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise PlanError(f"{where}: is no TOML: {error}") from error
    return guide_table(where, raw)


def guide_table(where: str, raw: object) -> GuideTable:
    """A guide out of its fields; raises PlanError in one sentence on where it stands."""
    try:
        return GuideTable.model_validate(raw)
    except ValidationError as error:
        raise PlanError(f"{where}: {wrong_words(error)}") from error


def wrong_words(error: ValidationError) -> str:
    """The first thing that is wrong, a mistyped name before the one that is missing for it."""
    wrong = error.errors(include_url=False)
    first = min(wrong, key=lambda each: each["type"] != "extra_forbidden")
    place = ".".join(str(step) for step in first["loc"]) or "all of it"
    said = {
        "extra_forbidden": "there is no such key; take it out or mend its spelling",
        "missing": "is missing; add it",
    }.get(first["type"], f"{first['msg'][0].lower()}{first['msg'][1:]}")
    return f"{place}: {said}"


def _parsed(file: Traversable, kind: type[T]) -> T:
    try:
        raw = tomllib.loads(file.read_bytes().decode("utf-8"))
        return kind.model_validate(raw)
    except OSError as error:
        raise PlanError(f"{file.name}: cannot be opened: {error.strerror or error}") from error
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise PlanError(f"{file.name}: is no TOML: {error}") from error
    except ValidationError as error:
        raise PlanError(f"{file.name}: {wrong_words(error)}") from error


def refuse_guides(
    book: GuideBook, drawings: Collection[str], where: Mapping[str, str] | None = None
) -> None:
    """Refuse guides that name what there is not, or lack what they must say.

    Parameters
    ----------
    book
        With the catalogue they are of.
    drawings
        Names of those that can be drawn.
    where
        By name, where a guide of one's own stands, for sentences. With it, an operation may name a
        guide that is not there yet; None: these are the guides of the program.

    Raises
    ------
    PlanError
        In one sentence.
    """
    catalogue, places = book.catalogue, where or {}
    for name, guide in book.guides.items():
        place = places.get(name, f"{name}.toml")
        for operation in guide.operations:
            _refuse_unknown(f"{place}: operations", "operation", operation, catalogue.operation)
            _refuse_lacking(place, guide, cautions_needed(catalogue, operation))
        for level in guide.open:
            _refuse_unknown(f"{place}: open", "level", level, catalogue.level)
        for level in levels_of(catalogue, (), guide.open):
            of = f"level '{level}', which it opens,"
            _refuse_lacking(place, guide, dict.fromkeys(cautions_at(catalogue, level), of))
        for kind in guide.cautions:
            _refuse_unknown(f"{place}: cautions", "caution", kind, catalogue.caution)
        _refuse_drawings(place, [one.drawing for one in guide.step], drawings)
    for code, one in catalogue.operation.items():
        if one.guide is None or (where is not None and one.guide not in book.guides):
            continue
        _refuse_unknown(f"operation.{code}.guide", "guide", one.guide, book.guides)
        if code not in book.guides[one.guide].operations:
            place = places.get(one.guide, f"{one.guide}.toml")
            raise PlanError(
                f"{place}: operations: operation '{code}' names this guide and is not "
                "among them; add it"
            )


def _refuse_lacking(place: str, guide: GuideTable, needed: Mapping[str, str]) -> None:
    for kind, of in needed.items():
        if kind not in guide.cautions:
            raise PlanError(
                f"{place}: cautions: {of} needs the caution '{kind}' and it is not there; add it"
            )


def _refuse_misfits(book: GuideBook, drawings: Collection[str]) -> None:
    for level in book.levels.level:
        _refuse_unknown(f"{LEVELS}: level", "level", level, book.catalogue.level)
    refuse_guides(book, drawings)
    steps = [step for part in book.refit.part for step in part.step]
    _refuse_drawings(REFIT, [one.drawing for one in steps], drawings, most=len(drawings))
    if WAIT not in steps[0].words:
        raise PlanError(f"{REFIT}: the first step does not say the airbag wait; put {WAIT} into it")
    if not any(OHMMETER in caution.lower() for caution in book.refit.cautions):
        raise PlanError(f"{REFIT}: cautions: none says '{OHMMETER}'; add it")


def _refuse_drawings(
    where: str, named: list[str | None], drawings: Collection[str], most: int = MOST_DRAWINGS
) -> None:
    used = {one for one in named if one is not None}
    for one in sorted(used):
        _refuse_unknown(f"{where}: step.drawing", "drawing", one, drawings)
    if len(used) > most:
        raise PlanError(
            f"{where}: names {len(used)} drawings; a sheet has room for {most}, take one out"
        )


def _refuse_unknown(place: str, what: str, one: str, known: Collection[str]) -> None:
    if one not in known:
        raise PlanError(
            f"{place}: there is no {what} '{one}'; known: {', '.join(sorted(known)) or 'none'}"
        )
