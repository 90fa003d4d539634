"""Drafts of families in the shop's folder `drafts`: their photos, and every state they were in.

A draft is work in hand, not a record: it is in no table. What is kept of it in the end is a family.
"""

import json
import os
import re
import shutil
from collections.abc import Mapping
from pathlib import Path
from typing import IO, Any, Final
from uuid import uuid4

from PIL import Image

from needlewright.errors import ConflictError, NotThereError, PictureError, RecordError
from needlewright.readings.picture import open_picture
from needlewright.records.opening import Shop
from needlewright.records.trouble import said_plainly
from needlewright.web.drafts_typed import LONGEST, MOST_PHOTOS, TypedForm

FOLDER: Final = "drafts"
STATE_FILE: Final = "state.json"
VIEW_SIDE_PX: Final = 2600
"""Longer side of the picture the page shows; the draft is made from the photo as it came."""
MOST_STATES: Final = 400
BEFORE: Final = "before"
"""Where the oldest state holds the changes of those that were let go."""
MOST_DISCARDED: Final = 10
_ID = re.compile(r"[0-9a-f]{12}")

State = dict[str, Any]
Kept = dict[str, Any]


class DraftStore:
    """The drafts of one shop; its user holds a lock around reading and writing again.

    Parameters
    ----------
    shop
        The shop.
    """

    def __init__(self, shop: Shop) -> None:
        self._shop = shop
        self._root = shop.folder / FOLDER

    def folder(self, draft_id: str) -> Path:
        """A draft's folder; raises NotThereError if there is no such draft."""
        folder = self._root / draft_id
        if not _ID.fullmatch(draft_id) or not (folder / STATE_FILE).is_file():
            raise NotThereError("there is no such draft; look at the list of drafts")
        return folder

    def make(self, by: str | None, name: str) -> str:
        """Begin one; gives its id."""
        draft_id = uuid4().hex[:12]
        typed = TypedForm(name=name[:LONGEST]).model_dump(mode="json")
        kept: Kept = {
            "id": draft_id,
            "by": by,
            "made_at": self._shop.now().isoformat(),
            "serial": 0,
            "photos": [],
            "history": [{"photos": [], "typed": typed, "result": None, "of": None, "change": None}],
            "at": 0,
            "wrongs": [],
            "saved": None,
            "discarded_at": None,
        }
        with said_plainly("beginning a draft", self._root):
            (self._root / draft_id).mkdir(parents=True)
            self._write(draft_id, kept)
        return draft_id

    def load(self, draft_id: str) -> Kept:
        """A draft; raises NotThereError if there is none, RecordError if it is damaged."""
        folder = self.folder(draft_id)
        try:
            kept: Kept = json.loads((folder / STATE_FILE).read_text(encoding="utf-8"))
            now_of(kept)
        except (OSError, ValueError, KeyError, IndexError, TypeError) as error:
            raise RecordError(
                f"the draft {draft_id} is damaged; begin another, or discard it"
            ) from error
        return kept

    def every(self) -> list[Kept]:
        """All that can be read, the newest first."""
        found = []
        folders = self._root.iterdir() if self._root.is_dir() else ()
        for folder in folders:
            try:
                found.append(self.load(folder.name))
            except RecordError:
                continue
        return sorted(found, key=lambda kept: str(kept["made_at"]), reverse=True)

    def save(self, draft_id: str, kept: Kept) -> None:
        """Keep a draft as it is now; appears whole or not at all."""
        folder = self.folder(draft_id)
        kept["serial"] += 1
        with said_plainly("keeping a draft", folder):
            self._write(draft_id, kept)

    def step(self, draft_id: str, kept: Kept, **new: Any) -> None:
        """Keep another state, which undo takes back; what was undone before is let go."""
        history: list[State] = kept["history"][: kept["at"] + 1]
        last = {name: value for name, value in history[-1].items() if name != BEFORE}
        state = {**last, "change": None, **new}
        if state == {**last, "change": None}:
            return
        kept["history"] = _shortened([*history, state])
        kept["at"] = len(kept["history"]) - 1
        kept["wrongs"] = []
        self.save(draft_id, kept)

    def move(self, draft_id: str, kept: Kept, by: int) -> None:
        """Undo or redo; at the ends nothing happens."""
        at = min(max(kept["at"] + by, 0), len(kept["history"]) - 1)
        if at != kept["at"]:
            kept["at"], kept["wrongs"] = at, []
            self.save(draft_id, kept)

    def discard(self, draft_id: str) -> None:
        """Lay a draft aside; the oldest of many that were laid aside goes, with its photos."""
        kept = self.load(draft_id)
        kept["discarded_at"] = self._shop.now().isoformat()
        self.save(draft_id, kept)
        aside = [one for one in self.every() if one["discarded_at"] is not None]
        aside.sort(key=lambda one: str(one["discarded_at"]), reverse=True)
        for one in aside[MOST_DISCARDED:]:
            self.remove(one["id"])

    def bring_back(self, draft_id: str) -> None:
        """Take up a draft again that was laid aside."""
        kept = self.load(draft_id)
        kept["discarded_at"] = None
        self.save(draft_id, kept)

    def remove(self, draft_id: str) -> None:
        """Let a draft go, with its photos."""
        folder = self.folder(draft_id)
        with said_plainly("removing a draft", folder):
            shutil.rmtree(folder)

    def add_photo(self, draft_id: str, kept: Kept, stream: IO[bytes], name: str) -> dict[str, Any]:
        """Check a photo and lay it beside the draft; it is in no state yet.

        Parameters
        ----------
        draft_id
            Of the draft.
        kept
            What is kept of it.
        stream
            The photo.
        name
            As the sender calls it.

        Returns
        -------
        dict
            Its id, name, width and height in pixels.

        Raises
        ------
        PictureError
            If it cannot be used.
        """
        if len(kept["photos"]) >= MOST_PHOTOS:
            raise PictureError(
                f"a draft takes {MOST_PHOTOS} photos at most; two or three serve as well"
            )
        folder, photo_id = self.folder(draft_id), uuid4().hex[:12]
        path = folder / f"{photo_id}.photo"
        with said_plainly("keeping a photo", folder):
            stream.seek(0)
            with path.open("wb") as out:
                shutil.copyfileobj(stream, out)
            try:
                size = _lay_out(path, folder / f"{photo_id}.jpg")
            except PictureError as error:
                path.unlink(missing_ok=True)
                said = str(error).replace(str(path), name or "the photo")
                raise PictureError(said) from error
        photo = {
            "id": photo_id,
            "name": _own_name(name or "photo", [one["name"] for one in kept["photos"]]),
            "width": size[0],
            "height": size[1],
        }
        kept["photos"].append(photo)
        return photo

    def view(self, draft_id: str, photo_id: str) -> bytes:
        """A photo as the page shows it: JPEG; raises NotThereError if there is none."""
        path = self.folder(draft_id) / f"{photo_id}.jpg"
        if not _ID.fullmatch(photo_id) or not path.is_file():
            raise NotThereError("there is no such photo in the draft; load the page again")
        return path.read_bytes()

    def result(self, draft_id: str, key: str) -> Mapping[str, Any]:
        """What a drafting found."""
        path = self.folder(draft_id) / f"{key}.json"
        try:
            found: Mapping[str, Any] = json.loads(path.read_text(encoding="utf-8"))
        except (OSError, ValueError) as error:
            raise RecordError(
                "what was found before is missing or damaged; have it drafted again"
            ) from error
        return found

    def _write(self, draft_id: str, kept: Kept) -> None:
        path = self._root / draft_id / STATE_FILE
        part = path.with_name(f".{path.name}.{uuid4().hex}.part")
        part.write_text(json.dumps(kept), encoding="utf-8")
        os.replace(part, path)


def now_of(kept: Kept) -> State:
    """The state a draft is in."""
    state: State = kept["history"][kept["at"]]
    return state


def changes_of(kept: Kept) -> list[dict[str, Any]]:
    """The changes made by hand of what was found last, in order."""
    return _changes_at(kept["history"], kept["at"])


def _changes_at(history: list[State], at: int) -> list[dict[str, Any]]:
    """A state holds the one change that led to it; those before it stand in the states before."""
    found, key = [], history[at]["result"]
    for state in reversed(history[: at + 1]):
        if state["result"] != key:
            break
        found += [] if state["change"] is None else [state["change"]]
        found += reversed(state.get(BEFORE, []))
    return found[::-1]


def _shortened(history: list[State]) -> list[State]:
    """The last states; the first of them takes over the changes of those that are let go."""
    first = len(history) - MOST_STATES
    if first <= 0:
        return history
    before = _changes_at(history, first)
    return [{**history[first], "change": None, BEFORE: before}, *history[first + 1 :]]


def check_serial(kept: Kept, serial: int) -> None:
    """Refuse what was sent from a page that does not show the draft as it is."""
    if kept["serial"] != serial:
        raise ConflictError(
            "the draft was changed in another window; it is shown as it is now: look, and do it "
            "again where it is still wanted"
        )


def _lay_out(path: Path, view: Path) -> tuple[int, int]:
    """Width and height of a photo, and the picture that the page shows of it."""
    pixels = open_picture(path).pixels
    picture = Image.fromarray(pixels[:, :, ::-1])
    picture.thumbnail((VIEW_SIDE_PX, VIEW_SIDE_PX), Image.Resampling.LANCZOS, reducing_gap=2.0)
    picture.save(view, "JPEG", quality=90, subsampling=0)
    return pixels.shape[1], pixels.shape[0]


def _own_name(name: str, taken: list[str]) -> str:
    """A name no other photo of the draft has: sentences name photos."""
    own, number = name, 1
    while own in taken:
        number += 1
        own = f"{name} ({number})"
    return own
