"""What differs between two states of a family: its file, field by field, and its other files."""

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from needlewright.families.content import database_names
from needlewright.families.folder import FACE_FILE
from needlewright.families.model import Family
from needlewright.families.notes import shown

NAMED_BY: Final = "id"
HASHED: Final = "SHA-256 "


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that differs."""

    field: str
    """Where, as people say it: `dial 'speed', needle.height_mm`; `face.png` for the picture."""
    before: str | None
    """Value in the first, as the file has it; None: it has none."""
    after: str | None
    """Value in the second, as the file has it; None: it has none."""

    @property
    def sentence(self) -> str:
        """In words."""
        is_file = any((text or "").startswith(HASHED) for text in (self.before, self.after))
        if is_file and self.before and self.after:
            return f"{self.field} is another one"
        if is_file:
            return f"{self.field} is {'there no more' if self.before else 'new'}"
        if self.before is None:
            return f"{self.field} is {self.after}, was not stated"
        if self.after is None:
            return f"{self.field} is stated no more, was {self.before}"
        return f"{self.field} is {self.after}, was {self.before}"


def differences(first: Family, second: Family) -> tuple[Difference, ...]:
    """What differs between two families, or two states of one.

    Parameters
    ----------
    first
        Loaded.
    second
        Loaded.

    Returns
    -------
    tuple of Difference
        In the order of the file; dials and other parts with an `id` are compared by it. A number
        written another way (3, 3.0) is no difference.
    """
    found = list(_of_objects(first.raw or {}, second.raw or {}, ""))
    names = dict.fromkeys((FACE_FILE, *database_names(first), *database_names(second)))
    for name in names:
        before, after = _hash(first, name), _hash(second, name)
        if before != after:
            found.append(Difference(name, before, after))
    return tuple(found)


def differences_in_words(found: tuple[Difference, ...]) -> tuple[str, ...]:
    """A sentence for each difference."""
    return tuple(one.sentence for one in found)


def _of_objects(
    before: Mapping[str, Any], after: Mapping[str, Any], place: str
) -> Iterator[Difference]:
    for key in dict.fromkeys((*before, *after)):
        inside = f"{place}.{key}" if place and not place.endswith("'") else f"{place}, {key}"
        inside = inside if place else key
        yield from _of_values(before.get(key), after.get(key), inside)


def _of_values(before: Any, after: Any, place: str) -> Iterator[Difference]:
    if before == after:
        return
    if isinstance(before, Mapping) and isinstance(after, Mapping):
        yield from _of_objects(before, after, place)
        return
    by_id = _by_id(before), _by_id(after)
    if by_id[0] is not None and by_id[1] is not None:
        yield from _of_named(by_id[0], by_id[1], place)
        return
    yield Difference(
        place,
        None if before is None else shown(before),
        None if after is None else shown(after),
    )


def _of_named(before: dict[str, Any], after: dict[str, Any], place: str) -> Iterator[Difference]:
    one = {"dials": "dial"}.get(place, place)
    for name in dict.fromkeys((*before, *after)):
        called = f"{one} '{name}'"
        if name not in after:
            yield Difference(called, "there", None)
        elif name not in before:
            yield Difference(called, None, "there")
        else:
            yield from _of_objects(before[name], after[name], called)
    shared = [name for name in before if name in after]
    if shared != [name for name in after if name in before]:
        yield Difference(f"order of {place}", ", ".join(before), ", ".join(after))


def _by_id(value: Any) -> dict[str, Any] | None:
    """Parts of a list by their ids; None: it is no list of such parts."""
    if not isinstance(value, list) or not value:
        return None
    if not all(isinstance(part, dict) and isinstance(part.get(NAMED_BY), str) for part in value):
        return None
    return {part[NAMED_BY]: part for part in value}


def _hash(family: Family, name: str) -> str | None:
    try:
        content = (family.folder / name).read_bytes()
    except OSError:
        return None
    return f"{HASHED}{hashlib.sha256(content).hexdigest()[:12]}"
