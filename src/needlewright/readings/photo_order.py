"""Which photo belongs to which step, and the slips: missing, left over, twice, out of order."""

from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path

from needlewright.errors import RunError
from needlewright.readings.commands import Command
from needlewright.readings.picture import PictureStamp, stamp_picture


def match_photos(table: Path, commands: Sequence[Command], photos: Sequence[str]) -> dict[str, str]:
    """Find the given photo that each photo of the table means.

    Parameters
    ----------
    table
        The table of commands; its photos may be named by their path from its folder.
    commands
        In time order.
    photos
        As given.

    Returns
    -------
    dict
        From the name in the table to the photo as given, in time order.

    Raises
    ------
    RunError
        If a photo is given twice, is commanded and not given, given and not commanded, or two
        given photos fit one name.
    """
    by_place: dict[Path, str] = {}
    for photo in photos:
        if by_place.setdefault(Path(photo).resolve(), photo) is not photo:
            raise RunError(f"{photo}: is given twice; give every photo once")
    matched: dict[str, str] = {}
    for name in dict.fromkeys(command.photo for command in commands):
        fits = _fitting(table, name, by_place)
        if not fits:
            raise RunError(
                f"{table}: names the photo '{name}', which is not among the {len(photos)} photos "
                "given; give it too, or take its lines out of the table"
            )
        if len(fits) > 1:
            raise RunError(
                f"{table}: the photo '{name}' could be {fits[0]} or {fits[1]}; name it in the "
                "table by its path from the table's folder"
            )
        matched[name] = fits[0]
    left_over = [photo for photo in photos if photo not in matched.values()]
    if left_over:
        raise RunError(
            f"{left_over[0]}: is given, but no line of {table} says what was commanded; add its "
            "lines to the table or leave the photo out"
        )
    return matched


def check_pictures(
    commands: Sequence[Command], matched: dict[str, str], *, any_order: bool = False
) -> None:
    """Refuse one picture used for two steps, and steps against the order of the exposures.

    Parameters
    ----------
    commands
        In time order.
    matched
        What `match_photos` found.
    any_order
        True where photos were taken again later, so that their times say nothing.

    Raises
    ------
    RunError
        If two photos are the same file content, or one was taken before that of an earlier step;
        photos without an EXIF time take no part in the latter.
    PictureError
        If a photo cannot be opened.
    """
    step_names = {command.photo: command.step_name for command in commands}
    stamps = {name: stamp_picture(Path(given)) for name, given in matched.items()}
    first_of: dict[str, str] = {}
    for name, stamp in stamps.items():
        first = first_of.setdefault(stamp.sha256, name)
        if first != name:
            raise RunError(
                f"{matched[name]}: photos {step_names[first]} and {step_names[name]} are the same "
                f"picture (SHA-256 {stamp.sha256[:12]}...); give each step its own photo"
            )
    if not any_order:
        _refuse_wrong_order(matched, step_names, stamps)


def _fitting(table: Path, name: str, by_place: dict[Path, str]) -> list[str]:
    beside = by_place.get((table.parent / name).resolve())
    if beside is not None:
        return [beside]
    parts = Path(name).parts
    return [photo for place, photo in by_place.items() if place.parts[-len(parts) :] == parts]


def _refuse_wrong_order(
    matched: dict[str, str], step_names: dict[str, str], stamps: dict[str, PictureStamp]
) -> None:
    timed = [(name, stamp.taken) for name, stamp in stamps.items() if stamp.taken is not None]
    for (before, earlier), (name, later) in pairwise(timed):
        if later < earlier:
            raise RunError(
                f"{matched[name]}: photo {step_names[name]} was taken at "
                f"{later:%Y-%m-%d %H:%M:%S}, before photo {step_names[before]} at "
                f"{earlier:%Y-%m-%d %H:%M:%S}; correct the order of the steps, or state that the "
                "order of the photos' times does not matter (--any-order)"
            )
