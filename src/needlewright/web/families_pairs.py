"""Photos of units that were compared, in the shop's folder `compared`, with what came of it.

Not a record: the last ones stay, so that a page can be loaded again and one photo put in the place
of another without choosing both anew.
"""

import json
import os
import re
import shutil
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any, Final
from uuid import uuid4

from needlewright.composing.face_pair import FacePair, Place, found_pictures, unit_pair
from needlewright.errors import NotThereError, PictureError, RecordError
from needlewright.families.model import Family
from needlewright.records.opening import Shop
from needlewright.records.trouble import said_plainly
from needlewright.web.posted import SentFile

FOLDER: Final = "compared"
STATE_FILE: Final = "state.json"
MOST: Final = 12
"""Comparisons that stay; the oldest goes."""
SLOTS: Final = ("first", "second")
"""Another unit, or where there is none the family's own face; and the unit on the bench."""
_ID = re.compile(r"[0-9a-f]{12}")


@dataclass(frozen=True, slots=True)
class UnitPair:
    """Two units, or a unit and the family's face, as they were compared."""

    id: str
    version_id: int
    names: dict[str, str]
    """Of the photo in each slot; one without a photo is not in it."""
    wrongs: dict[str, str]
    """Sentences by slot; under "" what is wrong with both together."""
    pair: FacePair | None
    """None: not compared, for what is wrong. Its pictures are in files, not in it."""


class PairStore:
    """Comparisons of one shop.

    Parameters
    ----------
    shop
        The shop.
    """

    def __init__(self, shop: Shop) -> None:
        self._root = shop.folder / FOLDER

    def make(self, version_id: int) -> str:
        """Begin one without photos; gives its id."""
        pair_id = uuid4().hex[:12]
        with said_plainly("keeping a comparison", self._root):
            (self._root / pair_id).mkdir(parents=True)
            self._write(UnitPair(pair_id, version_id, {}, {}, None))
        self._let_old_ones_go()
        return pair_id

    def load(self, version_id: int, pair_id: str) -> UnitPair:
        """One; raises NotThereError if there is none of that family's version."""
        path = self._root / pair_id / STATE_FILE
        gone = "there is no such comparison any more; choose the photos again"
        if not _ID.fullmatch(pair_id) or not path.is_file():
            raise NotThereError(gone)
        try:
            pair = _read(json.loads(path.read_text(encoding="utf-8")))
        except (OSError, ValueError, KeyError, TypeError) as error:
            raise RecordError("the comparison is damaged; choose the photos again") from error
        if pair.version_id != version_id:
            raise NotThereError(gone)
        return pair

    def put(self, pair: UnitPair, files: dict[str, SentFile]) -> UnitPair:
        """Put photos into slots, whatever is in them; what was found before is let go."""
        folder, names = self._root / pair.id, dict(pair.names)
        with said_plainly("keeping a photo", folder):
            for slot, file in files.items():
                file.stream.seek(0)
                with (folder / f"{slot}.photo").open("wb") as out:
                    shutil.copyfileobj(file.stream, out)
                names[slot] = file.name or "the photo"
            return self._write(UnitPair(pair.id, pair.version_id, names, {}, None))

    def take_out(self, pair: UnitPair, slot: str) -> UnitPair:
        """Take a photo out of its slot."""
        names = {key: name for key, name in pair.names.items() if key != slot}
        return self._write(UnitPair(pair.id, pair.version_id, names, {}, None))

    def say(self, pair: UnitPair, wrongs: dict[str, str]) -> UnitPair:
        """Keep why it was not compared."""
        return self._write(UnitPair(pair.id, pair.version_id, pair.names, wrongs, None))

    def compare(self, pair: UnitPair, family: Family) -> UnitPair:
        """Compare what is in the slots, or keep everything that bars that.

        Parameters
        ----------
        pair
            With a photo of the unit on the bench at least.
        family
            Its design.

        Returns
        -------
        UnitPair
            As kept.
        """
        folder = self._root / pair.id
        slots = [slot for slot in SLOTS if slot in pair.names]
        said = _told_apart([pair.names[slot] for slot in slots])
        photos = [(folder / f"{slot}.photo", name) for slot, name in zip(slots, said, strict=True)]
        found, unusable = found_pictures(family, photos)
        if unusable:
            return self.say(pair, {slots[one.number]: one.what for one in unusable})
        try:
            made = unit_pair(family, found)
        except PictureError as error:
            return self.say(pair, {"" if len(slots) > 1 else slots[0]: str(error)})
        with said_plainly("keeping a comparison", folder):
            (folder / "first.jpg").write_bytes(made.first)
            (folder / "second.jpg").write_bytes(made.second)
            return self._write(UnitPair(pair.id, pair.version_id, pair.names, {}, made))

    def picture(self, pair: UnitPair, slot: str) -> bytes:
        """A face as it was laid flat, JPEG; raises NotThereError where nothing was compared."""
        path = self._root / pair.id / f"{slot}.jpg"
        if pair.pair is None or slot not in SLOTS or not path.is_file():
            raise NotThereError("there is no such picture; load the page again")
        return path.read_bytes()

    def _write(self, pair: UnitPair) -> UnitPair:
        found = pair.pair
        document: dict[str, Any] = {
            "id": pair.id,
            "version_id": pair.version_id,
            "names": pair.names,
            "wrongs": pair.wrongs,
            "found": found
            and {
                "size_mm": found.size_mm,
                "places": [asdict(one) for one in found.places],
                "left_out": found.left_out,
                "share_compared": found.share_compared,
            },
        }
        path = self._root / pair.id / STATE_FILE
        part = path.with_name(f".{path.name}.{uuid4().hex}.part")
        with said_plainly("keeping a comparison", path):
            part.write_text(json.dumps(document, allow_nan=False), encoding="utf-8")
            os.replace(part, path)
        return pair

    def _let_old_ones_go(self) -> None:
        kept = [(one.stat().st_mtime, one) for one in self._root.iterdir() if one.is_dir()]
        for _, folder in sorted(kept, reverse=True)[MOST:]:
            shutil.rmtree(folder, ignore_errors=True)


def _read(document: dict[str, Any]) -> UnitPair:
    found = document["found"]
    pair = found and FacePair(
        (found["size_mm"][0], found["size_mm"][1]),
        tuple(Place(**one) for one in found["places"]),
        found["left_out"],
        found["share_compared"],
        b"",
        b"",
    )
    return UnitPair(
        document["id"], document["version_id"], document["names"], document["wrongs"], pair
    )


def _told_apart(names: Sequence[str]) -> list[str]:
    """Sentences name photos, and two may be called the same."""
    if len(set(names)) == len(names):
        return list(names)
    return [f"{name} ({number})" for number, name in enumerate(names, start=1)]
