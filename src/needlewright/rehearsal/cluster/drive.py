"""A check in the vehicle to rehearse: a simulated cluster is driven, its port logged, photos taken.

The control unit answers what it tells the cluster, as in a vehicle. Everything is marked as
rehearsed: the log by a column, the photos in their EXIF description.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from io import BytesIO
from pathlib import Path
from typing import Final

import numpy as np
from PIL import ExifTags, Image

from needlewright.errors import UsageError
from needlewright.families.model import Dial
from needlewright.rehearsal.cluster.camera import Picture
from needlewright.rehearsal.cluster.rehearsal import Rehearsal
from needlewright.signals.obd import ANSWER, Pid
from needlewright.signals.port_log.dial_pid import pid_of
from needlewright.signals.wiring import signals_of
from needlewright.units import convert

BEGINS: Final = datetime.fromisoformat("2026-03-02T10:15:00+01:00")
"""An invented morning, the same every time."""
HOMING_S: Final = 5.0
STEP_S: Final = 0.5
"""How often the port answers and the cluster is told anew."""
RAMP_S: Final = 4.0
HOLD_S: Final = 8.0
SHOT_BEFORE_S: Final = 2.0
"""A photo is taken this long before a held value is left."""
LOWEST, HIGHEST = 0.2, 0.85
"""Shares of the scale that are driven."""
REHEARSED: Final = "rehearsed"
LOG, PHOTO = "port.csv", "dash-{}.jpg"
JPEG_QUALITY: Final = 93


@dataclass(frozen=True, slots=True)
class RehearsedDrive:
    """What a rehearsed check in the vehicle left, and what is true of it."""

    log: Path
    photos: tuple[Path, ...]
    told: tuple[Mapping[str, float], ...]
    """For each photo: dial to what it was told, in its unit."""
    angles_deg: tuple[Mapping[str, float], ...]
    """For each photo: where the needles stood."""


def rehearse_drive(
    rehearsal: Rehearsal, folder: Path, *, photos: int = 2, seed: int = 0
) -> RehearsedDrive:
    """Drive a simulated cluster through held values, photograph it at each, log its port.

    Parameters
    ----------
    rehearsal
        The cluster; its transport is open, its key off.
    folder
        Where log and photos go to.
    photos
        How many values are held, at least one.
    seed
        Of the values.

    Returns
    -------
    RehearsedDrive
        With the truth.

    Raises
    ------
    UsageError
        If the port has a number for none of the family's dials.
    """
    asked = [(dial, pid) for dial in rehearsal.family.dials if (pid := pid_of(dial)) is not None]
    if not asked:
        raise UsageError(
            f"family '{rehearsal.family.name}': the diagnostic port has a number for none of its "
            "dials, so there is nothing to rehearse"
        )
    rng = np.random.default_rng([seed, 54])
    held = [float(share) for share in rng.uniform(LOWEST, HIGHEST, photos)]
    rehearsal.key(on=True)
    rehearsal.pass_time(HOMING_S)
    lines, taken, told, angles = ["time,answer,flags"], [], [], []
    share = 0.0
    for number, aim in enumerate(held, start=1):
        for at in _course(share, aim):
            values = _tell(rehearsal, at)
            lines += _answers(rehearsal, asked, values)
        share = aim
        picture, shot_s = rehearsal.camera.frame()
        taken.append(folder / PHOTO.format(number))
        taken[-1].write_bytes(_photo(picture, BEGINS + timedelta(seconds=shot_s)))
        told.append(values)
        angles.append(dict(rehearsal.cluster.angles_deg()))
        for _ in range(round(SHOT_BEFORE_S / STEP_S)):
            lines += _answers(rehearsal, asked, _tell(rehearsal, aim))
    log = folder / LOG
    log.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return RehearsedDrive(log, tuple(taken), tuple(told), tuple(angles))


def _course(begin: float, aim: float) -> list[float]:
    """Shares of the scale, one for each step: a ramp, then held until the photo."""
    ramp = np.linspace(begin, aim, round(RAMP_S / STEP_S) + 1)[1:]
    return [*map(float, ramp), *[aim] * round((HOLD_S - SHOT_BEFORE_S) / STEP_S)]


def _tell(rehearsal: Rehearsal, share: float) -> dict[str, float]:
    """Tell every dial a share of its scale for one step; what was told, as it was stated."""
    signals = signals_of(rehearsal.family)
    commands = [
        signals[dial.id].command(dial.scale.values[0] + share * dial.scale.span)
        for dial in rehearsal.family.dials
    ]
    rehearsal.transport.apply(*commands)
    rehearsal.pass_time(STEP_S)
    return {command.dial: command.value for command in commands}


def _answers(
    rehearsal: Rehearsal, asked: Sequence[tuple[Dial, Pid]], values: Mapping[str, float]
) -> list[str]:
    """A line of the log for every number, as the control unit rounds it."""
    at = BEGINS + timedelta(seconds=rehearsal.cluster.now_s)
    lines = []
    for dial, pid in asked:
        there = convert(values[dial.id], dial.unit, pid.unit)
        raw = min(max(round((there - pid.offset) / pid.factor), 0), pid.highest_raw)
        answer = bytes((ANSWER, pid.number)) + raw.to_bytes(pid.length)
        lines.append(f"{at.isoformat(timespec='milliseconds')},{answer.hex(' ').upper()},rehearsed")
    return lines


def _photo(picture: Picture, at: datetime) -> bytes:
    """A JPEG file as a phone writes it, and marked."""
    exif = Image.Exif()
    exif[ExifTags.Base.ImageDescription] = REHEARSED
    exif.get_ifd(ExifTags.IFD.Exif).update(
        {
            ExifTags.Base.DateTimeOriginal: f"{at:%Y:%m:%d %H:%M:%S}",
            ExifTags.Base.SubsecTimeOriginal: f"{at.microsecond // 1000:03d}",
            ExifTags.Base.OffsetTimeOriginal: f"{at:%z}"[:3] + ":" + f"{at:%z}"[3:],
        }
    )
    coded = BytesIO()
    seen = Image.fromarray(np.ascontiguousarray(picture[..., ::-1]))
    seen.save(coded, "JPEG", quality=JPEG_QUALITY, exif=exif)
    return coded.getvalue()
