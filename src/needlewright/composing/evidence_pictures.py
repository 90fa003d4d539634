"""The pictures a paper shows: one for each row that decides, with the fit drawn over the photo."""

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from needlewright.errors import PaperError, UsageError
from needlewright.families.model import Dial, Family
from needlewright.papers.certificate import EvidencePicture
from needlewright.papers.crop import dial_crop, whole_picture
from needlewright.papers.dial_pages import by_weight
from needlewright.papers.overlay import DialDrawing
from needlewright.proofs.certificate import MeasuredRun
from needlewright.readings.evidence import PhotoEvidence
from needlewright.readings.outline import outline_of
from needlewright.readings.picture import open_picture

ENDINGS = (".overlay.jpg", ".overlay.png", ".jpg", ".jpeg", ".png")


def evidence_pictures(
    document: Mapping[str, Any],
    family: Family,
    runs: Mapping[str, MeasuredRun],
    overlays: Path | None,
) -> list[EvidencePicture]:
    """Draw or find the pictures of the rows that decide.

    Parameters
    ----------
    document
        Of the proof.
    family
        The cluster design.
    runs
        By side: `found`, `left`. Where a photo and its evidence are there, the fit is drawn.
    overlays
        Folder of ready overlays for the rest: one `needlewright read --overlay` wrote, or one
        with a folder for each run.

    Returns
    -------
    list
        In the order of the pages; a row without a picture is left out.

    Raises
    ------
    UsageError
        If there is no such folder.
    PaperError
        If a photo is not the one that was read.
    PictureError
        If a picture cannot be opened.
    """
    if overlays is not None and not overlays.is_dir():
        raise UsageError(f"--overlays {overlays}: there is no such folder")
    return list(_pictures(document, family, runs, overlays))


def _pictures(
    document: Mapping[str, Any],
    family: Family,
    runs: Mapping[str, MeasuredRun],
    overlays: Path | None,
) -> Iterator[EvidencePicture]:
    for record in by_weight(document["dials"]):
        dial = family.dial(record["dial"])
        for side, run in runs.items():
            worst = None if record[side] is None else record[side]["worst"]
            if dial is None or worst is None:
                continue
            name = record[side]["rows"][worst]["photo"]
            jpeg = None if name is None else _picture(name, dial, run, runs, overlays)
            if jpeg is not None:
                yield EvidencePicture(dial.id, side, worst, jpeg)


def _picture(
    name: str,
    dial: Dial,
    run: MeasuredRun,
    runs: Mapping[str, MeasuredRun],
    overlays: Path | None,
) -> bytes | None:
    seen = run.evidence.photo(name)
    if seen is not None and run.folder is not None:
        drawn = _drawn(run.folder / name, dial, seen)
        if drawn is not None:
            return drawn
    path = None if overlays is None else _overlay(overlays, name, run, runs)
    return None if path is None else whole_picture(path)


def _drawn(path: Path, dial: Dial, seen: PhotoEvidence) -> bytes | None:
    """The fit drawn over the photo it was made on; None where one of them is not there."""
    needle = seen.needle(dial.id)
    if not path.is_file() or needle is None or seen.projection is None:
        return None
    picture = open_picture(path)
    if seen.sha256 is not None and picture.sha256 != seen.sha256:
        raise PaperError(
            f"{path}: is not the photo that was read for this run (its SHA-256 differs); put the "
            "photo back, or read the run again with needlewright run"
        )
    outline = outline_of(dial, seen.projection.projection)
    drawing = DialDrawing(
        name=dial.id,
        label="",
        was_read=True,
        centre_px=outline.centre_px,
        hub_px=outline.hub_px,
        arc_px=outline.arc_px,
        marks_px=outline.marks_px,
        needle_px=needle.line_px,
    )
    return dial_crop(picture.pixels, drawing)


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
