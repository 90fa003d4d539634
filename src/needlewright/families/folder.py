"""A family folder: loading it."""

import json
from pathlib import Path

from pydantic import ValidationError

from needlewright.errors import FamilyError
from needlewright.families.model import Dial, Family, Movement, Needle, Programme, Variant
from needlewright.families.scale import BEYOND_DEG, Scale
from needlewright.families.schema import DialFile, FamilyFile

STOP_MARGIN_DEG = 5.0
"""How far past a stop a needle may still be given a value (it may sit turned on its shaft)."""


def load_family(folder: Path) -> Family:
    """Load a family folder."""
    path = folder / "family.json"
    try:
        raw = json.loads(path.read_text(encoding="utf-8"))
        file = FamilyFile.model_validate(raw)
    except FileNotFoundError as error:
        raise FamilyError(f"{path}: there is no such file") from error
    except (ValueError, ValidationError) as error:
        raise FamilyError(f"{path}: {error}") from error
    return Family(
        name=file.name,
        face_size_mm=file.face_size_mm,
        px_per_mm=file.px_per_mm,
        dials=tuple(_dial(d) for d in file.dials),
        folder=folder,
        eccentricity_mm=file.eccentricity_mm,
        variants=tuple(Variant(v.id, v.told_apart_by, v.differs) for v in file.variants or ()),
        raw=raw,
    )


def _dial(file: DialFile) -> Dial:
    values = tuple(value for value, _ in file.scale)
    angles_deg = tuple(angle for _, angle in file.scale)
    movement = (
        Movement()
        if file.movement is None
        else Movement(**file.movement.model_dump(include=set(Movement.__dataclass_fields__)))
    )
    needle = Needle(**file.needle.model_dump(include=set(Needle.__dataclass_fields__)))
    sense = 1 if file.direction == "cw" else -1
    stop = file.rest_angle_deg - (0 if file.rest_pin else sense * movement.stop_below_deg)
    below = abs(stop - angles_deg[0]) + STOP_MARGIN_DEG
    points = file.programme or []
    return Dial(
        id=file.id,
        quantity=file.quantity,
        unit=file.unit,
        centre_mm=file.centre_mm,
        scale=Scale(values, angles_deg, max(BEYOND_DEG, below)),
        direction=file.direction,
        rest_angle_deg=file.rest_angle_deg,
        rest_pin=file.rest_pin,
        needle=needle,
        programme=Programme(tuple(t for t, _ in points), tuple(s for _, s in points)),
        rule=None
        if file.rule is None
        else (file.rule if isinstance(file.rule, str) else file.rule.model_dump(exclude_none=True)),
        movement=movement,
        graduation=file.graduation,
        rest_mark=file.rest_mark,
    )
