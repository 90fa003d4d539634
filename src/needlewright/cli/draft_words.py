"""What is typed for a draft, as words of a command line."""

import re
from collections.abc import Sequence
from typing import Final

from needlewright.errors import UsageError
from needlewright.readings.drafting.inputs import KnownLength, Point, TypedDial, TypedMark

DIAL_FORM: Final = "ID@X,Y:VALUE@X,Y:VALUE@X,Y:UNIT, e.g. speed@410,560:0@280,640:180@540,640:km/h"
NUMBER: Final = r"[-+]?(?:\d+\.?\d*|\.\d+)"
AT: Final = re.compile(rf"^({NUMBER}),({NUMBER})$")
MEASURES: Final = ("length", "tail", "base_width", "tip_width", "hub_radius", "height", "thickness")


def parse_dial(text: str) -> TypedDial:
    """Read a dial's clicks, values and unit.

    Parameters
    ----------
    text
        As `DIAL_FORM` says; more marks may stand between, and the quantity in words at the end.

    Returns
    -------
    TypedDial
        Not checked further.

    Raises
    ------
    UsageError
        One sentence on the part that is wrong.
    """
    head, *parts = text.split(":")
    if "@" not in head or len(parts) < 2:
        raise UsageError(f"--dial {text}: expected {DIAL_FORM}")
    name, _, hub = head.partition("@")
    if not re.fullmatch(r"[^\s,;=/\\:@]+", name):
        raise UsageError(
            f"--dial {text}: expected an id without blanks and , ; = / before the first @, found "
            f"'{name}'"
        )
    marks = []
    while parts and "@" in parts[0]:
        value, _, at = parts.pop(0).partition("@")
        if not re.fullmatch(NUMBER, value.strip()):
            raise UsageError(
                f"--dial {text}: expected the number that is printed at a mark before its @, "
                f"found '{value}'"
            )
        marks.append(TypedMark(_point("--dial", text, at), float(value)))
    if not parts or len(parts) > 2:
        raise UsageError(f"--dial {text}: expected the unit after the marks; {DIAL_FORM}")
    quantity = parts[1].strip() if len(parts) == 2 else None
    hub_px = _point("--dial", text, hub)
    return TypedDial(name, hub_px, tuple(marks), parts[0].strip(), quantity or None)


def parse_known(text: str) -> KnownLength:
    """Read `175.8:engine:speed` or `175.8:120,300:980,304`.

    Parameters
    ----------
    text
        Millimetres, and the two ends: dials' ids or pixels.

    Returns
    -------
    KnownLength
        Not checked further.

    Raises
    ------
    UsageError
        One sentence on the part that is wrong.
    """
    parts = text.split(":")
    form = "MM:DIAL:DIAL or MM:X,Y:X,Y, e.g. 175.8:engine:speed"
    if len(parts) != 3:
        raise UsageError(f"--known-mm {text}: expected {form}")
    if not re.fullmatch(NUMBER, parts[0]) or float(parts[0]) <= 0:
        raise UsageError(f"--known-mm {text}: expected millimetres above 0, found '{parts[0]}'")
    first, second = (_end(text, part) for part in parts[1:])
    return KnownLength(float(parts[0]), (first, second))


def _end(text: str, part: str) -> Point | str:
    return _point("--known-mm", text, part) if "," in part else part


def parse_pair(option: str, text: str) -> tuple[Point, Point]:
    """Read two pixels, `X,Y:X,Y`.

    Parameters
    ----------
    option
        Its name, for sentences.
    text
        What was typed.

    Returns
    -------
    tuple
        Two points.

    Raises
    ------
    UsageError
        If it is no such pair.
    """
    parts = text.split(":")
    if len(parts) != 2:
        raise UsageError(f"{option} {text}: expected two places X,Y:X,Y in pixels of the picture")
    return _point(option, text, parts[0]), _point(option, text, parts[1])


def parse_rests(texts: Sequence[str]) -> dict[str, tuple[float, bool]]:
    """Read `speed=-126.2` or `speed=-126.2,pin` for each dial.

    Parameters
    ----------
    texts
        As typed.

    Returns
    -------
    dict
        Dial to its rest angle, and whether the needle meets a pin on the face there.

    Raises
    ------
    UsageError
        One sentence on the one that is wrong.
    """
    rests = {}
    for text in texts:
        found = re.fullmatch(rf"([^=]+)=({NUMBER})(,pin)?", text)
        if found is None:
            raise UsageError(
                f"--rest {text}: expected DIAL=DEGREES or DIAL=DEGREES,pin, e.g. speed=-126.2,pin"
            )
        rests[found[1]] = (float(found[2]), found[3] is not None)
    return rests


def parse_needles(texts: Sequence[str]) -> dict[str, dict[str, float]]:
    """Read `speed:length=36.5` for each measure that was taken by hand.

    Parameters
    ----------
    texts
        As typed.

    Returns
    -------
    dict
        Dial to measures, by the names of `families.model.Needle`.

    Raises
    ------
    UsageError
        One sentence on the one that is wrong.
    """
    needles: dict[str, dict[str, float]] = {}
    for text in texts:
        found = re.fullmatch(rf"([^:=]+):(\w+)=({NUMBER})", text)
        if found is None or found[2] not in MEASURES or float(found[3]) <= 0:
            raise UsageError(
                f"--needle {text}: expected DIAL:MEASURE=MM above 0 with one of "
                f"{', '.join(MEASURES)}, e.g. speed:length=36.5"
            )
        needles.setdefault(found[1], {})[f"{found[2]}_mm"] = float(found[3])
    return needles


def _point(option: str, text: str, part: str) -> Point:
    found = AT.match(part.strip())
    if found is None:
        raise UsageError(
            f"{option} {text}: expected a place X,Y in pixels of the picture, found '{part}'"
        )
    return float(found[1]), float(found[2])
