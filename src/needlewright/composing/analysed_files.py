"""Photos of lamps, and a log of the vehicle with photos of its dashboard, as evidence for a job."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Literal

from needlewright.composing.in_vehicle import check_in_vehicle, in_vehicle_evidence, moments_of
from needlewright.composing.lamp_photos import LampShot, lamp_shots
from needlewright.composing.light_measuring import Wish
from needlewright.composing.lights import check_lights, kept_healthy
from needlewright.errors import NeedlewrightError, PictureError, UnitError, UsageError
from needlewright.families.model import Family
from needlewright.findings.evidence import Evidence
from needlewright.plans.decimal_comma import pointed
from needlewright.readings.batch import PictureProblem, read_photos
from needlewright.signals.port_log.reading import read_port_log

LAMPS: Final = "photos of its lamps"
VEHICLE: Final = "the log of its vehicle"
"""What the analyses are called in a job; one of the same name takes the place of the one before."""
Told = Callable[[int, int], None]
"""How many steps are done, of how many."""


@dataclass(frozen=True, slots=True)
class Analysing:
    """Files that are to be looked at.

    Parameters
    ----------
    kind
        `lamps`: photos of the lit face on a dark bench; `vehicle`: photos of the dashboard beside
        a log of the diagnostic port.
    photos
        Files.
    lit
        Of lamps: groups that are on; none: as the files' names say, else the backlight.
    log
        Of the vehicle: its file.
    at
        Of the vehicle: when the first photo was taken; None: as the camera says.
    steady_s
        Of the vehicle: the last seconds of the log over which nothing changed; None: not said.
    """

    kind: Literal["lamps", "vehicle"]
    photos: tuple[Path, ...]
    lit: tuple[str, ...] = ()
    log: Path | None = None
    at: str | None = None
    steady_s: float | None = None

    @property
    def name(self) -> str:
        """What it is called in a job."""
        return LAMPS if self.kind == "lamps" else VEHICLE


def analyse(family: Family, wanted: Analysing, told: Told) -> tuple[Evidence, ...]:
    """Look at files, and say what they speak for and against.

    Parameters
    ----------
    family
        The cluster design.
    wanted
        The files.
    told
        Called as it goes on.

    Returns
    -------
    tuple of Evidence
        One piece or more.

    Raises
    ------
    PictureError, SignalError, UsageError
        If a file cannot be used, or nothing in them says anything of a cause.
    """
    if not wanted.photos:
        raise UsageError("no photo was chosen; choose one or more")
    look = _lamps if wanted.kind == "lamps" else _vehicle
    found = look(family, wanted, told)
    if not found:
        raise UsageError(
            "nothing in these files says anything of a cause; "
            + (
                "photograph the whole lit face on a dark bench, sharp and not blown out"
                if wanted.kind == "lamps"
                else "take another photo, at another steady value, with the log running"
            )
        )
    return found


def _lamps(family: Family, wanted: Analysing, told: Told) -> tuple[Evidence, ...]:
    told(0, 1)
    shots: Sequence[LampShot] = lamp_shots(family, wanted.photos, wanted.lit)
    report = check_lights(family, shots, kept_healthy(family), Wish())
    told(1, 1)
    return report.evidence


def _vehicle(family: Family, wanted: Analysing, told: Told) -> tuple[Evidence, ...]:
    if wanted.log is None:
        raise UsageError("no log was chosen; choose the log of the diagnostic port")
    photos = [str(one) for one in wanted.photos]
    told(0, len(photos))
    log = read_port_log(wanted.log)
    moments = moments_of(log, photos, at=wanted.at, steady_s=wanted.steady_s)
    outcomes = read_photos(family, photos, told, workers=1)
    problems = [one.reason for one in outcomes if isinstance(one, PictureProblem)]
    if len(problems) == len(outcomes):
        raise PictureError("; ".join(problems))
    check = check_in_vehicle(family, log, moments, outcomes, steady_s=wanted.steady_s)
    found = in_vehicle_evidence(check)
    if not found:
        why = "; ".join(f"{dial.dial}: {dial.words}" for dial in check.dials)
        raise UsageError(f"no dial could be compared ({why})")
    return found


def seconds_typed(text: str) -> float | None:
    """Seconds as typed into a form; empty is None; raises UsageError if they are none."""
    if not text.strip():
        return None
    try:
        seconds = float(pointed(text.strip()))
    except UnitError as error:
        raise UsageError(f"seconds: {error}") from None
    except ValueError:
        seconds = float("nan")
    if not 0 < seconds < 1e6:
        raise UsageError(f"'{text.strip()}' are no seconds above 0; type a number such as 10")
    return seconds


def problem_words(error: NeedlewrightError, names: dict[Path, str]) -> str:
    """An error with the files called as the person who sent them calls them."""
    said = str(error)
    for path, name in names.items():
        said = said.replace(str(path), name).replace(path.name, name)
    return said
