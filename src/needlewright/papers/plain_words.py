"""Words of the trade beside what they mean to somebody who only drives the vehicle."""

import re
from collections.abc import Iterable
from typing import Final

MEANINGS: Final[tuple[tuple[str, str, str], ...]] = (
    (r"movements?", "movement", "the small motor that turns a needle"),
    (r"drivers?", "driver", "the circuit that feeds a motor or a lamp"),
    (r"reflow", "reflow", "melt soldered contacts anew"),
    (r"joints?", "joint", "a soldered contact, which can crack with age"),
    (r"connector", "connector", "where the wiring of the vehicle plugs in"),
    (r"regulator", "regulator", "what makes a steady supply for the instruments"),
    (r"tell-tales?", "tell-tale", "a sign that lights up"),
    (r"backlight", "backlight", "what lights the instruments at night"),
    (r"feed", "feed", "the parts that supply the display"),
    (r"stop", "stop", "the pin at which a needle ends"),
    (r"face", "face", "the printed dial under the needle"),
    (r"programme", "programme", "the stored setting that makes a reading of a signal"),
    (r"constant", "constant", "how many pulses of a signal make a distance or a turn"),
    (r"vias", "vias", "contacts through the board"),
    (r"coating", "coating", "the lacquer over the board"),
)
"""How a word is known in a sentence, the word, what it means; common practice, no source."""
_KNOWN: Final = tuple(
    (re.compile(rf"(?<![\w-]){pattern}(?![\w-])", re.IGNORECASE), word, meaning)
    for pattern, word, meaning in MEANINGS
)


def plain_beside(lines: Iterable[str]) -> tuple[tuple[str, ...], ...]:
    """What the words of the trade in some lines mean.

    Parameters
    ----------
    lines
        In the order they are read.

    Returns
    -------
    tuple of tuple of str
        For every line, such as `movement: the small motor that turns a needle`; each word with the
        first line that has it.
    """
    said: set[str] = set()
    beside = []
    for line in lines:
        new = [(word, is_what) for sign, word, is_what in _KNOWN if sign.search(line)]
        beside.append(tuple(f"{word}: {is_what}" for word, is_what in new if word not in said))
        said.update(word for word, _ in new)
    return tuple(beside)
