"""A job's board put together: its inspection, what that speaks for, and two photos compared."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from needlewright.errors import PictureError, UsageError
from needlewright.findings.board import BoardInspection, evidence_of_board, inspect_board
from needlewright.findings.board_pins import SIDE_WORDS
from needlewright.findings.evidence import Evidence
from needlewright.papers.face_pair import write_face_pair
from needlewright.readings.board.alignment import align_board
from needlewright.readings.board.changes import BoardChanges, find_changes
from needlewright.readings.picture import Picture, open_picture
from needlewright.records.opening import Shop
from needlewright.records.views.board import BoardPhotoView, BoardView


def board_inspection(view: BoardView) -> BoardInspection:
    """What a job's pins say of its board.

    Parameters
    ----------
    view
        From `records.board.board_of`.

    Returns
    -------
    BoardInspection
        Checklist, faults, what was mended, open points.
    """
    photos = [(photo.side, photo.moment) for photo in view.photos]
    return inspect_board([one.pin for one in view.pins], photos)


def board_evidence(view: BoardView) -> tuple[Evidence, ...]:
    """What a job's board speaks for and against.

    Parameters
    ----------
    view
        From `records.board.board_of`.

    Returns
    -------
    tuple of Evidence
        Empty where nothing is pinned.
    """
    return evidence_of_board(board_inspection(view))


def compare_files(before: Path, after: Path) -> BoardChanges:
    """Compare two photos of one side.

    Parameters
    ----------
    before
        A picture's file.
    after
        Another.

    Returns
    -------
    BoardChanges
        Where they differ.

    Raises
    ------
    PictureError
        If one cannot be used, or they do not show the same side of the same board.
    """
    return compare_pictures(open_picture(before), open_picture(after), str(before), str(after))


def compare_pictures(
    before: Picture, after: Picture, before_name: str, after_name: str
) -> BoardChanges:
    """The same of two pictures that are open, under the names sentences call them by."""
    return find_changes(before, after, align_board(before, after, before_name, after_name))


def compare_photos(
    shop: Shop, view: BoardView, before: BoardPhotoView, after: BoardPhotoView
) -> BoardChanges:
    """Compare two photos of a job's board.

    Parameters
    ----------
    shop
        The shop.
    view
        Of the board.
    before
        A photo from before the work.
    after
        One of the same side from after it.

    Returns
    -------
    BoardChanges
        Where they differ.

    Raises
    ------
    PictureError
        If they do not show the same side; where the after photo shows the other one, that is said.
    RecordError
        If a file is damaged or lost.
    """
    if before.side != after.side:
        raise PictureError(
            f"{after.name}: is a photo of {SIDE_WORDS[after.side]} and {before.name} one of "
            f"{SIDE_WORDS[before.side]}; choose two of the same side"
        )
    second = _opened(shop, after)
    try:
        return compare_pictures(_opened(shop, before), second, before.name, after.name)
    except PictureError:
        other = _fits_other(shop, view, second, before)
        if other is None:
            raise
        raise PictureError(
            f"{after.name}: shows {SIDE_WORDS[other.side]}, as {other.name} does, not "
            f"{SIDE_WORDS[before.side]}; take it off and add it to {SIDE_WORDS[other.side]}"
        ) from None


def _fits_other(
    shop: Shop, view: BoardView, after: Picture, before: BoardPhotoView
) -> BoardPhotoView | None:
    """The photo of the other side that shows the same as this one, or None."""
    others = [p for p in view.photos if p.moment == "before" and p.side != before.side]
    for other in others[:1]:
        try:
            align_board(_opened(shop, other), after, other.name, "it")
        except PictureError:
            continue
        return other
    return None


def _opened(shop: Shop, photo: BoardPhotoView) -> Picture:
    path = shop.originals.path(photo.sha256)
    try:
        return open_picture(path)
    except PictureError as error:
        raise PictureError(str(error).replace(str(path), photo.name)) from error


def write_comparison(file: Path, changes: BoardChanges, captions: Sequence[str]) -> None:
    """Draw both photos over each other with what changed boxed.

    Parameters
    ----------
    file
        A PNG.
    changes
        From a comparison.
    captions
        Of the before photo and of the after photo.

    Raises
    ------
    UsageError
        If the file's name does not end in .png.
    """
    if file.suffix.lower() != ".png":
        raise UsageError(f"--out: expected a file name that ends in .png, given '{file}'")
    high, wide = changes.before.shape[:2]
    boxes = [
        (p.left * wide, p.top * high, (p.left + p.width) * wide, (p.top + p.height) * high)
        for p in changes.places
    ]
    pictures = list(zip(captions, (changes.before, changes.after), strict=True))
    said = "1 place looks" if len(boxes) == 1 else f"{len(boxes)} places look"
    write_face_pair(file, pictures, boxes, f"{said} otherwise after the work than before it")


def changes_document(changes: BoardChanges) -> Mapping[str, Any]:
    """A comparison as plain values.

    Parameters
    ----------
    changes
        From a comparison.

    Returns
    -------
    dict
        As `needlewright board --json` writes it, without the files' names.
    """
    alignment = changes.alignment
    return {
        "matrix": [[float(f"{number:.9g}") for number in row] for row in alignment.matrix.tolist()],
        "before_size_px": list(alignment.before_size_px),
        "after_size_px": list(alignment.after_size_px),
        "points": alignment.agreeing,
        "scatter_px": round(alignment.scatter_px, 4),
        "share_seen": round(alignment.share_seen, 4),
        "places": [
            {
                "left": round(place.left, 5),
                "top": round(place.top, 5),
                "width": round(place.width, 5),
                "height": round(place.height, 5),
                "score": round(place.score, 2),
                "by_grey_levels": round(place.by_grey_levels, 1),
            }
            for place in changes.places
        ],
        "left_out": changes.left_out,
    }
