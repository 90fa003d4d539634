"""What a version of a family changed of another, worked out once."""

from threading import Lock
from typing import Final

from needlewright.errors import FamilyError, RecordError
from needlewright.families.differences import differences, differences_in_words
from needlewright.records.families import load_version
from needlewright.records.opening import Shop
from needlewright.records.views import FamilyView

MOST: Final = 512
"""Pairs that are known at a time; then it begins anew."""
_known: dict[tuple[str, str], tuple[str, ...]] = {}
_lock = Lock()


def what_changed(shop: Shop, before: FamilyView, after: FamilyView) -> tuple[str, ...]:
    """What a version changed of another one.

    Parameters
    ----------
    shop
        That keeps both.
    before
        Any version.
    after
        Any other. What two contents differ in stays true, so it is worked out once.

    Returns
    -------
    tuple of str
        A sentence for each thing that differs, or one that says why they cannot be compared.
    """
    pair = before.content_hash, after.content_hash
    with _lock:
        found = _known.get(pair)
    if found is not None:
        return found
    try:
        older, newer = (load_version(shop, one.version_id) for one in (before, after))
    except (FamilyError, RecordError) as error:
        return (f"cannot be compared: {error}",)  # it may be mended: asked again next time
    found = differences_in_words(differences(older, newer))
    with _lock:
        if len(_known) >= MOST:
            _known.clear()
        _known[pair] = found
    return found
