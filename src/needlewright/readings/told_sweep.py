"""What the dials were told while a sweep was filmed: a table of times and values, typed or logged.

Between two lines of a dial the command goes evenly from the one value to the other; before its
first and after its last line it stands. A jump is two lines close to each other.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.errors import ScaleError
from needlewright.families.model import Dial, Family
from needlewright.readings.complete import require_dial_unit
from needlewright.readings.typed_table import TypedRow, read_typed_table

FloatArray = NDArray[np.float64]

COLUMNS: Final = ("t_s", "dial", "commanded", "unit")
_LEAST_LINES: Final = 2


@dataclass(frozen=True, slots=True, eq=False)
class Told:
    """What one dial was told over time.

    Parameters
    ----------
    t_s
        Times on the clock of whoever told it, seconds, rising.
    angle_deg
        Where a sound needle stands at each, degrees clockwise from 12 o'clock.
    """

    t_s: FloatArray
    angle_deg: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class ToldSweep:
    """What the dials of a cluster were told in a sweep.

    Parameters
    ----------
    path
        The table it stands in.
    dials
        By dial id; dials that were told nothing are missing.
    """

    path: Path
    dials: Mapping[str, Told]

    @property
    def lasts_s(self) -> float:
        """Time from the first line to the last."""
        times = np.concatenate([told.t_s for told in self.dials.values()])
        return float(np.ptp(times))


def read_told_sweep(path: Path, family: Family) -> ToldSweep:
    """Read what the dials were told while a sweep was filmed.

    Parameters
    ----------
    path
        CSV with `t_s,dial,commanded,unit`: seconds on any clock, and what the dial was told from
        then on, in the dial's own unit; an empty `commanded` is the needle's rest.
    family
        The cluster design.

    Returns
    -------
    ToldSweep
        With at least two times for every dial that is named.

    Raises
    ------
    RunError
        If a line cannot be used, names a dial the family has not, a unit that is not the dial's or
        a value beyond its scale; if the times of a dial do not rise, or it has one only.
    """
    lines = read_typed_table(path, COLUMNS, numeric=("t_s", "commanded"), required=COLUMNS)
    by_dial: dict[str, list[tuple[TypedRow, float, float]]] = {}
    for line in lines:
        dial = _dial(line, family)
        at_s = line.number("t_s")
        if at_s is None:
            raise line.error("t_s", "type the time in seconds")
        by_dial.setdefault(dial.id, []).append((line, at_s, _angle_deg(line, dial)))
    return ToldSweep(path, {name: _told(name, some) for name, some in by_dial.items()})


def _dial(line: TypedRow, family: Family) -> Dial:
    name = line.required("dial", "type the dial's id as the family names it")
    dial = family.dial(name)
    if dial is None:
        known = ", ".join(one.id for one in family.dials)
        raise line.error("dial", f"family '{family.name}' has {known}")
    unit = line.required("unit", f"type {dial.unit}, the unit dial '{dial.id}' is scaled in")
    require_dial_unit(f"{line.path}: line {line.line}", unit, dial)
    return dial


def _angle_deg(line: TypedRow, dial: Dial) -> float:
    """Where a sound needle stands when told what a line says."""
    commanded = line.number("commanded")
    if commanded is None:
        return dial.rest_angle_deg
    try:
        return dial.programme_angle_deg(commanded)
    except ScaleError as error:
        raise line.error("commanded", f"{error}; type what the dial can show") from error


def _told(name: str, some: Sequence[tuple[TypedRow, float, float]]) -> Told:
    """The lines of one dial, its times rising."""
    before: float | None = None
    for line, at_s, _ in some:
        if before is not None and at_s <= before:
            raise line.error(
                "t_s",
                f"the line of dial '{name}' before it says {before:g}; the times of a dial must "
                "rise from line to line, a jump is two lines close to each other",
            )
        before = at_s
    if len(some) < _LEAST_LINES:
        raise some[0][0].error(
            "t_s", f"the only line of dial '{name}'; give at least two, where it begins and ends"
        )
    return Told(np.array([at_s for _, at_s, _ in some]), np.array([angle for _, _, angle in some]))
