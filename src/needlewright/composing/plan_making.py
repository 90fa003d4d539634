"""Making the document of a plan, from files or from the records of a job alike."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from pathlib import Path
from typing import Any

from needlewright.composing.gauge_names import gauge_names
from needlewright.families.model import Family
from needlewright.findings.troubleshooting.model import Knowledge
from needlewright.plans.catalogue.exchange import in_currency
from needlewright.plans.catalogue.load import CatalogueText, load_catalogue
from needlewright.plans.catalogue.model import Catalogue
from needlewright.plans.rebuild.cautions import NO_COMPLAINT, Complaint
from needlewright.plans.rebuild.findings import WHOLE, findings_from
from needlewright.plans.rebuild.findings_file import Shares
from needlewright.plans.rebuild.looks import ALL_SEEN, Unseen
from needlewright.plans.rebuild.plan import plan_of, with_terms
from needlewright.plans.rebuild.plan_json import plan_document
from needlewright.plans.rebuild.risks import Life
from needlewright.plans.wear.returns import read_returns


@dataclass(frozen=True, slots=True)
class PlanTerms:
    """What is said of one plan otherwise than records and catalogue have it; None: as they do.

    Parameters
    ----------
    warranty_months, horizon_years, km_per_year
        How long is looked ahead, and what is driven.
    age_years, mileage_km
        Of the cluster.
    built
        When it was: a year, month or day; empty: not known, whatever the records say.
    variant
        Of the family.
    currency, exchange
        In which the plan is, and how much of it one of the catalogue's is worth.
    faults
        Place, fault and probability; each takes the place of what is believed of that fault.
    catalogue
        Of this plan alone: TOML.
    returns
        Lives of weak points as CSV, in place of those of the records.
    """

    warranty_months: float | None = None
    horizon_years: float | None = None
    km_per_year: float | None = None
    age_years: float | None = None
    built: str | None = None
    mileage_km: float | None = None
    variant: str | None = None
    currency: str | None = None
    exchange: Decimal | None = None
    faults: tuple[tuple[tuple[str, str], float], ...] = ()
    catalogue: Path | None = None
    returns: Path | None = None


@dataclass(frozen=True, slots=True)
class Planned:
    """What is planned for.

    Parameters
    ----------
    family
        The cluster's design.
    shares
        Probability by place and fault.
    decided
        By place and code, of what a person decided: by whom and when, in words.
    variant
        Of the family.
    years, km
        Age and mileage.
    built
        When it was, where the age was taken from that.
    tag
        On the papers.
    notes
        What was assumed or left out before.
    catalogue
        What the shop plans with; None: what comes with the program.
    teach
        Takes laws of wear from the shop's records; None: there are none.
    complaint
        What the owner complained of.
    unseen
        What nobody looked at, and what can still be.
    """

    family: Family
    shares: Shares
    variant: str | None = None
    years: float | None = None
    km: float | None = None
    built: str | None = None
    tag: str | None = None
    notes: tuple[str, ...] = ()
    catalogue: CatalogueText | None = None
    decided: Mapping[tuple[str, str], str] = field(default_factory=dict)
    teach: Callable[[Catalogue], Catalogue] | None = None
    complaint: Complaint = NO_COMPLAINT
    unseen: Unseen = ALL_SEEN


def document_of(planned: Planned, knowledge: Knowledge, terms: PlanTerms) -> dict[str, Any]:
    """Make a plan.

    Parameters
    ----------
    planned
        For what.
    knowledge
        Of faults and parts.
    terms
        What is said otherwise.

    Returns
    -------
    dict
        As docs/json/plan.schema.json describes it, without `files` and `kept`.

    Raises
    ------
    PlanError
        If nothing is wrong, or something that was given cannot be.
    """
    family = planned.family
    variant = terms.variant or planned.variant
    shares = with_faults(planned.shares, terms.faults)
    operations = load_catalogue(knowledge, family, terms.catalogue or planned.catalogue, variant)
    if terms.returns is not None:
        operations = read_returns(terms.returns, operations)
    elif planned.teach is not None:
        operations = planned.teach(operations)
    operations = in_currency(operations, terms.currency, terms.exchange)
    operations = with_terms(
        operations,
        warranty_months=terms.warranty_months,
        horizon_years=terms.horizon_years,
        km_per_year=terms.km_per_year,
    )
    is_age_said = terms.age_years is not None
    life = Life(
        terms.age_years if is_age_said else planned.years,
        planned.km if terms.mileage_km is None else terms.mileage_km,
    )
    names = {dial: f"the {name}" for dial, name in gauge_names(family).items()}
    findings = findings_from(shares, knowledge, family)
    said = {(place, fault.partition("/")[0]) for (place, fault), _ in terms.faults}
    decided = {
        (None if place == WHOLE else place, code): words
        for (place, code), words in planned.decided.items()
        if (place, code) not in said
    }
    findings = replace(findings, decided=decided)
    made = plan_of(
        findings,
        operations,
        family,
        knowledge,
        life,
        names=names,
        complaint=planned.complaint,
        unseen=_without(planned.unseen, said),
    )
    return plan_document(
        replace(made, notes=(*planned.notes, *made.notes)),
        operations,
        invented=family.is_invented,
        variant=variant,
        tag=planned.tag,
        built=None if is_age_said else planned.built,
    )


def with_faults(shares: Shares, faults: tuple[tuple[tuple[str, str], float], ...]) -> Shares:
    """What is believed, with faults that were said in place of those they speak of."""
    known = dict(shares)
    for at, p in faults:
        known = {other: one for other, one in known.items() if not _same(other, at)}
        known[at] = p
    return known


def _without(unseen: Unseen, said: set[tuple[str, str]]) -> Unseen:
    """What was said for one plan was looked at by who said it."""
    causes = {one for one in unseen.causes if (one[0] or WHOLE, one[1]) not in said}
    return Unseen(frozenset(causes), unseen.tests)


def _same(known: tuple[str, str], said: tuple[str, str]) -> bool:
    """Whether what is said takes the place of what is known: the same, or the cause anywhere."""
    return known[0] == said[0] and (known[1] == said[1] or known[1].partition("/")[0] == said[1])
