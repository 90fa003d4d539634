"""Numbers as people type them: a decimal point or a decimal comma, thousands apart by blanks.

The one rule for every number and every amount of money that is typed.
"""

import re
from typing import Final

from needlewright.errors import UnitError

COMMA: Final = re.compile(r"([+-]?)(\d*),(\d+)(?![\d.,])([^,]*)", re.S)
"""A number with one comma: its sign, what stands before the comma and behind it, and the rest."""
_GROUPS: Final = re.compile(r"\s*[+\-\u2212]?[1-9]\d{0,2}(?:[ \u00a0\u2009\u202f]\d{3})+(?! ?\d)")
_BLANKS: Final = str.maketrans("", "", " \u00a0\u2009\u202f")
"""Between thousands, as this program writes them and as they are typed."""
GROUP: Final = 3
"""Digits between the commas of a number written in thousands."""


def pointed(typed: str) -> str:
    """A number with a point where it was typed with a decimal comma, and no blanks in it.

    Parameters
    ----------
    typed
        As typed, on one line; what stands behind the number is left as it is.

    Returns
    -------
    str
        The same where it has no comma and no groups of three, or no digit.

    Raises
    ------
    UnitError
        If its commas can be read in two ways: `1,250` is 1.25 or 1250.
    """
    if (grouped := _GROUPS.match(typed)) is not None:
        typed = grouped[0].translate(_BLANKS) + typed[grouped.end() :]
    if "," not in typed or not any(map(str.isdigit, typed)):
        return typed
    found = COMMA.fullmatch(typed)
    if found is None:
        raise UnitError(
            f"the commas of '{typed}' can be read in two ways; "
            "write the number with one point and no comma"
        )
    sign, before, behind, rest = found.groups()
    # a whole part of 1 to 3 digits that starts with no 0, and a group behind it: thousands, perhaps
    if len(behind) == GROUP and 0 < len(before) <= GROUP and not before.startswith("0"):
        point = f"{sign}{before}.{behind.rstrip('0') or '0'}"
        raise UnitError(f"{typed} can be read in two ways; write {sign}{before}{behind} or {point}")
    return f"{sign}{before}.{behind}{rest}"
