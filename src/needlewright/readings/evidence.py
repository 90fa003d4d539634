"""What stands behind a run's angles, kept beside its CSV: components, and where needles lay.

`as-left.csv` has its evidence in `as-left.evidence.json`. A run is complete without it; a paper
with it breaks the uncertainty down by component and shows the needle in the photo.
"""

import hashlib
import json
import os
from collections.abc import Iterable
from pathlib import Path
from typing import Annotated, Any, Final

import numpy as np
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from needlewright.errors import RunError
from needlewright.readings.model import PhotoReadings
from needlewright.readings.projection import Projection
from needlewright.readings.run_csv import flush_folder
from needlewright.readings.runs import Run

SUFFIX: Final = ".evidence.json"
Finite = Annotated[float, Field(allow_inf_nan=False)]
Pixel = tuple[Finite, Finite]
Row = tuple[Finite, Finite, Finite]


class NeedleEvidence(BaseModel):
    """One needle in one photo."""

    model_config = ConfigDict(frozen=True)

    dial: str
    components_deg: dict[str, Annotated[float, Field(ge=0, allow_inf_nan=False)]] = {}
    """Named standard uncertainties (k = 1) of the angle, degrees."""
    line_px: tuple[Pixel, Pixel] | None = None
    """Hub end and tip of the fitted needle in the photo (x, y)."""


class ProjectionEvidence(BaseModel):
    """Where the face plane lay in a photo: the numbers of `readings.projection.Projection`."""

    model_config = ConfigDict(frozen=True)

    matrix: tuple[Row, Row, Row]
    radial: Finite
    centre_px: Pixel
    half_diagonal_px: Annotated[float, Field(gt=0, allow_inf_nan=False)]

    @property
    def projection(self) -> Projection:
        """As drawings take it."""
        return Projection(np.array(self.matrix), self.radial, self.centre_px, self.half_diagonal_px)


class PhotoEvidence(BaseModel):
    """One photo, named as the run names it."""

    model_config = ConfigDict(frozen=True)

    photo: str
    sha256: str | None = None
    """Of the file that was read."""
    projection: ProjectionEvidence | None = None
    needles: tuple[NeedleEvidence, ...] = ()

    def needle(self, dial: str) -> NeedleEvidence | None:
        """What is known of one needle, or None."""
        return next((n for n in self.needles if n.dial == dial), None)


class Evidence(BaseModel):
    """The evidence of one run."""

    model_config = ConfigDict(frozen=True)

    photos: tuple[PhotoEvidence, ...] = ()

    def needle(self, photo: str | None, dial: str) -> NeedleEvidence | None:
        """What is known of one needle in one photo, or None."""
        picture = self.photo(photo)
        return None if picture is None else picture.needle(dial)

    def photo(self, name: str | None) -> PhotoEvidence | None:
        """What is known of one photo, or None."""
        return next((picture for picture in self.photos if picture.photo == name), None)


NO_EVIDENCE: Final = Evidence()


def evidence_path(run_csv: Path) -> Path:
    """Where the evidence of a run's CSV lies."""
    return run_csv.with_suffix(SUFFIX)


def evidence_of(run: Run, readings: Iterable[PhotoReadings], csv_folder: Path) -> Evidence:
    """Gather the evidence of a run.

    Parameters
    ----------
    run
        The run; its rows name photos by their path from `csv_folder`.
    readings
        Of its photos, named as the caller gave them.
    csv_folder
        Where the run's CSV lies or will lie.

    Returns
    -------
    Evidence
        Of the needles that were read, photos named as the run names them.
    """
    read = {Path(photo.photo).resolve(): photo for photo in readings}
    named = dict.fromkeys(row.photo for row in run.rows if row.photo is not None)
    places = [(name, (csv_folder / name).resolve()) for name in named]
    return Evidence(
        photos=tuple(
            _photo_evidence(name, place, read[place]) for name, place in places if place in read
        )
    )


def _photo_evidence(name: str, place: Path, photo: PhotoReadings) -> PhotoEvidence:
    seen = photo.projection
    projection = None
    if isinstance(seen, Projection):
        projection = ProjectionEvidence(
            matrix=seen.matrix.tolist(),
            radial=float(seen.radial),
            centre_px=seen.centre_px,
            half_diagonal_px=seen.half_diagonal_px,
        )
    sha256 = sha256_of(place) if place.is_file() else None
    return PhotoEvidence(photo=name, sha256=sha256, projection=projection, needles=_needles(photo))


def sha256_of(path: Path) -> str:
    """The file's content, as 64 hexadecimal digits."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def _needles(photo: PhotoReadings) -> tuple[NeedleEvidence, ...]:
    return tuple(
        NeedleEvidence(
            dial=r.dial, components_deg=dict(r.components_deg), line_px=_rounded(r.line_px)
        )
        for r in photo.readings
        if r.status == "read"
    )


def _rounded(line: tuple[Pixel, Pixel] | None) -> tuple[Pixel, Pixel] | None:
    if line is None:
        return None
    (x0, y0), (x1, y1) = line
    return (round(x0, 2), round(y0, 2)), (round(x1, 2), round(y1, 2))


def write_evidence(path: Path, evidence: Evidence) -> None:
    """Write evidence; the file appears whole or not at all.

    Parameters
    ----------
    path
        See `evidence_path`.
    evidence
        What to write.

    Raises
    ------
    RunError
        If the file cannot be written.
    """
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        with part.open("w", encoding="utf-8") as stream:
            stream.write(evidence.model_dump_json(indent=1, exclude_none=True))
            stream.flush()
            os.fsync(stream.fileno())
        os.replace(part, path)
        flush_folder(path.parent)
    except OSError as error:
        reason = error.strerror or error
        raise RunError(f"{path}: cannot be written ({reason}); check the folder") from error
    finally:
        part.unlink(missing_ok=True)


def read_evidence(run_csv: Path) -> Evidence:
    """Read the evidence beside a run's CSV.

    Parameters
    ----------
    run_csv
        The run's file.

    Returns
    -------
    Evidence
        Empty where there is none.

    Raises
    ------
    RunError
        If there is a file and it cannot be used.
    """
    path = evidence_path(run_csv)
    try:
        document: Any = json.loads(path.read_text(encoding="utf-8"))
        return Evidence.model_validate(document)
    except FileNotFoundError:
        return Evidence()
    except (ValueError, RecursionError, ValidationError, OSError) as error:
        raise RunError(
            f"{path}: cannot be used as the evidence of {run_csv.name}; remove it, or write the "
            "run again with needlewright run"
        ) from error
