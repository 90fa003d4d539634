"""Versions of a family: which there are, what differs, out as one file and in from one."""

from collections.abc import Sequence
from pathlib import Path
from typing import Final

from needlewright.errors import ConflictError, FamilyError, NotThereError, RecordError
from needlewright.families.differences import differences, differences_in_words
from needlewright.families.model import Family
from needlewright.families.packing import packed
from needlewright.families.unpacking import rename, unpacked
from needlewright.records.families import keep_family, load_version, version_views
from needlewright.records.opening import Shop
from needlewright.records.people import name_key
from needlewright.records.views import FamilyView

NEW_VERSION: Final = "--new-version"
OTHER_NAME: Final = "--as NAME"
"""Options of the command line that say what to do with a family whose name is taken."""


def family_versions(shop: Shop, name: str) -> tuple[FamilyView, ...]:
    """Every version of a family the shop keeps.

    Parameters
    ----------
    shop
        The shop.
    name
        Of the family, without regard to case.

    Returns
    -------
    tuple of FamilyView
        By number, the newest first.

    Raises
    ------
    NotThereError
        If the shop keeps no family of that name.
    """
    with shop.reading() as session:
        found = list(version_views(session, name_key(name)).values())
        if not found:
            known = sorted({one.name for one in version_views(session).values()})
    if not found:
        names = ", ".join(f"'{one}'" for one in known)
        raise NotThereError(
            f"the shop keeps no family '{name}'; "
            + (f"it keeps {names}" if names else "add its folder with needlewright shop family")
        )
    return tuple(sorted(found, key=lambda one: -one.number))


def family_version(shop: Shop, name: str, number: int | None = None) -> FamilyView:
    """One version of a family.

    Parameters
    ----------
    shop
        The shop.
    name
        Of the family, without regard to case.
    number
        Which; None: the one new jobs are worked by.

    Returns
    -------
    FamilyView
        It.

    Raises
    ------
    NotThereError
        If there is no such family or no such version of it.
    """
    found = family_versions(shop, name)
    for one in found:
        if one.number == number or (number is None and one.is_current):
            return one
    raise NotThereError(
        f"family '{found[0].name}' has no version {number}; it has versions {_range(found)}"
    )


def packed_version(shop: Shop, version_id: int) -> bytes:
    """A version as the one file a family travels in.

    Parameters
    ----------
    shop
        The shop.
    version_id
        As jobs and runs name it.

    Returns
    -------
    bytes
        The same for the same version, whoever asks.

    Raises
    ------
    RecordError
        If there is no such version, or a file of it is damaged.
    FamilyError
        If it lacks a message database its signals name.
    """
    return packed(load_version(shop, version_id).folder)[0]


def take_in(
    shop: Shop,
    file: Path,
    by: str | None = None,
    *,
    note: str = "",
    name: str | None = None,
    as_new_version: bool = False,
    said: str | None = None,
) -> FamilyView:
    """Take in a family that comes in one file; nothing is silently put in the place of another.

    Parameters
    ----------
    shop
        The shop.
    file
        As `families.packing.write_packed` wrote it.
    by
        Who takes it in; None: the only person of the shop, else nobody is named.
    note
        What is new in it, or where it came from, in words.
    name
        What it is to be called here; None: as it calls itself.
    as_new_version
        Whether it may become the next version of a family of that name.
    said
        What the file is called in sentences; None: its path.

    Returns
    -------
    FamilyView
        The version it is now.

    Raises
    ------
    FamilyError
        If the file is refused; see `families.unpacking`.
    ConflictError
        If the shop keeps another family of that name and a new version was not asked for.
    """
    with unpacked(file, said) as found:
        family = found.family if name is None else rename(found.family, name)
        if not as_new_version:
            same = _same_or_refused(shop, family, said or str(file))
            if same is not None:
                return same
        return keep_family(shop, family.folder, by, note=note)


def what_is_new(shop: Shop, version: FamilyView) -> tuple[FamilyView | None, tuple[str, ...]]:
    """What a version changed of the one before it.

    Parameters
    ----------
    shop
        The shop.
    version
        Of any family.

    Returns
    -------
    tuple
        The version before it by number, and a sentence for each thing that differs; None and
        nothing for the first one.
    """
    before = [one for one in family_versions(shop, version.name) if one.number < version.number]
    if not before:
        return None, ()
    try:
        older, newer = (load_version(shop, one.version_id) for one in (before[0], version))
    except (FamilyError, RecordError) as error:
        return before[0], (f"cannot be compared: {error}",)
    return before[0], differences_in_words(differences(older, newer))


def _same_or_refused(shop: Shop, family: Family, said: str) -> FamilyView | None:
    """The version that is the same already; None: there is no family of that name."""
    with shop.reading() as session:
        kept = list(version_views(session, name_key(family.name)).values())
    if not kept:
        return None
    ours = load_version(shop, kept[-1].version_id)
    found = differences_in_words(differences(ours, family))
    if not found:
        return kept[-1]
    count = len(found)
    raise ConflictError(
        f"{said}: the shop keeps a family '{kept[-1].name}' already, and this one differs from its "
        f"version {kept[-1].number} in {count} {'thing' if count == 1 else 'things'}: "
        f"{', '.join(found[:3])}{' and more' if count > 3 else ''}; nothing was changed; take it "
        f"in as a new version ({NEW_VERSION}) or under another name ({OTHER_NAME})"
    )


def _range(found: Sequence[FamilyView]) -> str:
    return f"1 to {found[0].number}" if len(found) > 1 else "1 only"
