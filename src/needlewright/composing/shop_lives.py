"""Laws of wear out of a shop's own records: which parts left sound, and which came back failed."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from needlewright.composing.finding_model import SYSTEMS
from needlewright.errors import PlanError
from needlewright.families.model import Family
from needlewright.findings.troubleshooting.model import Knowledge, code_of, part_of
from needlewright.plans.catalogue.model import Catalogue, WeakPoint
from needlewright.plans.rebuild.age import age_on
from needlewright.plans.wear.follow_up import Key, Visit, Watch, lives_of
from needlewright.plans.wear.returns import taught_by_visits
from needlewright.records.opening import Shop
from needlewright.records.views import OpinionView
from needlewright.records.visits import VisitView, visits_of_family
from needlewright.units import KM_OF

SURE: Final = 0.9
"""From this probability on something counts as found, and below what is left to one as sound: `most
probably` in docs/findings.md."""
MOSTLY: Final = 0.5
"""Share of a cause that must lie in a part for it to be meant where no part was named."""


@dataclass(frozen=True, slots=True)
class _Reader:
    """What is needed to read a visit."""

    family: Family
    knowledge: Knowledge
    catalogue: Catalogue


def taught_by_shop(
    shop: Shop, family: Family, knowledge: Knowledge, catalogue: Catalogue, day: date
) -> Catalogue:
    """A catalogue with the laws a shop's records teach.

    Parameters
    ----------
    shop
        The shop.
    family
        Whose clusters count.
    knowledge
        Of causes and their parts.
    catalogue
        With stated laws, and the warranty clusters are watched for.
    day
        The last that counts: a plan made again later rests on the same lives.

    Returns
    -------
    Catalogue
        As it was where no part was ever watched.
    """
    reader = _Reader(family, knowledge, catalogue)
    terms = catalogue.terms
    watch = Watch(day, float(terms.warranty_years), float(terms.km_per_year))
    visits = visits_of_family(shop, family.name)
    dials = [dial.id for dial in family.dials]
    limited = _variants(family)
    groups: dict[frozenset[str], dict[str, WeakPoint]] = {}
    for code, point in catalogue.weak_points.items():
        groups.setdefault(limited.get(code, frozenset()), {})[code] = point
    lives = {}
    for variants, points in groups.items():
        clusters: dict[int, list[Visit]] = {}
        for one in visits:
            if not variants or one.variant in variants:
                clusters.setdefault(one.cluster, []).append(_visit(one, reader))
        lives.update(lives_of([*clusters.values()], points, dials, watch))
    return taught_by_visits(catalogue, lives)


def _variants(family: Family) -> dict[str, frozenset[str]]:
    """Weak points that only some variants of a family have."""
    listed = (family.raw or {}).get("weak_points") or ()
    return {one["id"]: frozenset(one["variants"]) for one in listed if one.get("variants")}


def _visit(view: VisitView, reader: _Reader) -> Visit:
    came = view.opened_at.astimezone().date()
    try:
        years = None if view.built is None else age_on(view.built, came).years
    except PlanError:  # built after it came: one of the two is wrong
        years = None
    km = KM_OF[view.odometer_unit]
    failed = {} if view.closed_at is None else _failed(view, reader)
    renewed, touched = _done(view, reader)
    return Visit(
        came=came,
        left=None if view.closed_at is None else view.closed_at.astimezone().date(),
        years_old=years,
        km_in=None if view.odometer_in is None else view.odometer_in * km,
        km_out=None if view.odometer_out is None else view.odometer_out * km,
        failed=failed,
        renewed=renewed,
        touched=touched,
    )


def _failed(view: VisitView, reader: _Reader) -> dict[Key, bool]:
    """Of every weak point whether it was at fault, where that is known."""
    found: dict[Key, bool] = {}
    for code, point in reader.catalogue.weak_points.items():
        for place in _places(point, reader):
            opinion = _opinion_on(view.opinions, place, point)
            if opinion is not None:
                said = _decided(opinion, point, reader.knowledge)
            elif view.decisions is not None:
                said = _found(view.decisions, place, point)
            else:  # nobody complained of it where something else was decided on
                said = False if view.opinions else None
            if said is not None:
                found[place, code] = said
    return found


def _places(point: WeakPoint, reader: _Reader) -> Sequence[str | None]:
    if point.scope == "whole":
        return (None,)
    return point.dials or tuple(dial.id for dial in reader.family.dials)


def _opinion_on(
    opinions: Sequence[OpinionView], place: str | None, point: WeakPoint
) -> OpinionView | None:
    if place is not None:
        return next((one for one in opinions if one.dial == place), None)
    code = code_of(point.leads_to)
    system = next((name for name, codes in SYSTEMS.items() if code in codes), "board")
    return next((one for one in opinions if one.dial is None and one.system == system), None)


def _decided(opinion: OpinionView, point: WeakPoint, knowledge: Knowledge) -> bool | None:
    code, part = code_of(point.leads_to), part_of(point.leads_to)
    if code not in opinion.decided:
        return False
    if part is None or opinion.part == part:
        return True
    if opinion.part is not None:
        return False
    return True if knowledge.causes[code].parts.get(part, 0.0) >= MOSTLY else None


def _found(
    decisions: Sequence[Mapping[str, Any]], place: str | None, point: WeakPoint
) -> bool | None:
    """What the findings said of it when the job was planned."""
    code = code_of(point.leads_to)
    chances = {
        one["fault"]: one["chance"]
        for decision in decisions
        if decision["dial"] == place
        for one in decision["faults"]
        if code_of(one["fault"]) == code
    }
    of_cause = sum(chances.values())
    if of_cause <= 1 - SURE:
        return False
    here = chances.get(point.leads_to, 0.0)
    return True if of_cause >= SURE and here >= MOSTLY * of_cause else None


def _done(view: VisitView, reader: _Reader) -> tuple[frozenset[Key], frozenset[Key]]:
    """What the accepted option makes as new, and what it only works at."""
    renewed, touched = set[Key](), set[Key]()
    for done in view.operations:
        operation = reader.catalogue.operations.get(done["id"])
        for code, share in ({} if operation is None else operation.prevents).items():
            (renewed if share == 1 else touched).add((done["dial"], code))
    return frozenset(renewed), frozenset(touched - renewed)
