"""Which gauges a complaint names in an owner's own words: what to ask first, and no evidence."""

import re
from typing import Final

from needlewright.composing.gauge_names import GaugeNames
from needlewright.families.model import Dial, Family

_CALLED: Final[tuple[tuple[str, str], ...]] = (
    (r"road speed|vehicle speed", r"speedo|speedometer|speed gauge|road speed"),
    (r"engine speed", r"rev counter|revs|rev gauge|rev needle|tacho|tachometer|engine speed|rpm"),
    (r"fuel", r"fuel|petrol gauge|gas gauge"),
    (r"coolant|water", r"coolant|water temperature|temperature|temp"),
    (r"temperature", r"temperature|temp"),
    (r"oil pressure", r"oil pressure|oil gauge|oil needle"),
    (r"voltage", r"volt|voltage|volts|voltmeter|battery gauge|volt gauge"),
)
"""How the quantity of a gauge is stated, and what people call the gauge."""
_GAUGES: Final = r"(?: of)?(?: the)? (?:needles?|gauges?|dials?)\b"
_ALL: Final = re.compile(
    rf"\b(?:(?:all|every){_GAUGES}|(?:no|none){_GAUGES} (?:works?|moves?|responds?)\b)"
    r"(?!.*\b(?:but|except|apart from|besides|only)\b)"
)
"""With an exception, the words name what is named singly."""
_WHEN: Final = re.compile(
    r"\b(?:at|above|over|below|under|past|from)"
    r"(?: (?:about|high|higher|low|lower|any|all|some|certain|idle|cold|the|a|\d[\d., ]*))*"
    r" (?:revs?|rpm|engine speed|road speed|vehicle speed|(?:outside )?temp(?:erature)?s?)\b"
    r"(?! (?:counter|gauge|needle|dial|meter))"
)
"""When it happens: `at high revs` is no complaint of the rev counter."""


def gauges_named(complaint: str, family: Family) -> tuple[str, ...]:
    """Find the gauges of a family that a complaint names.

    Parameters
    ----------
    complaint
        In the owner's own words; nothing else is read out of them.
    family
        With its dials.

    Returns
    -------
    tuple of str
        Ids, in the family's order; every one where the words say all of them and name no
        exception.
    """
    said = " ".join(complaint.lower().split())
    if _ALL.search(said):
        return tuple(dial.id for dial in family.dials)
    said = _WHEN.sub(" ", said)
    return tuple(dial.id for dial in family.dials if _is_named(dial, said))


def named_words(dials: tuple[str, ...], names: GaugeNames) -> str:
    """Gauges as a sentence lists them: `the fuel level gauge and the road speed gauge`."""
    said = [f"the {names[dial]}" for dial in dials]
    return " and ".join([", ".join(said[:-1]), said[-1]] if len(said) > 1 else said)


def _is_named(dial: Dial, said: str) -> bool:
    quantity = dial.quantity.lower().replace("_", " ")
    called = [people for stated, people in _CALLED if re.search(stated, quantity)]
    called += [re.escape(quantity), rf"{re.escape(dial.id.lower())} (?:gauge|needle|dial)"]
    return re.search(rf"\b(?:{'|'.join(called)})\b", said) is not None
