"""Photos and pins of a board as the records give them back."""

from dataclasses import dataclass
from datetime import datetime

from needlewright.findings.board_pins import BoardMoment, BoardSide, Pin


@dataclass(frozen=True, slots=True)
class BoardPhotoView:
    """One photo of a side."""

    id: int
    side: BoardSide
    moment: BoardMoment
    name: str
    sha256: str
    by: str
    at: datetime


@dataclass(frozen=True, slots=True)
class BoardPinView:
    """One pin, who set it and when."""

    pin: Pin
    photo_id: int
    by: str
    at: datetime


@dataclass(frozen=True, slots=True)
class BoardView:
    """Everything about a job's board."""

    tag: str
    version: int
    """Of the job."""
    photos: tuple[BoardPhotoView, ...]
    """In the order they were added."""
    pins: tuple[BoardPinView, ...]
    """By number."""

    def photo(self, photo_id: int) -> BoardPhotoView | None:
        """One of the photos; None: there is none of that id."""
        return next((one for one in self.photos if one.id == photo_id), None)

    def photos_of(self, side: str, moment: str) -> tuple[BoardPhotoView, ...]:
        """Those of a side, from before the work or after it."""
        return tuple(one for one in self.photos if (one.side, one.moment) == (side, moment))
