"""From checked tables to the records a plan is made of; money and minutes become exact."""

from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction

from needlewright.families.model import Family
from needlewright.plans.catalogue.check_cautions import check_cautions
from needlewright.plans.catalogue.file_tables import (
    CatalogueTables,
    CheckTable,
    LevelTable,
    OperationTable,
    PartPriceTable,
    SpreadTable,
    WayTable,
    WeakPointTable,
)
from needlewright.plans.catalogue.model import (
    Catalogue,
    Check,
    Level,
    Need,
    Operation,
    PartPrice,
    Spread,
    Terms,
    Way,
    WeakPoint,
    listed_in,
)
from needlewright.plans.wear.weibull import Weibull


def catalogue_from(
    name: str,
    tables: CatalogueTables,
    family: Family,
    dials: Mapping[str, tuple[str, ...]],
    not_used: tuple[str, ...],
) -> Catalogue:
    """Assemble a catalogue.

    Parameters
    ----------
    name
        What it is called in a sentence.
    tables
        Checked, with what the family adds.
    family
        Which lists how many lamps, tell-tales and displays it has.
    dials
        By weak point, the dials it is known of.
    not_used
        Sentences on weak points left out.

    Returns
    -------
    Catalogue
        Weak points of what the family does not have are left out.
    """
    parts = {code: _part(code, one) for code, one in tables.part.items()}
    cautions = tables.caution
    return Catalogue(
        name=name,
        terms=_terms(tables),
        levels={code: _level(code, one, tables) for code, one in tables.level.items()},
        operations={
            code: _operation(code, one, parts, tables, family)
            for code, one in tables.operation.items()
        },
        weak_points={
            code: _weak_point(code, one, dials.get(code, ()))
            for code, one in tables.weak_point.items()
            if one.where_family_has is None or listed_in(family, one.where_family_has)
        },
        cautions=cautions,
        not_used=not_used,
    )


def _terms(tables: CatalogueTables) -> Terms:
    back, ahead = tables.back, tables.horizon
    return Terms(
        currency=tables.currency,
        hour=Fraction(tables.shop.hour),
        watch_minutes=Fraction(tables.shop.watch_minutes),
        ship_one_way=Fraction(back.ship_one_way),
        goodwill=Fraction(back.goodwill),
        goodwill_told=Fraction(back.goodwill_told),
        check_catches=Fraction(back.check_catches),
        warranty_years=Fraction(ahead.warranty_months) / 12,
        horizon_years=Fraction(ahead.years),
        km_per_year=Fraction(ahead.km_per_year),
    )


def _spread(table: SpreadTable | None) -> Spread:
    if table is None:
        return Spread(Fraction(0), Fraction(0), Fraction(0))
    return Spread(Fraction(table.least), Fraction(table.usual), Fraction(table.most))


def _way(table: WayTable, cautions: Mapping[str, str]) -> Way:
    return Way(
        table.words, _spread(table.minutes), tuple(cautions[code] for code in table.cautions)
    )


def _check(given: str | CheckTable, tables: CatalogueTables) -> Check:
    said = tuple(tables.caution[kind] for kind in check_cautions(tables, given))
    if isinstance(given, str):
        return Check(given, cautions=said)
    minutes = None if given.minutes is None else _spread(given.minutes)
    return Check(given.words, minutes, given.at, said, given.settles)


def _level(code: str, table: LevelTable, tables: CatalogueTables) -> Level:
    return Level(
        code,
        table.scope,
        table.needs,
        _way(table.way_in, tables.caution),
        _way(table.way_out, tables.caution),
        tuple(_check(one, tables) for one in table.checks),
    )


def _part(code: str, table: PartPriceTable) -> PartPrice:
    return PartPrice(code, table.words, Fraction(table.price))


def _operation(
    code: str,
    table: OperationTable,
    parts: Mapping[str, PartPrice],
    tables: CatalogueTables,
    family: Family,
) -> Operation:
    return Operation(
        id=code,
        scope=table.scope,
        kind=table.kind,
        words=table.words,
        fixes=_exact(table.fixes),
        prevents=_exact(table.prevents),
        minutes=_spread(table.minutes),
        open=table.open,
        needs=tuple(
            Need(
                parts[one.part],
                (one.count_of and listed_in(family, one.count_of)) or one.count,
            )
            for one in table.parts
        ),
        spoil=Fraction(table.risk.spoil),
        spoil_minutes=Fraction(table.risk.minutes),
        spoil_cost=Fraction(table.risk.cost),
        cautions=tuple(tables.caution[one] for one in table.cautions),
        checks=tuple(_check(one, tables) for one in table.checks),
        guide=table.guide,
        source=table.source,
        included_in=table.included_in,
        in_everything=table.in_everything,
    )


def _exact(shares: Mapping[str, Decimal]) -> dict[str, Fraction]:
    return {code: Fraction(share) for code, share in shares.items()}


def _weak_point(code: str, table: WeakPointTable, dials: tuple[str, ...]) -> WeakPoint:
    years, km = table.life.years, table.life.km
    scale = years if years is not None else km
    assert scale is not None  # the table has one of them
    return WeakPoint(
        id=code,
        scope=table.scope,
        words=table.words,
        leads_to=table.leads_to,
        law=Weibull(table.life.shape, scale),
        clock="years" if years is not None else "km",
        source=table.source,
        dials=dials,
    )
