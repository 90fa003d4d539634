"""What stands behind a run's angles, kept beside its CSV: components, and where needles lay.

`as-left.csv` has its evidence in `as-left.evidence.json`. A run is complete without it; a paper
with it breaks the uncertainty down by component and shows the needle in the photo.
"""

import json
import os
from collections.abc import Iterable
from pathlib import Path
from typing import Annotated, Any, Final

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from needlewright.errors import RunError
from needlewright.readings.model import PhotoReadings
from needlewright.readings.runs import Run

SUFFIX: Final = ".evidence.json"
Finite = Annotated[float, Field(allow_inf_nan=False)]
Pixel = tuple[Finite, Finite]


class NeedleEvidence(BaseModel):
    """One needle in one photo."""

    model_config = ConfigDict(frozen=True)

    dial: str
    components_deg: dict[str, Annotated[float, Field(ge=0, allow_inf_nan=False)]] = {}
    """Named standard uncertainties (k = 1) of the angle, degrees."""
    line_px: tuple[Pixel, Pixel] | None = None
    """Hub end and tip of the fitted needle in the photo (x, y)."""


class PhotoEvidence(BaseModel):
    """One photo, named as the run names it."""

    model_config = ConfigDict(frozen=True)

    photo: str
    needles: tuple[NeedleEvidence, ...] = ()


class Evidence(BaseModel):
    """The evidence of one run."""

    model_config = ConfigDict(frozen=True)

    photos: tuple[PhotoEvidence, ...] = ()

    def needle(self, photo: str | None, dial: str) -> NeedleEvidence | None:
        """What is known of one needle in one photo, or None."""
        for picture in self.photos:
            if picture.photo == photo:
                return next((n for n in picture.needles if n.dial == dial), None)
        return None


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
            PhotoEvidence(photo=name, needles=_needles(read[place]))
            for name, place in places
            if place in read
        )
    )


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
        part.write_text(evidence.model_dump_json(indent=1, exclude_none=True), encoding="utf-8")
        os.replace(part, path)
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
