"""Pictures of a burn-in's events and check points, out of its folder or out of the records."""

from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any, Final

from needlewright.bench.burn_in.journal import Happened, Journal, Looked
from needlewright.bench.burn_in.pictures import picture_in
from needlewright.records.burn_in_journals import pictures_kept
from needlewright.records.opening import Shop
from needlewright.records.views.burn_ins import BurnInView

MOST_PICTURES: Final = 60
"""On a paper."""


def names_in(journal: Journal) -> Iterator[str]:
    """The pictures a journal names, line by line."""
    for line in journal.lines:
        if isinstance(line, Happened):
            yield from line.pictures
        elif isinstance(line, Looked) and line.photo is not None:
            yield line.photo


def pictures_of(shop: Shop, view: BurnInView, report: Mapping[str, Any]) -> dict[str, bytes]:
    """The pictures of a report's first events, from the records; one that is gone is left out."""
    kept = pictures_kept(shop, view.id)

    def find(name: str) -> bytes | None:
        path = shop.originals.find(kept[name]) if name in kept else None
        return None if path is None else path.read_bytes()

    return _first(report, find)


def pictures_of_folder(folder: Path, report: Mapping[str, Any]) -> dict[str, bytes]:
    """The same from the folder of a burn-in.

    Parameters
    ----------
    folder
        The journal's.
    report
        As `burn_in_report.report_document` gives it.

    Returns
    -------
    dict
        Files by name, at most as many as a paper takes; one that is gone is left out.

    Raises
    ------
    RunError
        If a name leads out of the folder.
    """
    return _first(report, lambda name: picture_in(folder, name))


def _first(report: Mapping[str, Any], find: Callable[[str], bytes | None]) -> dict[str, bytes]:
    found: dict[str, bytes] = {}
    for event in report["events"]:
        for name in event["pictures"]:
            if len(found) == MOST_PICTURES:
                return found
            content = find(name)
            if content is not None:
                found[name] = content
    return found
