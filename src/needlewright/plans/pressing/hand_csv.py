"""A shop's pressed needles as a table: what turn was intended, and what came of it."""

from pathlib import Path
from typing import Final

from needlewright.families.model import Family
from needlewright.plans.pressing.hand import PressedNeedle, tip_deg
from needlewright.readings.typed_table import TypedRow, read_typed_table

COLUMNS: Final = ("dial", "intended_deg", "achieved_deg", "tip_deg")
_TURN: Final = "the turn in degrees, positive clockwise, is expected"


def read_pressed(path: Path, family: Family) -> tuple[PressedNeedle, ...]:
    """Read how needles were set.

    Parameters
    ----------
    path
        CSV with the columns `dial,intended_deg,achieved_deg`, and `tip_deg` (width of the tip as
        an angle) for needles of another family.
    family
        Whose dials tell the width of a tip that is not typed.

    Returns
    -------
    tuple of PressedNeedle
        In file order.

    Raises
    ------
    RunError
        If the table cannot be read or a row cannot be used.
    """
    rows = read_typed_table(path, COLUMNS, COLUMNS[1:], COLUMNS[:3])
    return tuple(_pressed(row, family) for row in rows)


def _pressed(row: TypedRow, family: Family) -> PressedNeedle:
    name = row.required("dial", "the dial's id is expected")
    row.required("intended_deg", _TURN)
    row.required("achieved_deg", _TURN)
    tip = row.number("tip_deg")
    if tip is not None and tip <= 0:
        raise row.error("tip_deg", "a width above 0 is expected")
    dial = family.dial(name)
    if tip is None and dial is None:
        known = ", ".join(one.id for one in family.dials)
        raise row.error("dial", f"family '{family.name}' has {known}; type tip_deg for another's")
    width = tip if tip is not None else tip_deg(dial) if dial is not None else 0.0
    return PressedNeedle(
        name, row.number("intended_deg") or 0.0, row.number("achieved_deg") or 0.0, width
    )
