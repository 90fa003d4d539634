"""The plan of a job: made from the records, kept in them, accepted by the customer."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from needlewright.composing.job_for_plan import job_for_plan
from needlewright.composing.plan_making import Planned, PlanTerms, document_of
from needlewright.composing.plan_reading import read_document
from needlewright.composing.shop_catalogue import text_in_use
from needlewright.composing.shop_lives import taught_by_shop
from needlewright.errors import RecordError
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.papers.plan_sheet import plan_sheet_pdf
from needlewright.papers.quote import quote_html
from needlewright.plans.rebuild.acceptance import of_plan, parse_acceptance
from needlewright.plans.rebuild.age import age_on
from needlewright.plans.rebuild.plan_json import number_of
from needlewright.records.opening import Shop
from needlewright.records.plan_acceptances import accept_plan
from needlewright.records.plans import keep_plan, plan_of_job
from needlewright.records.shop import settings
from needlewright.records.views import AcceptanceView, PlanView

NO_TERMS = PlanTerms()


@dataclass(frozen=True, slots=True)
class KeptPlan:
    """A plan that was made the job's.

    Parameters
    ----------
    plan
        The job's plan now.
    is_new
        False: it was the job's before, and nothing was kept.
    """

    plan: PlanView
    is_new: bool


def make_job_plan(
    shop: Shop, tag: str, terms: PlanTerms = NO_TERMS, *, knowledge: Path | None = None
) -> dict[str, Any]:
    """Plan a job by its records; nothing is kept.

    Parameters
    ----------
    shop
        The shop, whose own catalogue is used.
    tag
        Of the job: its findings, family, variant, mileage, and when its cluster was built.
    terms
        What is said otherwise.
    knowledge
        Knowledge file; None: the one that comes with the program.

    Returns
    -------
    dict
        The plan, as docs/json/plan.schema.json describes it, without `files` and `kept`.

    Raises
    ------
    PlanError
        If nothing is known to be wrong with the cluster, or something that was given cannot be.
    RecordError
        If there is no such job, or its family or the shop's catalogue cannot be read.
    """
    known = load_knowledge(knowledge)
    job = job_for_plan(shop, tag, known)
    built = job.built if terms.built is None else terms.built or None
    age = None if built is None else age_on(built, job.day)
    notes = job.notes
    if age is not None and terms.age_years is None:
        notes = (f"age: {age.words}", *notes)
    planned = Planned(
        family=job.family,
        shares=job.shares,
        decided=job.decided,
        complaint=job.complaint,
        unseen=job.unseen,
        variant=job.variant,
        years=None if age is None else age.years,
        km=job.mileage_km,
        built=built,
        tag=job.tag,
        notes=notes,
        catalogue=text_in_use(shop),
        teach=lambda stated: taught_by_shop(shop, job.family, known, stated, job.day),
    )
    return document_of(planned, known, terms)


def keep_job_plan(
    shop: Shop,
    tag: str,
    document: Mapping[str, Any],
    by: str | None = None,
    *,
    built: str | None = None,
) -> KeptPlan:
    """Make a plan the job's; what was accepted of another one does not count for it.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    document
        As `make_job_plan` made it.
    by
        Who made it.
    built
        As `records.plans.keep_plan` takes it.

    Returns
    -------
    KeptPlan
        What is the job's plan now.

    Raises
    ------
    RecordError
        If it is not what its number says, or of another job.
    """
    _refuse_altered(tag, document)
    before = plan_of_job(shop, tag)
    keep_plan(shop, tag, document, by, built=built)
    is_new = before is None or before.number != document["number"]
    return KeptPlan(stored_plan(shop, tag), is_new)


def stored_plan(shop: Shop, tag: str, number: str | None = None) -> PlanView:
    """A plan a job has.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    number
        Of an older one; None: the one it goes by.

    Returns
    -------
    PlanView
        Whose document is what its number says.

    Raises
    ------
    RecordError
        If there is none, no such job, or it was altered since it was kept.
    """
    plan = plan_of_job(shop, tag, number)
    if plan is None:
        raise RecordError(
            f"job {tag}: no plan of it was kept; make one with needlewright plan --job {tag}"
        )
    _refuse_altered(tag, plan.document)
    return plan


def accept_text(shop: Shop, tag: str, text: str, by: str | None = None) -> PlanView:
    """Take in the text a customer sent back.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    text
        As the quote made it, also with other lines around it.
    by
        Who takes it in.

    Returns
    -------
    PlanView
        The job's plan, accepted.

    Raises
    ------
    PlanError
        If it is no acceptance, or of another plan, option or price, or of a day to come.
    ConflictError
        If the plan is accepted already, in other words.
    RecordError
        If the job has no plan.
    """
    said = parse_acceptance(text)
    plan = plan_of_job(shop, tag)
    if plan is not None:
        said = of_plan(said, plan.document)
    accept_plan(
        shop,
        tag,
        said.number,
        by,
        option=said.option,
        who=said.who,
        when=said.when,
        how=said.how,
        price=said.price,
    )
    return stored_plan(shop, tag)


def sheet_of_plan(plan: PlanView, option: str | None = None) -> bytes:
    """The sheet of the work of a kept plan.

    Parameters
    ----------
    plan
        The job's.
    option
        Which the work follows; None: what was accepted, else as recommended.

    Returns
    -------
    bytes
        A PDF with the day the plan was made; the same bytes each time.

    Raises
    ------
    PaperError
        If there is no such option.
    """
    accepted = plan.acceptance
    option = option or ("recommended" if accepted is None else accepted.option)
    words = None if accepted is None else accepted_words(plan.document, accepted)
    return plan_sheet_pdf(read_document(plan.document), option, made_on(plan), accepted=words)


def quote_of_plan(plan: PlanView, sent_by: str | None) -> bytes:
    """The quote of a kept plan: HTML in UTF-8, the same bytes each time."""
    return quote_html(read_document(plan.document), sent_by).encode("utf-8")


def sender(shop: Shop) -> str | None:
    """Who sends a quote: the shop's name and place; None: neither is stated."""
    said = settings(shop)
    return ", ".join(part for part in (said.name, said.place) if part) or None


def made_on(plan: PlanView) -> date:
    """The day a plan was made, as its papers carry it."""
    return plan.made_at.astimezone().date()


def accepted_words(document: Mapping[str, Any], accepted: AcceptanceView) -> str:
    """Which option was accepted, at which price, by whom, when and how."""
    titles = {one["id"]: one["title"] for one in document["options"]}
    option = titles.get(accepted.option, accepted.option)
    return f"{option}, {accepted.price}, by {accepted.who} on {accepted.when} ({accepted.how})"


def _refuse_altered(tag: str, document: Mapping[str, Any]) -> None:
    """A plan goes by its number, which is made of all that it says."""
    if number_of(dict(document)) != document.get("number"):
        raise RecordError(
            f"job {tag}: plan {document.get('number')} is not what its number says; it was altered "
            "after it was made, make it anew"
        )
