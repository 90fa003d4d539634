"""What dials are told, as typed: `speed=80 fuel=0.5`."""

from math import isfinite
from typing import Final

from needlewright.errors import SignalError, UsageError
from needlewright.families.model import Dial, Family

ITS_OWN_UNIT: Final = "nothing is converted silently"


def parse_values(texts: list[str], family: Family) -> list[tuple[Dial, float]]:
    """Understand every `DIAL=VALUE`, each dial once.

    Parameters
    ----------
    texts
        Like `speed=80`, in the dial's unit.
    family
        The cluster design.

    Returns
    -------
    list
        Dial and value, in the order given.

    Raises
    ------
    UsageError
        If one cannot be understood, or a dial is named twice.
    SignalError
        If a value is not finite.
    """
    return [
        (dial, _number(text, said, dial)) for text, dial, said in parse_assignments(texts, family)
    ]


def parse_assignments(texts: list[str], family: Family) -> list[tuple[str, Dial, str]]:
    """Understand the dials of `DIAL=SOMETHING`, each once.

    Parameters
    ----------
    texts
        As typed.
    family
        The cluster design.

    Returns
    -------
    list
        The text, its dial, and what follows the sign, in the order given.

    Raises
    ------
    UsageError
        If one cannot be understood, or a dial is named twice.
    """
    told: dict[str, tuple[str, Dial, str]] = {}
    for text in texts:
        name, mark, said = (part.strip() for part in text.partition("="))
        if not (name and mark and said):
            raise UsageError(f"'{text}': expected a dial and a value, like speed=80")
        dial = family.dial(name)
        if dial is None:
            known = ", ".join(d.id for d in family.dials)
            raise UsageError(f"{text}: there is no dial '{name}' in '{family.name}': {known}")
        if name in told:
            raise UsageError(f"{text}: dial '{name}' is named twice; one wire has one stimulus")
        told[name] = (text, dial, said)
    return list(told.values())


def _number(text: str, said: str, dial: Dial) -> float:
    try:
        value = float(said.removesuffix(dial.unit).strip())
    except ValueError as error:
        raise UsageError(
            f"{text}: '{said}' is no number in {dial.unit}, the unit of dial '{dial.id}'; "
            f"{ITS_OWN_UNIT}"
        ) from error
    if not isfinite(value):
        raise SignalError(f"{text}: '{said}' is not finite; give a number in {dial.unit}")
    return value
