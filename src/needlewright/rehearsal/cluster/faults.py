"""Faults put on a rehearsed cluster, in the words of the one vocabulary: `speed:backlash=1.5`."""

from collections.abc import Iterable
from dataclasses import dataclass, fields, replace
from math import isfinite
from typing import Final

from needlewright.errors import ScaleError, UsageError
from needlewright.families.model import Dial, Family
from needlewright.rehearsal.movement.faults import SOUND, MovementFaults
from needlewright.rehearsal.movement.figures import DRIVER, STEPPER, DriverFigures
from needlewright.rehearsal.movement.injected import fault_of

UNITS: Final = {
    "sound": "",
    "needle_offset": "deg",
    "scale_factor": "ratio",
    "lost_steps": "cycle",
    "backlash": "deg",
    "dragging": "deg",
    "stalled": "deg",
    "blocked": "deg",
    "wrong_face": "deg",
    "erratic": "deg",
    "cold_stall": "degC",
}
"""Faults of a dial and the unit of their size; the rest of the vocabulary is not a dial's."""
LAMP_UNITS: Final = {"lamp_out": "", "lamp_dim": "ratio", "tell_tale_dead": ""}
"""Faults of a lamp or a tell-tale, and the unit of their size: what is left of its light."""
BEGINNING: Final = frozenset({"lost_steps", "dragging"})
"""Faults that may begin somewhere on the way up."""
SLOWER_DEG_S: Final = ((2, 60.0), (1000, 25.0))
"""Up to so many lost cycles, and how fast their dial's firmware turns then: out of step, a faster
rotor loses many cycles before its field catches it again."""
DRAGGING_DEG_S: Final = 60.0
"""How fast the firmware of a dragging dial turns: faster, much of the friction it can drag against
would make it slip instead."""
NOT_NEGATIVE: Final = frozenset({"backlash", "dragging", "wrong_face", "erratic"})
STANDING: Final = frozenset({"stalled", "blocked"})
"""Their size is the angle where the needle stands."""
_FORM: Final = (
    "expected DIAL:FAULT=SIZE[@VALUE], like speed:backlash=1.5 or fuel:dragging=2@0.5, or "
    "LAMP:lamp_out"
)


@dataclass(frozen=True, slots=True)
class Injected:
    """One fault on one dial, or on one lamp."""

    dial: str
    """Id of the dial, or of the lamp or tell-tale."""
    code: str
    size: float | None
    """As the vocabulary says, in `UNITS`; None for `sound`."""
    begins: float | None = None
    """Where it begins on the way up, dial's unit; None: everywhere."""

    @property
    def text(self) -> str:
        """As it was asked for."""
        size = "" if self.size is None else f"={self.size:g}"
        return f"{self.dial}:{self.code}{size}" + (
            "" if self.begins is None else f"@{self.begins:g}"
        )


def parse_fault(text: str, family: Family) -> Injected:
    """Understand `DIAL:FAULT=SIZE[@VALUE]`.

    Parameters
    ----------
    text
        As typed; `DIAL:sound` has no size.
    family
        The cluster design.

    Returns
    -------
    Injected
        Checked against the family; whether a movement can have it is seen when it is built in.

    Raises
    ------
    UsageError
        If it is not of that form, or names what the family or the vocabulary does not have.
    """
    name, colon, said = (part.strip() for part in text.partition(":"))
    code, equals, numbers = (part.strip() for part in said.partition("="))
    if not (name and colon and code):
        raise UsageError(f"--fault {text}: {_FORM}")
    if code in LAMP_UNITS and family.dial(name) is None:
        return _lamp_fault(text, family, name, code, numbers if equals else None)
    dial = family.dial(name)
    if dial is None:
        known = ", ".join(d.id for d in family.dials)
        raise UsageError(f"--fault {text}: there is no dial '{name}' in '{family.name}': {known}")
    if code not in UNITS:
        raise UsageError(
            f"--fault {text}: '{code}' is no fault of a dial; use one of {', '.join(UNITS)}"
        )
    if code == "sound":
        if equals:
            raise UsageError(f"--fault {text}: a sound dial has no size; leave it out")
        return Injected(name, code, None)
    size_text, at, begins_text = (part.strip() for part in numbers.partition("@"))
    size = _number(text, size_text)
    begins = _number(text, begins_text) if at else None
    fault = Injected(name, code, size, begins)
    _refuse_size(fault, dial)
    return fault


def _lamp_fault(text: str, family: Family, name: str, code: str, numbers: str | None) -> Injected:
    """A fault of a lamp; which list it must stand in is in the word itself."""
    lamps = family.tell_tales if code == "tell_tale_dead" else family.lamps
    if all(lamp.id != name for lamp in lamps):
        what = "tell-tale" if code == "tell_tale_dead" else "lamp"
        known = ", ".join(lamp.id for lamp in lamps) or "none is stated"
        raise UsageError(f"--fault {text}: there is no {what} '{name}' in '{family.name}': {known}")
    if code != "lamp_dim":
        if numbers is not None:
            raise UsageError(f"--fault {text}: '{code}' has no size; leave it out")
        return Injected(name, code, None)
    size = _number(text, numbers or "")
    if not 0.0 < size < 1.0:
        raise UsageError(f"--fault {text}: what is left of a dim lamp's light is between 0 and 1")
    return Injected(name, code, size)


def _number(text: str, said: str) -> float:
    try:
        value = float(said)
    except ValueError:
        value = float("nan")
    if not isfinite(value):
        raise UsageError(f"--fault {text}: '{said}' is no number; {_FORM}")
    return value


def _refuse_size(fault: Injected, dial: Dial) -> None:
    """What the vocabulary rules out, whatever the movement."""
    size, where = fault.size or 0.0, f"--fault {fault.text}"
    if fault.code in NOT_NEGATIVE and size <= 0:
        raise UsageError(f"{where}: the size of '{fault.code}' is above 0 {UNITS[fault.code]}")
    if fault.code == "scale_factor" and not 0.1 <= size <= 10:
        raise UsageError(f"{where}: a ratio of shown to programmed is between 0.1 and 10")
    if fault.code == "lost_steps" and (size != round(size) or size * dial.scale.sense >= 0):
        way = "below" if dial.scale.sense > 0 else "above"
        raise UsageError(
            f"{where}: a movement that slips on the way up of dial '{dial.id}' falls back, by a "
            f"whole number of cycles {way} 0 (positive is clockwise)"
        )
    travel = abs(dial.scale.angles_deg[-1] - dial.scale.angles_deg[0])
    if UNITS[fault.code] == "deg" and fault.code not in STANDING and abs(size) > travel:
        raise UsageError(
            f"{where}: {size:g} deg is more than the {travel:g} deg from the first mark to the "
            f"last of dial '{dial.id}'; give a smaller size"
        )
    if fault.begins is None:
        return
    if fault.code not in BEGINNING:
        raise UsageError(
            f"{where}: '{fault.code}' is everywhere; @VALUE goes with lost_steps, dragging"
        )
    if not dial.scale.values[0] <= fault.begins <= dial.scale.values[-1]:
        raise UsageError(
            f"{where}: it cannot begin at {fault.begins:g} {dial.unit}; the marks run from "
            f"{dial.scale.values[0]:g} to {dial.scale.values[-1]:g}"
        )


@dataclass(frozen=True, slots=True)
class DialFaults:
    """What is wrong with one dial, sorted by what has it. Angles positive clockwise."""

    offset_deg: float = 0.0
    """How far the needle sits turned on its shaft."""
    factor: float = 1.0
    """Of the value the firmware takes the signal for."""
    shape_deg: float = 0.0
    """Largest difference of the programme's shape from the face's."""
    scatter_deg: float = 0.0
    """Standard deviation of where a command puts the needle."""
    stands_deg: float | None = None
    """Angle on the face where a dead needle stands."""
    movement: MovementFaults = SOUND
    driver: DriverFigures = DRIVER
    """The dial's firmware."""


def faults_of(dial: Dial, injected: Iterable[Injected]) -> DialFaults:
    """Build the faults of a dial in.

    Parameters
    ----------
    dial
        The dial.
    injected
        Faults of all dials; those of others are passed over.

    Returns
    -------
    DialFaults
        All of the dial's together.

    Raises
    ------
    UsageError
        If the movement cannot have one, or two of them contradict each other.
    """
    faults = DialFaults()
    for fault in injected:
        if fault.dial == dial.id and fault.size is not None and fault.code in UNITS:
            faults = _with(faults, dial, fault, fault.size)
    return faults


def _with(faults: DialFaults, dial: Dial, fault: Injected, size: float) -> DialFaults:
    match fault.code:
        case "needle_offset":
            return replace(faults, offset_deg=faults.offset_deg + size)
        case "scale_factor":
            return replace(faults, factor=faults.factor * size)
        case "wrong_face":
            return replace(faults, shape_deg=faults.shape_deg + size)
        case "erratic":
            return replace(faults, scatter_deg=size)
    driver = faults.driver
    if fault.code == "lost_steps":
        rate = next(rate for most, rate in SLOWER_DEG_S if abs(size) <= most)
        driver = replace(driver, rate_deg_s=rate)
    if fault.code == "dragging":
        driver = replace(driver, rate_deg_s=min(driver.rate_deg_s, DRAGGING_DEG_S))
    inside = _inside(dial, fault, size, driver)
    movement = faults.movement
    for field in fields(MovementFaults):
        new, sound = getattr(inside, field.name), getattr(SOUND, field.name)
        if new == sound:
            continue
        if getattr(movement, field.name) != sound:
            raise UsageError(
                f"--fault {fault.text}: dial '{dial.id}' has a fault already that goes against "
                "it; rehearse one at a time"
            )
        movement = replace(movement, **{field.name: new})
    stands = size if fault.code == "stalled" else faults.stands_deg
    return replace(faults, movement=movement, stands_deg=stands, driver=driver)


def _inside(dial: Dial, fault: Injected, size: float, driver: DriverFigures) -> MovementFaults:
    motor = dial.movement
    figures = replace(STEPPER, cycle_deg=motor.cycle_deg, coil_axes_deg=motor.coil_axes_deg)
    sense = dial.scale.sense
    if fault.code in ("stalled", "blocked"):
        size = sense * (size - dial.stop_angle_deg)
        if not -0.5 <= size <= figures.travel_deg:
            raise UsageError(
                f"--fault {fault.text}: the needle of dial '{dial.id}' turns from its stop at "
                f"{dial.stop_angle_deg:g} deg through {figures.travel_deg:g} deg; it cannot stand "
                "there"
            )
    begins_deg = 0.0 if fault.begins is None else _above_stop(dial, fault.begins)
    if fault.code == "lost_steps" and fault.begins is None:
        # somewhere on the way, so that the needle has come up to speed
        begins_deg = _above_stop(dial, (dial.scale.values[0] + dial.scale.values[-1]) / 2)
    try:
        return fault_of(
            fault.code,
            size,
            dial.movement.kind,
            begins_deg=begins_deg,
            figures=figures,
            driver=driver,
        )
    except UsageError as error:
        raise UsageError(f"--fault {fault.text}: {error}") from error


def _above_stop(dial: Dial, value: float) -> float:
    try:
        angle_deg = dial.programme_angle_deg(value)
    except ScaleError as error:
        raise UsageError(
            f"a fault of dial '{dial.id}' cannot begin at {value:g}: {error}"
        ) from error
    return dial.scale.sense * (angle_deg - dial.stop_angle_deg)
