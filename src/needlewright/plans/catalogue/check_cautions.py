"""What must be said with a check: it is made with power on, and often while the board lies open."""

from typing import Final

from needlewright.plans.catalogue.file_tables import CatalogueTables, CheckTable

POWERED: Final = ("supply",)
"""Kinds of caution wherever a cluster is under power (common practice, no source)."""
POWERED_OPEN: Final = ("supply", "high_voltage")
"""And where what is under power can be touched (common practice, no source)."""


def check_cautions(tables: CatalogueTables, check: str | CheckTable) -> tuple[str, ...]:
    """Kinds of caution a check needs.

    Parameters
    ----------
    tables
        Of the catalogue it stands in.
    check
        As written; one of words alone is made with power on and everything closed.

    Returns
    -------
    tuple of str
        What power asks for, unless the check says that it is made without; then those of the way
        into the level that still stands open; then its own. Each once.
    """
    if isinstance(check, str):
        return POWERED
    at = None if check.at is None else tables.level[check.at]
    power = () if not check.powered else POWERED if at is None else POWERED_OPEN
    bare = () if at is None else at.way_in.cautions
    return tuple(dict.fromkeys((*power, *bare, *check.cautions)))
