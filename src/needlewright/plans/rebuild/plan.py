"""The plan of one cluster: from findings to options, decisions and steps."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final

from needlewright.errors import PlanError
from needlewright.families.model import Family
from needlewright.findings.troubleshooting.model import Knowledge
from needlewright.plans.catalogue.model import Catalogue, Need, Terms
from needlewright.plans.rebuild.assumed import Assumed
from needlewright.plans.rebuild.cautions import FROM_COMPLAINT, NO_COMPLAINT, Complaint
from needlewright.plans.rebuild.choices import Decision, decisions_of, percent
from needlewright.plans.rebuild.findings import LEAST, Findings
from needlewright.plans.rebuild.looks import (
    ALL_SEEN,
    Look,
    Unseen,
    look_words,
    looks_of,
    with_looks,
)
from needlewright.plans.rebuild.nearly_even import NearlyEven, nearly_even_of
from needlewright.plans.rebuild.options import Option, OptionId, options_of
from needlewright.plans.rebuild.risks import Life, things_of
from needlewright.plans.rebuild.search import search_of
from needlewright.plans.rebuild.steps import PlanStep, parts_of, steps_of
from needlewright.plans.rebuild.switches import Switch, switches_of
from needlewright.plans.rebuild.work import Workshop

NAMED: Final = Fraction(1, 20)
"""Probability from which a cause in the vehicle is named; the others are counted in one line."""
NOT_DISCOUNTED: Final = (
    "what is paid in later years counts in full: nothing is discounted, and prices stay as they are"
)


@dataclass(frozen=True, slots=True)
class Plan:
    """What is planned for one cluster.

    Parameters
    ----------
    family
        Its name.
    terms
        Money and time it was worked out with.
    life
        Age and mileage it was worked out with.
    options
        Recommended, only what failed, replace everything.
    decisions
        Thing by thing, as recommended.
    steps
        By option, the work in its order.
    parts
        By option, what is pulled from the stock.
    operations
        By option, what is done, in words, by the task's name.
    names
        Of dials, as they stand in the sentences.
    vehicle
        Sentences on what may be wrong outside the cluster.
    switches
        Assumptions that are nearest to changing the recommendation.
    notes
        What was assumed or left out.
    nearly_even
        Another set of operations that costs hardly more; None: there is none.
    looks
        What to look at before anything is quoted.
    """

    family: str
    terms: Terms
    life: Life
    options: tuple[Option, Option, Option]
    decisions: tuple[Decision, ...]
    steps: dict[OptionId, tuple[PlanStep, ...]]
    parts: dict[OptionId, tuple[Need, ...]]
    operations: dict[OptionId, dict[str, str]]
    names: Mapping[str, str]
    vehicle: tuple[str, ...]
    switches: tuple[Switch, ...]
    notes: tuple[str, ...]
    nearly_even: NearlyEven | None
    looks: tuple[Look, ...] = ()

    def option(self, which: OptionId) -> Option:
        """One of the three."""
        return next(one for one in self.options if one.id == which)


def plan_of(
    findings: Findings,
    catalogue: Catalogue,
    family: Family,
    knowledge: Knowledge,
    life: Life,
    *,
    names: Mapping[str, str] | None = None,
    complaint: Complaint = NO_COMPLAINT,
    unseen: Unseen = ALL_SEEN,
) -> Plan:
    """Plan a rebuild.

    Parameters
    ----------
    findings
        What may be wrong.
    catalogue
        What can be done about it, with what it costs; its terms already as the job has them.
    family
        The cluster's design.
    knowledge
        Words for causes and parts.
    life
        Age and mileage.
    names
        Of dials, for sentences, such as `the fuel gauge`; None: their ids.
    complaint
        What the owner complained of.
    unseen
        What nobody looked at, and what can still be.

    Returns
    -------
    Plan
        With the least expected cost of all sets of operations as its recommendation.

    Raises
    ------
    PlanError
        If age or mileage cannot be.
    """
    for what, value, most in (("age", life.years, 150.0), ("mileage", life.km, 5e6)):
        if value is not None and not 0 <= value <= most:
            raise PlanError(f"{what}: expected 0 to {most:g}, found {value:g}")
    speedometers = [dial.id for dial in family.dials if dial.is_speedometer]
    dials = tuple(dial.id for dial in family.dials)
    shop = Workshop(catalogue, dials, names or {}, must_pass=frozenset(speedometers))
    things, notes = things_of(findings, shop, life)
    search = search_of(shop, things)
    options = options_of(search, findings, family, knowledge, complaint=complaint)
    decisions = decisions_of(search, options[0].costs, knowledge, speedometers, findings.decided)
    looks = looks_of(search, findings, knowledge, decisions, unseen)
    first = tuple(look_words(look, search, decisions) for look in looks)
    decisions = with_looks(decisions, looks, unseen)
    switches = switches_of(Assumed(findings, shop, life, knowledge))
    return Plan(
        family=family.name,
        terms=catalogue.terms,
        life=life,
        options=options,
        decisions=decisions,
        steps={one.id: steps_of(shop, one.costs, decisions) for one in options},
        parts={one.id: parts_of(one.costs.tasks) for one in options},
        operations={
            one.id: {t.name: shop.named(t.operation.words, t.place) for t in one.costs.tasks}
            for one in options
        },
        names=shop.names,
        vehicle=_outside(findings, knowledge, shop),
        switches=switches,
        notes=(
            *(() if complaint.has_run else (FROM_COMPLAINT,)),
            *first,
            *notes,
            _spread(options[0]),
            NOT_DISCOUNTED,
        ),
        nearly_even=nearly_even_of(search, options[0].costs, decisions),
        looks=looks,
    )


def _spread(option: Option) -> str:
    """How far the minutes may be off, and what that takes for granted."""
    return (
        f"the work takes {float(option.minutes):.0f} minutes within {option.u_minutes:.0f} (one "
        "standard deviation) where every step is slow or quick by itself, and within "
        f"{option.u_together:.0f} where all of them are together"
    )


def with_terms(
    catalogue: Catalogue,
    *,
    warranty_months: float | None = None,
    horizon_years: float | None = None,
    km_per_year: float | None = None,
) -> Catalogue:
    """A catalogue with what one job says otherwise; None: as the catalogue has it.

    Raises PlanError if a number cannot be.
    """
    terms = catalogue.terms
    for name, value, least, most in (
        ("warranty", warranty_months, 0.0, 120.0),
        ("horizon", horizon_years, 0.1, 50.0),
        ("km a year", km_per_year, 1.0, 500_000.0),
    ):
        if value is not None and not least <= value <= most:
            raise PlanError(f"{name}: expected {least:g} to {most:g}, found {value:g}")
    if warranty_months is not None:
        terms = replace(terms, warranty_years=Fraction(str(warranty_months)) / 12)
    if horizon_years is not None:
        terms = replace(terms, horizon_years=Fraction(str(horizon_years)))
    if km_per_year is not None:
        terms = replace(terms, km_per_year=Fraction(str(km_per_year)))
    return replace(catalogue, terms=terms)


def _outside(findings: Findings, knowledge: Knowledge, shop: Workshop) -> tuple[str, ...]:
    said, rest = [], 0
    for (place, code), p in sorted(findings.vehicle.items(), key=lambda item: -item[1]):
        if p >= NAMED:
            of = "the whole" if place is None else shop.names.get(place, place)
            chance = findings.decided.get((place, code)) or percent(p)
            said.append(
                f"{of}: {knowledge.causes[code].words} ({chance}) is in the vehicle; no work "
                "on the cluster cures it"
            )
        elif p >= LEAST:
            rest += 1
    more = " more" if said else ""
    if rest == 1:
        said.append(
            f"one{more} possible cause in the vehicle, below {percent(NAMED)}; no work on the "
            "cluster cures it"
        )
    elif rest:
        said.append(
            f"{rest}{more} possible causes in the vehicle, each below {percent(NAMED)}; no work "
            "on the cluster cures them"
        )
    return tuple(said)
