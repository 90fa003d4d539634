"""What dials are told, as typed: `speed=80 fuel=0.5`."""

from math import isfinite
from typing import Final

from needlewright.cli.typed_numbers import number_typed
from needlewright.errors import BeyondDialError, UsageError
from needlewright.families.model import Dial, Family
from needlewright.signals.instruments import Instruments
from needlewright.signals.model import Command
from needlewright.signals.sharing import with_shared_frames
from needlewright.signals.wiring import signal_of

ITS_OWN_UNIT: Final = "nothing is converted silently"


def commands_told(
    texts: list[str], family: Family, bench: Instruments, *, beyond_dial: bool
) -> list[Command]:
    """What goes on the wires for every `DIAL=VALUE`.

    Parameters
    ----------
    texts
        Like `speed=80`, in the dial's unit.
    family
        The cluster design.
    bench
        The instruments that make the stimuli.
    beyond_dial
        Whether values past a dial's end marks are meant.

    Returns
    -------
    list of Command
        In the order given; dials of one frame share it.

    Raises
    ------
    UsageError
        If one cannot be understood, is not finite, or a dial is named twice.
    SignalError
        If a value must not, or cannot, be commanded.
    """
    commands = []
    for dial, value in parse_values(texts, family):
        signal = signal_of(family, dial.id)
        try:
            commands.append(signal.command(value, bench=bench, beyond_dial=beyond_dial))
        except BeyondDialError as error:
            raise BeyondDialError(
                f"{error}, or add --beyond-dial if it is meant to be there"
            ) from error
    return with_shared_frames(commands)


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
        If one cannot be understood, is not finite, or a dial is named twice.
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
        value = number_typed(said.removesuffix(dial.unit), text)
    except ValueError as error:
        raise UsageError(
            f"{text}: '{said}' is no number in {dial.unit}, the unit of dial '{dial.id}'; "
            f"{ITS_OWN_UNIT}"
        ) from error
    if not isfinite(value):
        raise UsageError(f"{text}: '{said}' is not finite; give a number in {dial.unit}")
    return value
