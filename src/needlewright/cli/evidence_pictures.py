"""From a folder of overlays to the pictures a paper shows: one for each row that decides."""

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from needlewright.errors import UsageError
from needlewright.papers.certificate import EvidencePicture
from needlewright.papers.crop import needle_crop
from needlewright.papers.dial_pages import by_weight
from needlewright.proofs.certificate import MeasuredRun

ENDINGS = (".overlay.jpg", ".overlay.png", ".jpg", ".jpeg", ".png")


def evidence_pictures(
    document: Mapping[str, Any], overlays: Path, runs: Mapping[str, MeasuredRun]
) -> list[EvidencePicture]:
    """Find and cut the overlays of the rows that decide.

    Parameters
    ----------
    document
        Of the proof.
    overlays
        The folder `needlewright read --overlay` wrote, or one with a folder for each run.
    runs
        By side: `found`, `left`.

    Returns
    -------
    list
        In the order of the pages; a row without an overlay is left out.

    Raises
    ------
    UsageError
        If there is no such folder.
    PictureError
        If an overlay cannot be opened.
    """
    if not overlays.is_dir():
        raise UsageError(f"--overlays {overlays}: there is no such folder")
    return list(_pictures(document, overlays, runs))


def _pictures(
    document: Mapping[str, Any], overlays: Path, runs: Mapping[str, MeasuredRun]
) -> Iterator[EvidencePicture]:
    for dial in by_weight(document["dials"]):
        for side, run in runs.items():
            record = dial[side]
            if record is None or record["worst"] is None:
                continue
            photo = record["rows"][record["worst"]]["photo"]
            path = None if photo is None else _overlay(overlays, photo, run, runs)
            if path is not None:
                needle = run.evidence.needle(photo, dial["dial"])
                line_px = None if needle is None else needle.line_px
                jpeg = needle_crop(path, line_px)
                yield EvidencePicture(dial["dial"], side, record["worst"], jpeg)


def _overlay(
    overlays: Path, photo: str, run: MeasuredRun, runs: Mapping[str, MeasuredRun]
) -> Path | None:
    """The overlay of a photo; one that could be of another run's photo is not taken."""
    stem, folder = Path(photo).stem, Path(photo).parent.name
    tried = [overlays / run.run.name / stem]
    if folder:
        tried += [overlays / folder / stem, overlays / f"{folder}-{stem}"]
    others = [other for other in runs.values() if other is not run]
    if stem not in {Path(row.photo).stem for o in others for row in o.run.rows if row.photo}:
        tried.append(overlays / stem)
    paths = (place.with_name(place.name + ending) for place in tried for ending in ENDINGS)
    return next((path for path in paths if path.is_file()), None)
