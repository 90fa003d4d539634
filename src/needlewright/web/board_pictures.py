"""Pictures of a board for the page: a photo upright, two photos laid over each other."""

from collections import OrderedDict
from collections.abc import Iterable, Mapping
from dataclasses import replace
from functools import lru_cache
from io import BytesIO
from pathlib import Path
from threading import Lock
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from needlewright.composing.board import changes_document, compare_photos
from needlewright.errors import NotThereError, PictureError
from needlewright.readings.board.alignment import BoardAlignment
from needlewright.readings.board.changes import BoardChanges, ChangedPlace
from needlewright.readings.picture import open_picture
from needlewright.records.opening import Shop
from needlewright.records.views.board import BoardPhotoView, BoardView

SHOWN_PX: Final = 2000
"""Longer side of a photo as the page shows it."""
KEPT_SHOWN: Final = 24
KEPT_COMPARED: Final = 6
QUALITY: Final = 88
FRAME: Final = 0.04
"""Share of the photo between two places within which their frames meet: 14 px of a phone's 360."""
_compared: OrderedDict[tuple[str, str], BoardChanges] = OrderedDict()
_busy = Lock()
"""One comparison at a time: each holds two whole photos for a moment."""


def photo_in(view: BoardView, photo_id: int) -> BoardPhotoView:
    """A photo of the board; raises NotThereError if it has none of that id."""
    photo = view.photo(photo_id)
    if photo is None:
        raise NotThereError(f"job {view.tag}: its board has no photo {photo_id}; open it again")
    return photo


def shown(shop: Shop, photo: BoardPhotoView) -> bytes:
    """A photo upright, as a JPEG.

    Parameters
    ----------
    shop
        The shop.
    photo
        Which.

    Returns
    -------
    bytes
        `SHOWN_PX` at most on its longer side.

    Raises
    ------
    PictureError
        If it cannot be read.
    """
    return _shown(shop.originals.path(photo.sha256))


@lru_cache(KEPT_SHOWN)
def _shown(path: Path) -> bytes:
    with _busy:
        picture = Image.fromarray(np.ascontiguousarray(open_picture(path).pixels[..., ::-1]))
        picture.thumbnail((SHOWN_PX, SHOWN_PX))
        return _jpeg(picture)


def laid(shop: Shop, view: BoardView, before: BoardPhotoView, after: BoardPhotoView) -> bytes:
    """The after photo laid over the before photo, as a JPEG; may raise as `compared`."""
    return _jpeg(Image.fromarray(_changes(shop, view, before, after).after))


def compared(
    shop: Shop, view: BoardView, before: BoardPhotoView, after: BoardPhotoView
) -> Mapping[str, Any]:
    """Where two photos differ, for the page's scripts.

    Parameters
    ----------
    shop
        The shop.
    view
        Of the board.
    before
        From before the work.
    after
        From after it.

    Returns
    -------
    dict
        As `needlewright board --json`; its places are those of `merged`, each on the after photo
        too; and `to_after`: shares of the one photo to shares of the other.

    Raises
    ------
    PictureError
        If they do not show the same side of the same board.
    """
    changes = _changes(shop, view, before, after)
    document = dict(changes_document(changes))
    document["places"] = [
        {
            "left": round(place.left, 5),
            "top": round(place.top, 5),
            "width": round(place.width, 5),
            "height": round(place.height, 5),
            "after": _on_after(place, changes.alignment),
        }
        for place in merged(changes.places)
    ]
    return {**document, "to_after": to_after_shares(changes.alignment).tolist()}


def merged(places: Iterable[ChangedPlace]) -> tuple[ChangedPlace, ...]:
    """Places whose frames would lie over each other on the page, as one; the order stays.

    Parameters
    ----------
    places
        Strongest first.

    Returns
    -------
    tuple of ChangedPlace
        Each about all that run into each other; its score and grey levels are of the strongest.
    """
    kept: list[ChangedPlace] = []
    for place in places:
        one = place
        while (
            at := next((i for i, other in enumerate(kept) if _touch(one, other)), None)
        ) is not None:
            one = _about(kept.pop(at), one)
        kept.append(one)
    return tuple(sorted(kept, key=lambda one: -one.score))


def _touch(one: ChangedPlace, other: ChangedPlace) -> bool:
    return (
        max(one.left, other.left) - min(one.left + one.width, other.left + other.width) < FRAME
        and max(one.top, other.top) - min(one.top + one.height, other.top + other.height) < FRAME
    )


def _about(one: ChangedPlace, other: ChangedPlace) -> ChangedPlace:
    left, top = min(one.left, other.left), min(one.top, other.top)
    strongest = max(one, other, key=lambda place: place.score)
    return replace(
        strongest,
        left=left,
        top=top,
        width=max(one.left + one.width, other.left + other.width) - left,
        height=max(one.top + one.height, other.top + other.height) - top,
    )


def _changes(
    shop: Shop, view: BoardView, before: BoardPhotoView, after: BoardPhotoView
) -> BoardChanges:
    key = (before.sha256, after.sha256)
    with _busy:
        if key not in _compared:
            if (before.moment, after.moment) != ("before", "after"):
                raise PictureError(
                    f"{before.name} and {after.name}: choose one photo from before the work and "
                    "one from after it"
                )
            _compared[key] = compare_photos(shop, view, before, after)
        _compared.move_to_end(key)
        while len(_compared) > KEPT_COMPARED:
            _compared.popitem(last=False)
        return _compared[key]


def to_after_shares(alignment: BoardAlignment) -> NDArray[np.float64]:
    """The alignment in shares of the photos; a share of 0 is the first pixel's left edge."""
    one = _pixels_of_share(alignment.before_size_px)
    other = _pixels_of_share(alignment.after_size_px)
    matrix = np.linalg.inv(other) @ alignment.matrix @ one
    return np.asarray(matrix / matrix[2, 2], np.float64)


def _pixels_of_share(size_px: tuple[int, int]) -> NDArray[np.float64]:
    return np.array([[size_px[0], 0, -0.5], [0, size_px[1], -0.5], [0, 0, 1.0]])


def _on_after(place: ChangedPlace, alignment: BoardAlignment) -> dict[str, float]:
    """The box about a place on the after photo, shares of it."""
    across, down = (place.left, place.left + place.width), (place.top, place.top + place.height)
    corners = np.array([[x, y, 1.0] for x in across for y in down])
    at = corners @ to_after_shares(alignment).T
    at = np.clip(at[:, :2] / at[:, 2:], 0, 1)
    low, high = at.min(axis=0), at.max(axis=0)
    return {
        "left": round(float(low[0]), 5),
        "top": round(float(low[1]), 5),
        "width": round(float(high[0] - low[0]), 5),
        "height": round(float(high[1] - low[1]), 5),
    }


def _jpeg(picture: Image.Image) -> bytes:
    out = BytesIO()
    picture.save(out, "JPEG", quality=QUALITY)
    return out.getvalue()
