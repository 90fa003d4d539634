"""The shop's own catalogue of operations: checked when set, used by every plan of the shop."""

from pathlib import Path

from needlewright.composing.job_for_plan import known_variant
from needlewright.families.model import Family
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.plans.catalogue.load import (
    CatalogueText,
    catalogue_text,
    check_catalogue,
    load_catalogue,
)
from needlewright.plans.catalogue.model import Catalogue
from needlewright.records.catalogues import own_catalogue, set_catalogue
from needlewright.records.opening import Shop
from needlewright.records.views import CatalogueView, JobSheet


def take_catalogue(shop: Shop, path: Path, by: str | None = None) -> CatalogueView:
    """Set a file as the shop's catalogue.

    Parameters
    ----------
    shop
        The shop.
    path
        TOML; kept whole, comments and all.
    by
        Who sets it.

    Returns
    -------
    CatalogueView
        As kept.

    Raises
    ------
    PlanError
        If it cannot be read, or what it says does not fit together; nothing is changed then.
    RecordError
        If it cannot be stored.
    """
    text = catalogue_text(path)
    check_catalogue(text, load_knowledge(None))
    return set_catalogue(shop, path.name, text.content, by)


def text_in_use(shop: Shop) -> CatalogueText:
    """The text every plan of a shop is made with: its own, else what comes with the program."""
    own = own_catalogue(shop)
    if own is None:
        return catalogue_text()
    view, content = own
    return CatalogueText(view.name, content)


def catalogue_for(shop: Shop, job: JobSheet, family: Family) -> Catalogue:
    """The catalogue a job's plan is made with, and so the terms it has where nothing else is said.

    Parameters
    ----------
    shop
        The shop.
    job
        Of the shop.
    family
        In the version the job goes by.

    Returns
    -------
    Catalogue
        With what the family adds.

    Raises
    ------
    PlanError
        If catalogue and family do not fit together.
    RecordError
        If the shop's own is damaged or gone.
    """
    known = load_knowledge(None)
    return load_catalogue(known, family, text_in_use(shop), known_variant(job, family))
