"""The one warranty of a shop as its burn-ins read it: of the job's plan, else of the catalogue."""

from typing import Final

from needlewright.composing.shop_catalogue import text_in_use
from needlewright.errors import PlanError
from needlewright.plans.burn_in.warranty import Warranty
from needlewright.plans.catalogue.load import CatalogueText, catalogue_text, parse_catalogue
from needlewright.records.opening import Shop
from needlewright.records.plans import plan_of_job

SHIPPED_SAID: Final = "the catalogue that comes with the program"
OWN_SAID: Final = "the shop's catalogue"
PLAN_SAID: Final = "plan "


def usual_warranty() -> Warranty:
    """What the catalogue that comes with the program has; for burn-ins of no shop."""
    return _of(catalogue_text(), SHIPPED_SAID)


def warranty_of_shop(shop: Shop) -> Warranty:
    """What a shop promises where nothing else is agreed.

    Parameters
    ----------
    shop
        The shop.

    Returns
    -------
    Warranty
        Of its catalogue, by which its plans go too.

    Raises
    ------
    PlanError
        If the catalogue cannot be read.
    """
    text = text_in_use(shop)
    is_shipped = text.sha256 == catalogue_text().sha256
    return _of(text, SHIPPED_SAID if is_shipped else OWN_SAID)


def warranty_of_job(shop: Shop, tag: str) -> Warranty:
    """What is promised for a job: as its plan has it, else as the shop does.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.

    Returns
    -------
    Warranty
        Naming the plan it is from.

    Raises
    ------
    NotThereError
        If there is no such job.
    PlanError
        If the catalogue cannot be read.
    """
    plan = plan_of_job(shop, tag)
    if plan is None:
        return warranty_of_shop(shop)
    months, km = plan.document["warranty_months"], plan.document["km_per_year"]
    try:
        return Warranty(float(months), float(km), f"{PLAN_SAID}{plan.number}")
    except PlanError:  # a plan of nothing driven, which its form lets through
        return warranty_of_shop(shop)


def is_of_plan(warranty: Warranty) -> bool:
    """Whether a warranty is the one a job's plan promises."""
    return warranty.said.startswith(PLAN_SAID)


def _of(text: CatalogueText, said: str) -> Warranty:
    ahead = parse_catalogue(text.name, text.content).horizon
    return Warranty(float(ahead.warranty_months), float(ahead.km_per_year), said)
