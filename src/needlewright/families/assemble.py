"""From the file's own words to the plain values the stages work with."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from needlewright.families.lamps import BACKLIGHT, TELL_TALES, Lamp
from needlewright.families.model import (
    Cooling,
    Dial,
    Family,
    Movement,
    Needle,
    Programme,
    RuleName,
    Variant,
)
from needlewright.families.scale import BEYOND_DEG, Scale
from needlewright.families.schema import CoolingFile, DialFile, FamilyFile, LampFile, RuleField

STOP_MARGIN_DEG: Final = 5.0
"""How far past its stop a needle is still given a value: it may sit turned on its shaft."""


def family_from(file: FamilyFile, folder: Path, raw: Mapping[str, Any] | None) -> Family:
    """Make a family of a checked file.

    Parameters
    ----------
    file
        The file's fields; `checks` must have found no error in them.
    folder
        Where it stands.
    raw
        The document itself, unknown fields included.

    Returns
    -------
    Family
        Plain values.
    """
    return Family(
        name=file.name,
        face_size_mm=file.face_size_mm,
        px_per_mm=file.px_per_mm,
        dials=tuple(dial_from(dial) for dial in file.dials),
        folder=folder,
        eccentricity_mm=file.eccentricity_mm,
        variants=tuple(Variant(v.id, v.told_apart_by, v.differs) for v in file.variants or ()),
        supply=file.supply,
        cooling=_cooling(file.cooling),
        winter_degc=file.winter_degc,
        lamps=_lamps(file.lamps, BACKLIGHT),
        tell_tales=_lamps(file.tell_tales, TELL_TALES),
        raw=raw,
    )


def dial_from(file: DialFile) -> Dial:
    """Make a dial of its part of a checked file.

    Parameters
    ----------
    file
        The dial's fields.

    Returns
    -------
    Dial
        Plain values; the scale is continued past its end marks by `BEYOND_DEG`, or further so
        that it reaches the dial's stop with `STOP_MARGIN_DEG` to spare.
    """
    movement = _movement(file)
    sense = 1 if file.direction == "cw" else -1
    stop_deg = file.rest_angle_deg - (0.0 if file.rest_pin else sense * movement.stop_below_deg)
    below_deg = sense * (file.scale[0][1] - stop_deg)
    points = file.programme or []
    return Dial(
        id=file.id,
        quantity=file.quantity,
        unit=file.unit,
        centre_mm=file.centre_mm,
        scale=Scale(
            values=tuple(value for value, _ in file.scale),
            angles_deg=tuple(angle for _, angle in file.scale),
            beyond_deg=max(BEYOND_DEG, below_deg + STOP_MARGIN_DEG),
        ),
        direction=file.direction,
        rest_angle_deg=file.rest_angle_deg,
        rest_pin=file.rest_pin,
        needle=_needle(file),
        programme=Programme(tuple(t for t, _ in points), tuple(s for _, s in points)),
        rule=_rule(file.rule),
        movement=movement,
        graduation=file.graduation,
        rest_mark=file.rest_mark,
        view_u_deg=file.view_u_deg,
        signal=file.signal,
    )


def _needle(file: DialFile) -> Needle:
    needle = file.needle
    return Needle(
        length_mm=needle.length_mm,
        tail_mm=needle.tail_mm,
        base_width_mm=needle.base_width_mm,
        tip_width_mm=needle.tip_width_mm,
        hub_radius_mm=needle.hub_radius_mm,
        height_mm=needle.height_mm,
        thickness_mm=needle.thickness_mm,
        colour=needle.colour,
        pitch_u_deg=needle.pitch_u_deg,
        contact_mm=needle.contact_mm,
        halo_mm=needle.halo_mm,
        lens_mm=needle.lens_mm,
    )


def _cooling(file: CoolingFile | None) -> Cooling:
    if file is None:
        return Cooling()
    return Cooling(file.mass_kg, file.freezer_bag_min, file.chamber_min)


def _movement(file: DialFile) -> Movement:
    if file.movement is None:
        return Movement()
    movement = file.movement
    return Movement(
        kind=movement.kind,
        cycle_deg=movement.cycle_deg,
        stop_below_deg=movement.stop_below_deg,
        repeatability_deg=movement.repeatability_deg,
        coil_axes_deg=float(movement.coil_axes_deg),
        rate_deg_s=movement.rate_deg_s,
        grease_k=movement.grease_k,
    )


def _lamps(files: Sequence[LampFile] | None, group: str) -> tuple[Lamp, ...]:
    """Lamps of one list; one without an id is named after its group and its place in the list."""
    return tuple(
        Lamp(
            id=f"{group}-{number}" if file.id is None else file.id,
            group=file.group or group,
            centre_mm=file.centre_mm,
            reach_mm=file.reach_mm,
            colour=file.colour,
            sign=file.sign,
            signal=file.signal,
        )
        for number, file in enumerate(files or (), start=1)
    )


def _rule(rule: RuleField | None) -> RuleName | None:
    if rule is None or isinstance(rule, str):
        return rule
    house = {"of_span": rule.house.of_span, "of_graduation": rule.house.of_graduation}
    return {"house": {kind: share for kind, share in house.items() if share is not None}}
