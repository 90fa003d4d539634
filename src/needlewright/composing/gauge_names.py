"""Dials as sentences for people name them."""

from collections import Counter
from collections.abc import Mapping
from typing import TypeAlias

from needlewright.families.model import Dial, Family

GaugeNames: TypeAlias = Mapping[str, str]
"""Like `road speed gauge`, by the dial's id."""


def gauge_names(family: Family) -> GaugeNames:
    """Name every dial of a family.

    Parameters
    ----------
    family
        The cluster design.

    Returns
    -------
    Mapping
        By id; two dials of one quantity are told apart by their ids.
    """
    often = Counter(dial.quantity for dial in family.dials)
    return {
        dial.id: _gauge(dial) + (f" ({dial.id})" if often[dial.quantity] > 1 else "")
        for dial in family.dials
    }


def with_gauge(words: str, dial: str | None, names: GaugeNames) -> str:
    """A question or a remedy of the knowledge file with its dial put in."""
    return words.replace("{dial}", "the gauge" if dial is None else f"the {names[dial]}")


def _gauge(dial: Dial) -> str:
    return f"{dial.quantity.replace('_', ' ')} gauge"
