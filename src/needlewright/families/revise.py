"""The document a family is written as: what was read, with what has changed since put in."""

import copy
from collections.abc import Mapping
from dataclasses import fields
from typing import Any

from pydantic import BaseModel

from needlewright.families.assemble import dial_from, family_from
from needlewright.families.lamps import Lamp
from needlewright.families.model import Dial, Family, Movement, Needle, Programme, Variant
from needlewright.families.scale import Scale
from needlewright.families.schema import DialFile, FamilyFile


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
    for field in ("name", "face_size_mm", "px_per_mm", "eccentricity_mm", "supply"):
        default = next(f.default for f in fields(Family) if f.name == field)
        _put(document, field, getattr(family, field), getattr(before, field, default))
    raw_dials = {raw["id"]: raw for raw in document.get("dials", ())}
    document["dials"] = [_dial(dial, raw_dials.get(dial.id, {})) for dial in family.dials]
    if family.variants != (before.variants if before else ()):
        raw_variants = {raw["id"]: raw for raw in document.get("variants") or ()}
        document["variants"] = [
            _record(v, raw_variants.get(v.id, {}), None) for v in family.variants
        ]
    for field in ("lamps", "tell_tales"):
        now, was = getattr(family, field), getattr(before, field, ())
        if now != was:
            raw_lamps = {raw["id"]: raw for raw in document.get(field) or () if "id" in raw}
            document[field] = [_record(lamp, raw_lamps.get(lamp.id, {}), None) for lamp in now]
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
    record: Needle | Movement | Variant | Lamp, raw: dict[str, Any], before: Any
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
    stated = isinstance(now, BaseModel)
    plain = _plain(now.model_dump(mode="json", exclude_unset=True) if stated else now)
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
