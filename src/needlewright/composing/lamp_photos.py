"""Which photos of lamps are meant, and what was switched on in each."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from pydantic import TypeAdapter, ValidationError

from needlewright.bench.outcome import Outcome
from needlewright.errors import RunError, UsageError
from needlewright.families.lamps import BACKLIGHT, lamp_groups
from needlewright.families.model import Family

OUTCOME: Final = ".outcome.json"
GROUP_IN_NAME: Final = re.compile(r"lamps-(?P<group>.+)$")


@dataclass(frozen=True, slots=True)
class LampShot:
    """One photo, and what was switched on in it."""

    path: Path
    lit: frozenset[str]
    """Ids of the lamps and tell-tales."""
    not_lit: frozenset[str] = frozenset()
    """Ids of those of its group that nobody could switch on."""


def lamp_shots(
    family: Family, given: Sequence[Path], lit: Sequence[str] = ()
) -> tuple[LampShot, ...]:
    """Sort out what was given.

    Parameters
    ----------
    family
        The cluster design.
    given
        Photos; a run of the bench by its CSV, its `.outcome.json` or its folder.
    lit
        Groups, or ids of lamps, that were on in photos that do not say so themselves.

    Returns
    -------
    tuple of LampShot
        In the order given; of a run, each of its photos.

    Raises
    ------
    UsageError
        If a group is none of the family's.
    RunError
        If a folder holds no run with photos of lamps, or several, or its file is damaged.
    """
    stated = _ids(family, lit) if lit else None
    shots: list[LampShot] = []
    for path in given:
        outcome = _outcome_of(path)
        if outcome is not None:
            shots += _of_run(outcome)
        else:
            shots.append(LampShot(path, stated or _by_name(family, path)))
    return tuple(shots)


def _outcome_of(path: Path) -> Path | None:
    """The file that says what a run's photos show; None: it is a photo itself."""
    if path.is_dir():
        found = sorted(path.glob(f"*{OUTCOME}"))
        if len(found) != 1:
            names = f": {', '.join(one.name for one in found)}" if found else ""
            raise RunError(
                f"{path}: expected one run of the bench in it, a file NAME{OUTCOME}, found "
                f"{len(found) or 'none'}{names}; give the file or the photos themselves"
            )
        return found[0]
    if path.name.endswith(OUTCOME):
        return path
    if path.suffix.lower() != ".csv":
        return None
    beside = path.with_suffix(OUTCOME)
    if not beside.is_file():
        raise RunError(
            f"{path}: there is no '{beside.name}' beside it, so the run took no photos of lamps; "
            "give the photos themselves"
        )
    return beside


def _of_run(path: Path) -> list[LampShot]:
    try:
        outcome = TypeAdapter(Outcome).validate_json(path.read_bytes())
    except (ValidationError, OSError) as error:
        raise RunError(
            f"{path}: is no account of a run, or is damaged; give the photos themselves"
        ) from error
    if not outcome.lamps:
        raise RunError(
            f"{path}: the run took no photos of lamps; run the bench's lamps, or give photos"
        )
    return [
        LampShot(path.parent / one.photo, frozenset(one.lit), frozenset(one.not_lit))
        for one in outcome.lamps
    ]


def _by_name(family: Family, path: Path) -> frozenset[str]:
    """A photo the bench named says its group; any other is of the backlight."""
    said = GROUP_IN_NAME.search(path.stem)
    groups = {group.name for group in lamp_groups((*family.lamps, *family.tell_tales))}
    if said and said["group"] in groups:
        return _ids(family, [said["group"]])
    behind = {lamp.group for lamp in family.lamps}
    wanted = [BACKLIGHT] if BACKLIGHT in behind else sorted(behind)
    return _ids(family, wanted) if wanted else frozenset({BACKLIGHT})


def _ids(family: Family, names: Iterable[str]) -> frozenset[str]:
    lamps = (*family.lamps, *family.tell_tales)
    groups = {group.name: group for group in lamp_groups(lamps)}
    ids = {lamp.id for lamp in lamps}
    found: set[str] = set()
    for name in names:
        if name in groups:
            found |= {lamp.id for lamp in groups[name].lamps}
        elif name in ids:
            found.add(name)
        elif name == BACKLIGHT and not family.lamps:
            found.add(BACKLIGHT)  # a family that states no lamps has a backlight all the same
        else:
            known = ", ".join([*groups, *sorted(ids)]) or "none"
            raise UsageError(
                f"--lit: family '{family.name}' has no group or lamp '{name}'; it has: {known}"
            )
    return frozenset(found)


def is_backlit(family: Family, shot: LampShot) -> bool:
    """Whether any lamp behind the face was switched on in a photo."""
    return BACKLIGHT in shot.lit or any(lamp.id in shot.lit for lamp in family.lamps)
