"""The board gathered for the page: one side before and after, and what all pins say."""

from dataclasses import asdict, dataclass
from typing import Any, Final

from markupsafe import Markup
from starlette.responses import Response

from needlewright.composing.board import board_inspection
from needlewright.composing.undoing import history
from needlewright.errors import NeedlewrightError
from needlewright.findings.board import BoardInspection
from needlewright.findings.board_pins import OF_COATING, SIDES, STATES, WHATS, BoardSide
from needlewright.records.board import board_of
from needlewright.records.opening import Shop
from needlewright.records.sheet import job_sheet
from needlewright.records.views import EditView
from needlewright.records.views.board import BoardPhotoView, BoardPinView, BoardView
from needlewright.web.pages import Asking
from needlewright.web.posted import LARGEST_FILE
from needlewright.web.refusals import status_of, wrong_of
from needlewright.web.sheet_measured import family_version

OWN: Final = "board"
OWN_WORDS: Final = "board: "
"""Left out where only the board is spoken of."""
"""What the journal's words begin with where the board was changed."""
MOMENTS: Final = ("before", "after")
LOOKED_BACK: Final = 30


@dataclass(frozen=True, slots=True)
class BoardSummary:
    """What the job sheet shows of the board."""

    photos: int
    pins: int
    inspection: BoardInspection

    @property
    def is_begun(self) -> bool:
        """Whether there is anything of it."""
        return bool(self.photos)


def board_summary(shop: Shop, tag: str) -> BoardSummary:
    """What the job sheet shows of the board.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.

    Returns
    -------
    BoardSummary
        Counts and the inspection.
    """
    view = board_of(shop, tag)
    return BoardSummary(len(view.photos), len(view.pins), board_inspection(view))


def dials_of(shop: Shop, tag: str) -> tuple[str, ...]:
    """Ids of the dials of a job's family."""
    family = family_version(shop, job_sheet(shop, tag).family_version_id)
    return tuple(dial.id for dial in family.dials)


def undoable(shop: Shop, tag: str) -> EditView | None:
    """What undo would take back, where it is of the board; else None."""
    last = next(
        (
            e
            for e in history(shop, tag, LOOKED_BACK)
            if not e.undone and not e.goes_on and not _is_undo(e)
        ),
        None,
    )
    return last if last is not None and last.undoable and last.what.startswith(OWN) else None


def _is_undo(edit: EditView) -> bool:
    return edit.what.startswith("undo: ")


def board_page(
    asked: Asking,
    tag: str,
    side: str,
    chosen: tuple[int | None, int | None] = (None, None),
    *,
    error: NeedlewrightError | None = None,
    wrong_at: str = "",
) -> Response:
    """The page of one side of a board.

    Parameters
    ----------
    asked
        The request.
    tag
        Of the job.
    side
        Which; an unknown one is the front.
    chosen
        Ids of the photos shown from before the work and from after it; None: the first.
    error
        What could not be saved; None: nothing of the kind.
    wrong_at
        The moment beside whose buttons it is said; unknown: above the photos.

    Returns
    -------
    Response
        The whole page.
    """
    view, job = board_of(asked.shop, tag), job_sheet(asked.shop, tag)
    here = next((one for one in SIDES if one == side), SIDES[0])
    panes = {
        moment: _pane(view, here, moment, photo_id)
        for moment, photo_id in zip(MOMENTS, chosen, strict=True)
    }
    taken = {photo.sha256 for photo in view.photos}
    return asked.page(
        "board.html",
        200 if error is None else status_of(error),
        job=job,
        board=view,
        side=here,
        sides=SIDES,
        moments=MOMENTS,
        panes=panes,
        free_photos=[photo for photo in job.photos if photo.sha256 not in taken],
        whats=WHATS,
        states=STATES,
        of_coating=OF_COATING,
        dials=dials_of(asked.shop, tag),
        state=board_state(asked, view),
        says=_says(asked, view),
        wrong=None if error is None else wrong_of(error),
        wrong_at=wrong_at if wrong_at in MOMENTS else "",
        largest=LARGEST_FILE,
    )


def _pane(
    view: BoardView, side: BoardSide, moment: str, photo_id: int | None
) -> tuple[BoardPhotoView | None, tuple[BoardPhotoView, ...]]:
    """The photo that is shown, and all of its side and moment."""
    photos = view.photos_of(side, moment)
    shown = next((one for one in photos if one.id == photo_id), None)
    return shown or (photos[0] if photos else None), photos


def board_state(asked: Asking, view: BoardView) -> dict[str, Any]:
    """Everything the page's scripts go by.

    Parameters
    ----------
    asked
        The request.
    view
        Of the board.

    Returns
    -------
    dict
        Plain values; `says` is the part of the page that says what all pins mean.
    """
    last = undoable(asked.shop, view.tag)
    return {
        "version": view.version,
        "pins": [_plain(asked, one) for one in view.pins],
        "undo": None
        if last is None
        else {"what": last.what.removeprefix(OWN_WORDS), "by": last.by},
        "says": str(_says(asked, view)),
    }


def _plain(asked: Asking, one: BoardPinView) -> dict[str, Any]:
    return {**asdict(one.pin), "photo": one.photo_id, "words": pin_words(asked, one), "by": one.by}


def pin_words(asked: Asking, one: BoardPinView) -> str:
    """What a pin says, in the page's language."""
    t, pin = asked.texts, one.pin
    parts = [] if pin.x is not None else [t("board.all_of_kind")]
    parts.append(t(f"board.what.{pin.what}"))
    if pin.part is not None:
        parts.append(t(f"board.of_part.{pin.part}", dial=pin.dial or ""))
    return f"{' '.join(parts)}: {t(f'board.state.{pin.state}')}"


def _says(asked: Asking, view: BoardView) -> Markup:
    template = asked.house.templates.get_template("board_says.html")
    inspection = board_inspection(view)
    words = {one.pin.number: pin_words(asked, one) for one in view.pins}
    return Markup(
        template.render(
            asked=asked,
            t=asked.texts,
            board=view,
            sides=SIDES,
            moments=MOMENTS,
            inspection=inspection,
            points=[one for one in inspection.open_points if one not in inspection.unlooked],
            words=words,
            mended={one.found.number: one.after.number for one in inspection.mended},
        )
    )
