"""A series of photos of a display, by time or temperature: whether it loses light.

Exposure and gain are taken out by the lit print of the same photo; where the backlight is off, the
photos must have been exposed alike, and somebody must say so.
"""

import csv
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from io import StringIO
from math import isfinite, sqrt
from pathlib import Path
from typing import Final

from needlewright.composing.lamp_photos import LampShot
from needlewright.composing.light_measuring import LightMeasuring, TakenShot, Wish
from needlewright.errors import PictureError, RunError
from needlewright.families.displays import Display
from needlewright.families.lamps import BACKLIGHT
from needlewright.families.model import Family
from needlewright.findings.evidence import Evidence
from needlewright.findings.lamps.evidence import fading_evidence
from needlewright.findings.lamps.fading import Against, Fading, FadingPoint, fit_fading
from needlewright.readings.light.displays import display_light
from needlewright.readings.light.laying import lay_photo, scale_for
from needlewright.readings.picture import open_picture

COLUMNS: Final[tuple[Against, ...]] = ("minutes", "temperature_c")
MOST_BYTES: Final = 1_000_000
MOST_ROWS: Final = 1000
U_EACH: Final = 0.01
"""Relative, of a display's light from photo to photo beside noise: place, focus, the shutter;
common practice, no source."""


@dataclass(frozen=True, slots=True)
class SeriesRow:
    """One photo of a series."""

    photo: Path
    at: float


@dataclass(frozen=True, slots=True)
class DisplaySeries:
    """One display over a series."""

    display: str
    fading: Fading | None
    """None: too few of the photos show it."""
    left_out: tuple[tuple[str, str], ...]
    """Photos that are not in it, with why."""
    evidence: tuple[Evidence, ...]


def read_series(path: Path) -> tuple[Against, tuple[SeriesRow, ...]]:
    """Read the table of a series.

    Parameters
    ----------
    path
        A CSV with the columns `photo` and `minutes` or `temperature_c`; photos relative to it.

    Returns
    -------
    tuple
        What the series goes by, and its rows.

    Raises
    ------
    RunError
        If the table cannot be used.
    """
    try:
        if path.stat().st_size > MOST_BYTES:
            raise RunError(f"{path}: is larger than {MOST_BYTES} bytes; that is no table of photos")
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError as error:
        raise RunError(
            f"{path}: there is no such table; give a CSV file with the columns 'photo' and "
            "'minutes' or 'temperature_c'"
        ) from error
    except UnicodeDecodeError as error:
        raise RunError(f"{path}: is not text in UTF-8; save the table as CSV in UTF-8") from error
    except OSError as error:
        why = "it is a folder" if path.is_dir() else "this user may not, or its disk fails"
        raise RunError(f"{path}: cannot be read: {why}; give a CSV file") from error
    table = csv.DictReader(StringIO(text))
    columns = [one for one in COLUMNS if one in (table.fieldnames or ())]
    if "photo" not in (table.fieldnames or ()) or len(columns) != 1:
        raise RunError(
            f"{path}: expected the column 'photo' and one of 'minutes' and 'temperature_c', found "
            f"{', '.join(table.fieldnames or ()) or 'nothing'}"
        )
    rows = [
        SeriesRow(path.parent / _name(row, path, line), _number(row, columns[0], path, line))
        for line, row in enumerate(table, start=2)
        if any((value or "").strip() for value in row.values() if isinstance(value, str))
    ]
    if not 0 < len(rows) <= MOST_ROWS:
        raise RunError(f"{path}: has {len(rows)} photos; expected between 1 and {MOST_ROWS}")
    return columns[0], tuple(rows)


def _name(row: Mapping[str, str | None], path: Path, line: int) -> str:
    name = (row["photo"] or "").strip()
    if not name:
        raise RunError(f"{path}, line {line}: no photo is named; name one or take the line out")
    return name


def _number(row: Mapping[str, str | None], column: str, path: Path, line: int) -> float:
    given = (row[column] or "").strip()
    try:
        number = float(given)
    except ValueError:
        number = float("nan")
    if not isfinite(number):
        raise RunError(f"{path}, line {line}: {column} is '{given}'; expected a number")
    return number


def judge_series(
    family: Family, path: Path, wish: Wish, *, same_exposure: bool = False
) -> tuple[DisplaySeries, ...]:
    """Judge every display of a series.

    Parameters
    ----------
    family
        The cluster design; it states where its displays are.
    path
        The table.
    wish
        How the photos were taken.
    same_exposure
        All were exposed alike, so that the lit print is not needed to compare them.

    Returns
    -------
    tuple of DisplaySeries
        In the family's order.

    Raises
    ------
    RunError
        If the table cannot be used, or no display can be judged.
    """
    against, rows = read_series(path)
    work = LightMeasuring(family, None, replace(wish, every_segment=True))
    seen: dict[str, list[FadingPoint]] = {display.id: [] for display in work.displays}
    out: dict[str, list[tuple[str, str]]] = {display.id: [] for display in work.displays}
    for row in rows:
        _measure_row(work, row, same_exposure, seen, out)
    whole = _Series(path, against, wish)
    made = [whole.judged(one, seen[one.id], out[one.id]) for one in work.displays]
    if all(one.fading is None for one in made):
        why = "; ".join(dict.fromkeys(reason for one in made for _, reason in one.left_out))
        raise RunError(f"{path}: no display can be judged from its photos: {why}")
    return tuple(made)


def _measure_row(
    work: LightMeasuring,
    row: SeriesRow,
    same_exposure: bool,
    seen: dict[str, list[FadingPoint]],
    out: dict[str, list[tuple[str, str]]],
) -> None:
    try:
        lights = _display_lights(work, row, same_exposure)
    except PictureError as error:
        for reasons in out.values():
            reasons.append((row.photo.name, str(error)))
        return
    for display, (light, u_light, why) in lights.items():
        if why is not None:
            out[display].append((row.photo.name, why))
        else:
            seen[display].append(FadingPoint(row.photo.name, row.at, light, u_light))


def _display_lights(
    work: LightMeasuring, row: SeriesRow, same_exposure: bool
) -> dict[str, tuple[float, float, str | None]]:
    """Light of each display in that of the photo's lit print, with its uncertainty."""
    family = work.family
    behind = frozenset(lamp.id for lamp in family.lamps) or frozenset({BACKLIGHT})
    one = TakenShot(LampShot(row.photo, behind), open_picture(row.photo))
    work.find(one)
    if one.found is None or one.picture is None:
        raise PictureError(one.problem or str(one.missing))
    photo = lay_photo(
        family, one.picture, one.found, str(row.photo), scale_for(family, one.found.projection)
    )
    factor, u_factor = 1.0, 0.0
    if not same_exposure:
        lights = work.backlight(photo, one.shot)
        if lights is None:
            raise PictureError(
                f"{row.photo}: the backlight is off, so that its exposure cannot be taken out; "
                "take the series with it on, or with one exposure for all and --same-exposure"
            )
        factor, u_factor = lights.factor, lights.factor * U_EACH
    found = {}
    for display in work.displays:
        seen = display_light(photo, display)
        if seen.light is None or seen.u_light is None:
            found[display.id] = (0.0, 0.0, seen.why)
            continue
        relative = sqrt((seen.u_light / seen.light) ** 2 + (u_factor / factor) ** 2 + U_EACH**2)
        light = seen.light / factor
        found[display.id] = (light, light * relative, None)
    return found


@dataclass(frozen=True, slots=True)
class _Series:
    """Where a series comes from."""

    path: Path
    against: Against
    wish: Wish

    def judged(
        self, display: Display, points: Sequence[FadingPoint], out: Sequence[tuple[str, str]]
    ) -> DisplaySeries:
        """What its photos say of one display."""
        try:
            fading = fit_fading(points, self.against)
        except RunError as error:
            return DisplaySeries(display.id, None, (*out, (self.path.name, str(error))), ())
        seen_in = f"{self.path.name}, display {display.id}"
        evidence = fading_evidence(fading, seen_in, self.wish.place)
        return DisplaySeries(display.id, fading, tuple(out), evidence)
