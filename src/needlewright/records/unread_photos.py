"""Photos in which nothing was read: which they are, why, and what to do about them."""

from collections.abc import Iterable, Iterator
from typing import Final, Protocol

from needlewright.readings.flags import REASONS

OR_REJECT: Final = "or reject the photo and say why"
_ANOTHER_FACE: Final = (
    "check that the job's family and variant are the cluster's, take the photo again with the "
    "whole face in the picture"
)
_TO_DO: Final = {"face_not_found": _ANOTHER_FACE, "wrong_family": _ANOTHER_FACE}


class Photo(Protocol):
    """What is looked at of a photo: a row of the records, or what is shown of one."""

    @property
    def step(self) -> int:
        """Of its run."""

    @property
    def name(self) -> str:
        """As the camera or the person called it."""

    @property
    def found(self) -> bool | None:
        """Whether the face was found in it; None: nobody has looked."""

    @property
    def reason(self) -> str | None:
        """Why nothing was read: a word of `readings.flags`."""

    @property
    def problem(self) -> str | None:
        """Why its file cannot be used."""

    @property
    def rejected_why(self) -> str | None:
        """Why it counts no more; None: it counts."""


def is_unread(photo: Photo) -> bool:
    """Whether somebody looked and nothing was read, and nobody has said that this is all right."""
    told_nothing = photo.found is False or photo.problem is not None
    return told_nothing and photo.rejected_why is None


def advice(photo: Photo) -> str | None:
    """Why nothing was read in a photo and what to do next.

    Parameters
    ----------
    photo
        The photo.

    Returns
    -------
    str or None
        Two clauses; None where it was read, waits, or is rejected.
    """
    if not is_unread(photo):
        return None
    if photo.problem is not None:
        return photo.problem
    return f"{_short(photo.reason)}; {what_to_do(photo.reason)}"


def what_to_do(reason: str | None) -> str:
    """What to do about a photo in which the face was not found, for one reason."""
    known = REASONS.get(reason or "")
    usual = known.long.rpartition("; ")[2] if known else "take the photo again"
    return f"{_TO_DO.get(reason or '', usual)}, {OR_REJECT}"


def unread_sentences(run: str, photos: Iterable[Photo]) -> Iterator[str]:
    """What keeps a run from being whole because nothing was read in some of its photos.

    Parameters
    ----------
    run
        Its name.
    photos
        Those that are shown.

    Yields
    ------
    str
        One sentence for each file that cannot be used, one for each other reason with the photos
        it concerns; without a capital or a full stop.
    """
    by_reason: dict[str | None, list[Photo]] = {}
    for photo in filter(is_unread, photos):
        if photo.problem is not None:
            yield f"run {run}, step {photo.step}: {photo.problem}"
        else:
            by_reason.setdefault(photo.reason, []).append(photo)
    for reason, concerned in by_reason.items():
        named = ", ".join(f"{photo.name} (step {photo.step})" for photo in concerned)
        yield f"run {run}: nothing was read in {named}: {_short(reason)}; {what_to_do(reason)}"


def _short(reason: str | None) -> str:
    known = REASONS.get(reason or "")
    return known.short if known else (reason or "no reason stated").replace("_", " ")
