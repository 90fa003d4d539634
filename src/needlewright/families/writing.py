"""Writing a family folder's `family.json`: unknown fields kept, key order kept, all or nothing."""

import copy
import json
import os
import tempfile
from collections.abc import Mapping
from dataclasses import fields
from pathlib import Path
from typing import Any, Final

from needlewright.errors import FamilyError
from needlewright.families.assemble import dial_from, family_from
from needlewright.families.folder import FAMILY_FILE, document_notes
from needlewright.families.model import Dial, Family, Movement, Needle, Programme, Variant
from needlewright.families.scale import Scale
from needlewright.families.schema import DialFile, FamilyFile

INDENT: Final = 1


def write_family(family: Family | Mapping[str, Any], folder: Path) -> Path:
    """Write `family.json` into a folder; the face picture is left to the caller.

    Parameters
    ----------
    family
        A family, or the document itself. A family that was loaded is written as it was read, with
        what has changed since put in: unknown fields, key order and number forms stay.
    folder
        Made if it is not there.

    Returns
    -------
    Path
        The file written.

    Raises
    ------
    FamilyError
        If the document has an error; nothing is written then.
    """
    document = document_of(family) if isinstance(family, Family) else dict(family)
    path = folder / FAMILY_FILE
    try:
        text = json.dumps(document, indent=INDENT, ensure_ascii=False, allow_nan=False) + "\n"
    except (TypeError, ValueError) as error:
        raise FamilyError(f"{path}: not written, as it is not plain JSON: {error}") from error
    for note in document_notes(str(path), json.loads(text)):
        if note.kind == "error":
            raise FamilyError(f"{note.sentence}; not written")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        _replace(path, text)
    except OSError as error:
        raise FamilyError(f"{path}: not written: {error.strerror or error}") from error
    return path


def document_of(family: Family) -> dict[str, Any]:
    """The document a family is written as.

    Parameters
    ----------
    family
        Loaded, changed or made anew.

    Returns
    -------
    dict
        `family.raw` with every field put in that differs from what was read there.
    """
    document: dict[str, Any] = copy.deepcopy(dict(family.raw)) if family.raw else {}
    before = (
        family_from(FamilyFile.model_validate(document), family.folder, None) if document else None
    )
    for field in ("name", "face_size_mm", "px_per_mm", "eccentricity_mm"):
        default = next(f.default for f in fields(Family) if f.name == field)
        _put(document, field, getattr(family, field), getattr(before, field, default))
    raw_dials = {raw["id"]: raw for raw in document.get("dials", ())}
    document["dials"] = [_dial(dial, raw_dials.get(dial.id, {})) for dial in family.dials]
    if family.variants != (before.variants if before else ()):
        raw_variants = {raw["id"]: raw for raw in document.get("variants") or ()}
        document["variants"] = [
            _record(v, raw_variants.get(v.id, {}), None) for v in family.variants
        ]
    return document


def _dial(dial: Dial, raw: dict[str, Any]) -> dict[str, Any]:
    before = dial_from(DialFile.model_validate(raw)) if raw else None
    for field in fields(Dial):
        now = getattr(dial, field.name)
        if before is not None and _same(now, getattr(before, field.name)):
            continue
        if before is None and now == field.default:
            continue
        if isinstance(now, Needle | Movement):
            part = raw.setdefault(field.name, {}) or {}
            raw[field.name] = _record(now, part, getattr(before, field.name, None))
        else:
            _put(raw, field.name, now, ...)
    return raw


def _record(
    record: Needle | Movement | Variant, raw: dict[str, Any], before: Any
) -> dict[str, Any]:
    for field in fields(record):
        now = getattr(record, field.name)
        _put(raw, field.name, now, field.default if before is None else getattr(before, field.name))
    return raw


def _same(now: Any, before: Any) -> bool:
    if isinstance(now, Scale):  # its reach is derived, and not in the file
        return (now.values, now.angles_deg) == (before.values, before.angles_deg)
    return bool(now == before)


def _put(raw: dict[str, Any], field: str, now: Any, before: Any) -> None:
    if now == before:
        return
    plain = _plain(now)
    if plain is None:
        raw.pop(field, None)
    else:
        raw[field] = plain


def _plain(value: Any) -> Any:
    match value:
        case Scale():
            return _plain(list(zip(value.values, value.angles_deg, strict=True)))
        case Programme():
            return _plain(list(zip(value.true_values, value.shown_values, strict=True))) or None
        case tuple() | list():
            return [_plain(part) for part in value]
        case Mapping():
            return {key: _plain(part) for key, part in value.items()}
        case float() if value.is_integer():
            return int(value)
        case _:
            return value


def _replace(path: Path, text: str) -> None:
    """A reader sees the file before or after, never half of it."""
    handle, name = tempfile.mkstemp(prefix=f".{path.name}-", dir=path.parent)
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as stream:
            stream.write(text)
            stream.flush()
            os.fsync(stream.fileno())
        mode = path.stat().st_mode & 0o777 if path.exists() else 0o644
        Path(name).chmod(mode)
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
