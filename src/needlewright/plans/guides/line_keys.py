"""Names for lines of a sheet that stay the same as long as what they say does."""

import re
from hashlib import sha256
from typing import Final

LONGEST: Final = 48
"""Letters of the words in a key."""
DIGITS: Final = 6
_APART: Final = re.compile(r"[^a-z0-9]+")


def line_key(kind: str, words: str) -> str:
    """Name a line by its words, so that it can be found again on another day's sheet.

    Parameters
    ----------
    kind
        Of the line, such as `step` or `tool`.
    words
        As they are written, before anything of a job is put in.

    Returns
    -------
    str
        Such as `tool:cotton-gloves-clean-cloth-1f4a09`: read by people, told apart by its last
        digits where only the end of the words differs.
    """
    plain = _APART.sub("-", words.lower()).strip("-")[:LONGEST].strip("-")
    digits = sha256(words.encode("utf-8")).hexdigest()[:DIGITS]
    return f"{kind}:{plain}-{digits}" if plain else f"{kind}:{digits}"
