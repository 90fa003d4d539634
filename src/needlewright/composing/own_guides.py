"""The guides a shop works by: those of the program, its own, and those a family brings."""

from pathlib import Path

from needlewright.composing.guides import guide_book, guide_document, has_guide
from needlewright.composing.shop_catalogue import text_in_use
from needlewright.errors import NotThereError, PlanError
from needlewright.families.model import Family
from needlewright.papers.guide_drawings import DRAWINGS
from needlewright.papers.guide_sheet import guide_pdf
from needlewright.plans.catalogue.file_tables import CatalogueTables
from needlewright.plans.catalogue.load import catalogue_text, parse_catalogue
from needlewright.plans.guides.file_tables import GuideTable
from needlewright.plans.guides.load import GuideBook, guide_from, shipped_catalogue
from needlewright.plans.guides.own import guides_of_family, with_operations_of, with_own
from needlewright.records.opening import Shop
from needlewright.records.shop_guides import guide_text, keep_guide, shop_guides
from needlewright.records.views.shop_guides import ShopGuideView

FOLDER = "guides"
MOST_BYTES = 100_000
Own = dict[str, tuple[str, GuideTable]]


def book_of_shop(shop: Shop, family: Family | None = None) -> GuideBook:
    """The guides of a shop, and of a family it works on.

    Parameters
    ----------
    shop
        Its own catalogue and its own guides count.
    family
        What its `plan` adds and its `guides` say comes on top; None: of no family.

    Returns
    -------
    GuideBook
        Checked as a whole.

    Raises
    ------
    PlanError
        If one of them cannot be used.
    RecordError
        If a text the shop keeps is damaged or gone.
    """
    text = text_in_use(shop)
    is_shipped = text.sha256 == catalogue_text().sha256
    catalogue = shipped_catalogue() if is_shipped else parse_catalogue(text.name, text.content)
    return _book(None if is_shipped else catalogue, _own_of(shop), family)


def book_in_use(shop: Shop, family: Family | None = None) -> tuple[GuideBook, str]:
    """The guides of a shop; those of the program, and why, where one of its own cannot be used."""
    try:
        return book_of_shop(shop, family), ""
    except PlanError as error:
        return guide_book(), str(error)


def refuse_unknown_guide(name: str, book: GuideBook, trouble: str) -> None:
    """Raise NotThereError where there is no such guide, PlanError where that is why."""
    if not has_guide(name, book):
        if trouble:
            raise PlanError(trouble)
        raise NotThereError(f"there is no guide '{name[:60]}'")


def book_of_files(catalogue: Path | None, family: Family | None) -> GuideBook:
    """The guides of a catalogue's file with those in the folder `guides` next to it.

    Parameters
    ----------
    catalogue
        TOML; None: the catalogue that comes with the program.
    family
        What its `plan` adds and its `guides` say comes on top; None: of no family.

    Returns
    -------
    GuideBook
        Checked as a whole.

    Raises
    ------
    PlanError
        If one of them cannot be read or used.
    """
    if catalogue is None:
        return _book(None, {}, family)
    text = catalogue_text(catalogue)
    folder = catalogue.parent / FOLDER
    files = sorted(folder.glob("*.toml")) if folder.is_dir() else []
    own = {file.stem: (str(file), _read(file)) for file in files}
    return _book(parse_catalogue(text.name, text.content), own, family)


def keep_shop_guide(shop: Shop, name: str, content: bytes, by: str | None = None) -> ShopGuideView:
    """Keep a guide of the shop's own.

    Parameters
    ----------
    shop
        The shop.
    name
        By which operations name it.
    content
        TOML, as those of the program are written.
    by
        Who keeps it.

    Returns
    -------
    ShopGuideView
        As kept.

    Raises
    ------
    PlanError
        If it cannot be read, does not fit the shop's catalogue, or is longer than one sheet;
        nothing is changed then.
    RecordError
        If the name cannot be used, or it cannot be stored.
    """
    if len(content) > MOST_BYTES:
        raise PlanError(f"{name}.toml: {len(content)} bytes are no guide")
    table = guide_from(f"{name}.toml", content)
    own = _own_of(shop) | {name: (f"{name}.toml", table)}
    text = text_in_use(shop)
    book = _book(parse_catalogue(text.name, text.content), own, None)
    guide_pdf(guide_document(name, book=book), shop.now().astimezone().date(), "a4")
    return keep_guide(shop, name, content, by)


def _own_of(shop: Shop) -> Own:
    return {
        one.name: (
            f"the shop's guide '{one.name}'",
            guide_from(f"the shop's guide '{one.name}'", guide_text(shop, one)),
        )
        for one in shop_guides(shop)
    }


def _book(catalogue: CatalogueTables | None, own: Own, family: Family | None) -> GuideBook:
    """With a catalogue that is not the program's, if there is one."""
    shipped = guide_book()
    raw = {} if family is None else family.raw or {}
    if catalogue is None and not own and not raw.get("guides") and not raw.get("plan"):
        return shipped
    made = shipped.catalogue if catalogue is None else catalogue
    if family is not None:
        made = with_operations_of(made, family)
        own = own | guides_of_family(family)
    return with_own(shipped, made, own, DRAWINGS)


def _read(file: Path) -> GuideTable:
    try:
        content = file.read_bytes()
    except OSError as error:
        raise PlanError(f"{file}: cannot be opened: {error.strerror or error}") from error
    return guide_from(str(file), content)
