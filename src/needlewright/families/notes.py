"""What a check of a family folder says: one sentence each, and the shape's complaints as such."""

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal

from pydantic import ValidationError

from needlewright.families.signal_words import (
    LAMP_SIGNAL_EXPECTED,
    SIGNAL_EXPECTED,
    SIGNAL_INSIDE,
    SIGNAL_KINDS,
)

Kind = Literal["error", "remark"]
Place = tuple[str | int, ...]

LONGEST_VALUE: Final = 60


@dataclass(frozen=True, slots=True)
class Note:
    """One sentence of a check: an error bars the family's use, a remark does not."""

    kind: Kind
    file: str
    field: str
    """Path inside the file, such as `dials[1].needle.length_mm`; empty for the whole file."""
    subject: str
    """The same for people, such as `dial 'speed', needle.length_mm`; empty for the whole file."""
    words: str
    """What is wrong there, the value, the expectation."""

    @property
    def sentence(self) -> str:
        """File, place and words."""
        return ": ".join(part for part in (self.file, self.subject, self.words) if part)


_ID_FORM: Final = (
    "1 to 64 characters without blanks and without , ; = / \\ : that does not begin with #"
)

EXPECTED: Final[Mapping[str, str]] = {
    "name": "a name of at least one character",
    "face_size_mm": "[width, height] of the face in mm, two numbers above 0",
    "px_per_mm": "pixels of face.png per mm, a number above 0",
    "dials": "a list of at least one dial, each an object in braces",
    "lens": "true or false",
    "invented": "true or false",
    "backlight": "true or false",
    "eccentricity_mm": "a standard deviation in mm, a number of 0 or more",
    "variants": "a list of objects, each with an id",
    "told_apart_by": "a text",
    "differs": "a text",
    "lamps": "a list of objects",
    "tell_tales": "a list of objects",
    "group": f"a name of {_ID_FORM}",
    "reach_mm": "a length in mm above 0",
    "sign": "a text",
    "displays": "a list of objects",
    "weak_points": "a list of objects",
    "refit": "an object or a list of objects",
    "id": f"a text of {_ID_FORM}",
    "quantity": "a text of at least one character",
    "unit": "a unit of the closed set",
    "centre_mm": "[x, y] in mm from the face's top-left corner",
    "scale": "at least two marks, each [value, angle in degrees], all numbers",
    "direction": "'cw' or 'ccw'",
    "rest_angle_deg": "an angle in degrees clockwise from 12 o'clock",
    "rest_pin": "true or false",
    "needle": "an object with the needle's dimensions",
    "length_mm": "a length in mm above 0",
    "tail_mm": "a length in mm of 0 or more",
    "base_width_mm": "a width in mm above 0",
    "tip_width_mm": "a width in mm above 0",
    "hub_radius_mm": "a radius in mm above 0",
    "height_mm": "a height in mm above 0",
    "thickness_mm": "a thickness in mm above 0",
    "colour": "[red, green, blue], three numbers from 0 to 1",
    "pitch_u_deg": "a standard uncertainty in degrees from 0 to 10",
    "contact_mm": "a clearance in mm above 0",
    "halo_mm": "a gap in mm above 0",
    "lens_mm": "a height in mm above 0",
    "programme": "at least two points, each [true value, shown value], all numbers",
    "rule": "a rule's code or a house rule",
    "house": "an object with of_span or of_graduation",
    "of_span": "a share of the span above 0",
    "of_graduation": "a number of graduations above 0",
    "movement": "an object",
    "kind": "'stepper', 'air_core' or 'thermal'",
    "cycle_deg": "an angle in degrees above 0 and up to 360",
    "stop_below_deg": "an angle in degrees from 0 to 45",
    "repeatability_deg": "a standard deviation in degrees from 0 to 45",
    "coil_axes_deg": "60 or 90, the angle between the coils' axes in degrees",
    "rate_deg_s": "a rate in degrees a second above 0",
    "grease_k": "[kelvin above 0, their standard uncertainty of 0 or more]",
    "signal": f"an object whose kind is one of: {', '.join(SIGNAL_KINDS)}",
    "graduation": "a value above 0 in the dial's unit",
    "rest_mark": "'rest' or 'first_mark'",
    "view_u_deg": "a standard uncertainty in degrees from 0 to 10",
    "supply": "an object",
    "cooling": "an object",
    "winter_degc": "a temperature in degC from -60 to 20",
    "mass_kg": "a mass in kg above 0 and up to 20",
    "freezer_bag_min": "[minutes above 0, their standard uncertainty of 0 or more]",
    "chamber_min": "[minutes above 0, their standard uncertainty of 0 or more]",
}
"""Of every field of the schema, what belongs into it."""

EXPECTED_INSIDE: Final[Mapping[str, str]] = {
    "face_size_mm": "a length in mm above 0",
    "centre_mm": "a length in mm",
    "dials": "a dial, an object in braces",
    "variants": "an object with an id",
    "lamps": "a lamp, an object",
    "tell_tales": "a tell-tale, an object",
    "displays": "an object",
    "weak_points": "an object",
    "refit": "an object",
    "scale": "a mark as [value, angle in degrees], two numbers",
    "programme": "a point as [true value, shown value], two numbers",
    "colour": "a number from 0 to 1",
    "grease_k": "a number of kelvin",
    "freezer_bag_min": "a number of minutes",
    "chamber_min": "a number of minutes",
}
"""Of every field that is a list, what belongs into one of its places."""


def path_of(place: Place) -> str:
    """A place as people write it: `dials[1].scale[3][0]`."""
    text = ""
    for step in place:
        text += f"[{step}]" if isinstance(step, int) else f".{step}" if text else step
    return text


def where(raw: Any, place: Place) -> str:
    """The words that lead a sentence: `dial 'speed', needle.length_mm`."""
    match place:
        case ("dials", int() as i, *inside):
            try:
                dial_id = raw["dials"][i]["id"]
            except (KeyError, IndexError, TypeError):
                dial_id = None
            named = f"dial '{dial_id}'" if isinstance(dial_id, str) else f"dials[{i}]"
            return f"{named}, {path_of(tuple(inside))}" if inside else named
    return path_of(place)


def shown(value: Any) -> str:
    """A value as it stands in the file, shortened."""
    text = json.dumps(value, ensure_ascii=False, default=str)
    return text if len(text) <= LONGEST_VALUE else text[: LONGEST_VALUE - 3] + "..."


def shape_notes(file: str, raw: Any, error: ValidationError, base: Place = ()) -> Iterator[Note]:
    """One sentence for each complaint of the schema.

    Parameters
    ----------
    file
        The file's path, as sentences name it.
    raw
        The whole document.
    error
        What validating it, or the part at `base`, brought up.
    base
        Where in the document the validated part stands.

    Yields
    ------
    Note
        Errors, each place once.
    """
    said: set[Place] = set()
    for complaint in error.errors(include_url=False):
        missing = complaint["type"] == "missing"
        place = _inside(raw, base + complaint["loc"], missing=missing)
        if place in said:
            continue
        said.add(place)
        field = next((step for step in reversed(place) if isinstance(step, str)), "")
        inside = isinstance(place[-1], int)
        own_words = complaint["type"] in ("unit", "rule", "dial_id")
        expected = f"expected {_wish(place, field, inside=inside)}"
        expected = complaint["msg"] if own_words else expected
        if missing and not inside:
            subject = where(raw, place[:-1])
            words = f"the field '{field}' is missing; {expected}"
        else:
            subject = where(raw, place)
            words = f"{expected}, found {shown(_at(raw, place))}"
        yield Note("error", file, path_of(place), subject, words)


def _wish(place: Place, field: str, *, inside: bool) -> str:
    """What belongs there; the parts of a signal and of the supply have words of their own."""
    if "fixed" in place[:-1]:
        return "a number, or the name of a value"
    inside_signal = place[0] == "dials" and "signal" in place[:-1]
    inside_supply = place[0] == "supply" and len(place) > 1
    if place[0] in ("lamps", "tell_tales") and "signal" in place:
        return LAMP_SIGNAL_EXPECTED[field]
    if inside_signal or inside_supply:
        return SIGNAL_INSIDE[field] if inside else SIGNAL_EXPECTED[field]
    return EXPECTED_INSIDE[field] if inside else EXPECTED[field]


def _inside(raw: Any, place: Place, *, missing: bool) -> Place:
    """The part of a place that the document has: members of a union add steps of their own."""
    place = _without_kinds(raw, place)
    for n, step in enumerate(place):
        last_and_missing = missing and n == len(place) - 1
        try:
            raw = raw[step]
        except (KeyError, IndexError, TypeError):
            # a pair that is too short is wrong as a pair
            return place if last_and_missing and isinstance(step, str) else place[:n]
    return place


def _without_kinds(raw: Any, place: Place) -> Place:
    """A place without the steps that only say which member of a union, by its kind, was tried."""
    kept: list[str | int] = []
    for n, step in enumerate(place):
        of_union = place[n - 1 : n] == ("signal",) or place[n - 2 : n - 1] == ("rules",)
        if of_union and isinstance(raw, dict) and raw.get("kind") == step:
            continue
        kept.append(step)
        try:
            raw = raw[step]
        except (KeyError, IndexError, TypeError):
            raw = None
    return tuple(kept)


def _at(raw: Any, place: Place) -> Any:
    for step in place:
        raw = raw[step]
    return raw
