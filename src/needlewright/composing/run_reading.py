"""Reading the stored photos of a run: each is kept with its overlay as soon as it is read."""

from collections.abc import Callable, Sequence
from functools import partial
from importlib.metadata import version
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from needlewright.composing.overlays import OverlayingReader
from needlewright.readings.batch import MakeReader, Outcome, read_photos
from needlewright.records.families import load_version
from needlewright.records.opening import Shop
from needlewright.records.run_readings import store_outcome
from needlewright.records.views import PhotoToRead
from needlewright.records.waiting_photos import lost, photos_to_read

MakeOverlaying = Callable[[dict[str, Path]], MakeReader]


def reader_settings() -> dict[str, Any]:
    """What is written down with a run about the reader of its photos."""
    return {"reader": "face", "version": version("needlewright")}


def overlaying(files: dict[str, Path]) -> MakeReader:
    """The project's reader, which leaves overlays in these files."""
    return partial(OverlayingReader, files)


def read_stored_photos(
    shop: Shop,
    run_id: int | None = None,
    on_progress: Callable[[int, int], None] | None = None,
    workers: int | None = None,
    make_reader: MakeOverlaying = overlaying,
) -> int:
    """Read the photos nobody has read yet.

    Parameters
    ----------
    shop
        The shop.
    run_id
        Of which run; None: of all that are not set aside.
    on_progress
        Called with the number of photos finished and of all.
    workers
        Processes; None: one for each core this process may use.
    make_reader
        Makes the maker of readers, told where each photo's overlay goes.

    Returns
    -------
    int
        How many were read. A photo read before the process ends stays read.

    Raises
    ------
    RecordError
        If what was read cannot be stored.
    """
    waiting = photos_to_read(shop, run_id)
    found = [photo for photo in waiting if photo.path is not None]
    for photo in waiting:
        if photo.path is None:
            store_outcome(shop, photo.photo_id, lost(photo))
    done, report = len(waiting) - len(found), on_progress or (lambda done, of: None)
    for version_id in dict.fromkeys(photo.family_version_id for photo in found):
        photos = [photo for photo in found if photo.family_version_id == version_id]
        before = done

        def told(finished: int, _of: int, before: int = before) -> None:
            report(before + finished, len(waiting))

        _read(shop, version_id, photos, told, workers, make_reader=make_reader)
        done += len(photos)
    return done


def _read(
    shop: Shop,
    version_id: int,
    photos: Sequence[PhotoToRead],
    report: Callable[[int, int], None],
    workers: int | None,
    *,
    make_reader: MakeOverlaying,
) -> None:
    with TemporaryDirectory(prefix="needlewright-overlays-") as folder:
        files = {str(p.path): Path(folder) / f"{p.photo_id}.jpg" for p in photos}

        def keep(place: int, outcome: Outcome) -> None:
            photo = photos[place]
            drawn = files[str(photo.path)]
            overlay = drawn.read_bytes() if drawn.is_file() else None
            store_outcome(shop, photo.photo_id, outcome, overlay)

        read_photos(
            load_version(shop, version_id),
            [photo.path for photo in photos if photo.path is not None],
            report,
            workers,
            make_reader(files),
            on_outcome=keep,
        )
