"""Parts of the catalogue of operations that the stock does not have yet."""

from dataclasses import dataclass
from functools import lru_cache

from needlewright.composing.shop_catalogue import text_in_use
from needlewright.plans.catalogue.load import CatalogueText, parse_catalogue
from needlewright.records.opening import Shop
from needlewright.records.stock import stock
from needlewright.records.stock_import import StockLine, import_stock
from needlewright.records.views.stock import StockImport


@dataclass(frozen=True, slots=True)
class CataloguePart:
    """A part of the catalogue that is in use."""

    code: str
    words: str


def parts_not_kept(shop: Shop) -> tuple[CataloguePart, ...]:
    """The parts plans may need and the stock does not have, by words.

    Raises PlanError if the shop's catalogue cannot be read.
    """
    kept = {one.code.casefold() for one in stock(shop, retired=True)}
    parts = _parts(text_in_use(shop))
    return tuple(one for one in parts if one.code.casefold() not in kept)


def add_catalogue_parts(shop: Shop, by: str | None = None) -> StockImport:
    """Add them all, with none on hand.

    Their prices stay out: what is planned with is not what a supplier asks.
    """
    lines = [
        StockLine(number, {"part": one.code, "words": one.words})
        for number, one in enumerate(parts_not_kept(shop), start=1)
    ]
    return import_stock(shop, lines, "the catalogue of operations", by)


@lru_cache(maxsize=4)
def _parts(text: CatalogueText) -> tuple[CataloguePart, ...]:
    tables = parse_catalogue(text.name, text.content)
    found = (CataloguePart(code, part.words) for code, part in tables.part.items())
    return tuple(sorted(found, key=lambda one: one.words.casefold()))
