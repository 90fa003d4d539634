"""The shape of `family.json`: field names, types, ranges of single fields.

What involves two fields at once (a scale against its direction, a centre against the face) is
checked in `checks`. Unknown fields are allowed everywhere and are kept on writing.
"""

from typing import Annotated, Any, Final, Literal

from pydantic import BeforeValidator, ConfigDict, Field
from pydantic_core import PydanticCustomError

from needlewright.families.fields import (
    DialId,
    Id,
    Length,
    NotNegative,
    Number,
    Open,
    Share,
    Text,
    UnitSymbol,
    YesNo,
)
from needlewright.families.lamps import LampSignalFile
from needlewright.families.signal_file import SignalFile, SupplyFile
from needlewright.rules.book import rule_codes
from needlewright.rules.house import EXAMPLE

SCHEMA_TITLE: Final = "Needlewright family"
HOUSE_KEYS: Final = ("of_span", "of_graduation")


def _rule_shape(value: Any) -> Any:
    """One sentence for a wrong rule, instead of one complaint per member of the union."""
    expected = f"expected {', '.join(rule_codes())}, or a house rule such as {EXAMPLE}"
    if isinstance(value, str):
        if value in rule_codes():
            return value
    elif isinstance(value, dict) and isinstance(value.get("house"), dict):
        house = value["house"]
        shares = [house[key] for key in HOUSE_KEYS if key in house]
        if len(shares) == 1:
            if type(shares[0]) in (int, float) and shares[0] > 0:
                return value
            expected = "expected the share in a house rule to be a number above 0"
        else:
            expected = "expected exactly one of of_span and of_graduation in a house rule"
    raise PydanticCustomError("rule", "{expected}", {"expected": expected})


class NeedleFile(Open):
    """A flat-topped tapered bar."""

    length_mm: Length = Field(description="Centre of the dial to the tip.")
    tail_mm: NotNegative = Field(description="Centre of the dial to the blunt end.")
    base_width_mm: Length = Field(description="Width at the centre.")
    tip_width_mm: Length = Field(description="Width at the tip.")
    hub_radius_mm: Length = Field(description="Radius of the cap over the shaft.")
    height_mm: Length = Field(description="From the face to the needle's top surface.")
    thickness_mm: Length = Field(description="Of the bar, along the shaft.")
    colour: tuple[Share, Share, Share] | None = Field(None, description="sRGB, each 0 to 1.")
    pitch_u_deg: NotNegative = Field(
        0.2,
        le=10,
        description="Standard uncertainty (k = 1) of the needle's pitch against the face, degrees.",
    )
    contact_mm: Length | None = Field(
        None, description="Least clearance of needle and hub to the face."
    )
    halo_mm: Length | None = Field(
        None, description="Greatest gap under the hub before light shows round it."
    )
    lens_mm: Length | None = Field(
        None, description="From the face to the inside of the lens over the needle."
    )


class MovementFile(Open):
    """The motor that turns the needle; defaults are figures of the class, from memory."""

    kind: Literal["stepper", "air_core", "thermal"] = "stepper"
    cycle_deg: Length = Field(
        2.0, le=360, description="Needle angle of one electrical cycle, degrees."
    )
    stop_below_deg: NotNegative = Field(
        2.0,
        le=45,
        description="How far below the rest angle the stop inside the movement lies, degrees.",
    )
    repeatability_deg: NotNegative = Field(
        0.15,
        le=45,
        description="Standard deviation (k = 1) of the needle's angle at one command, degrees.",
    )
    coil_axes_deg: Literal[60, 90] = Field(
        60, description="Angle between the axes of a stepper's two coils, degrees."
    )
    rate_deg_s: Length | None = Field(
        None, description="The fastest the cluster turns the needle, degrees a second."
    )
    grease_k: tuple[Length, NotNegative] | None = Field(
        None,
        description="[k, its standard uncertainty (k = 1)] of the movement's grease, kelvin: its "
        "viscosity goes with absolute temperature as exp(k / T).",
    )


class HouseShares(Open):
    """Exactly one of the two."""

    model_config = ConfigDict(
        json_schema_extra={"oneOf": [{"required": [key]} for key in HOUSE_KEYS]}
    )

    of_span: Length | None = Field(None, description="Tolerance as a share of the scale's span.")
    of_graduation: Length | None = Field(None, description="Tolerance in graduations.")


class HouseRule(Open):
    """A tolerance of the shop's own, for a gauge that no regulation covers."""

    house: HouseShares


RuleCode = Annotated[str, Field(strict=True, json_schema_extra={"enum": list(rule_codes())})]
RuleField = Annotated[RuleCode | HouseRule, BeforeValidator(_rule_shape)]


class DialFile(Open):
    """One gauge of the face."""

    id: DialId = Field(
        description="Unique in the family; no blanks, none of , ; = / \\ :, no # in front, and not "
        "whole."
    )
    quantity: Text = Field(min_length=1, description="In words, for people.")
    unit: UnitSymbol = Field(description="Unit of every value of this dial.")
    centre_mm: tuple[Number, Number] = Field(description="x right, y down from the top-left.")
    scale: list[tuple[Number, Number]] = Field(
        min_length=2,
        description="[value, angle in degrees clockwise from 12 o'clock, not wrapped] per mark, "
        "in rising value.",
    )
    direction: Literal["cw", "ccw"] = Field(description="Which way the needle turns as it rises.")
    rest_angle_deg: Number = Field(description="Where the needle lies unpowered.")
    rest_pin: YesNo = Field(
        description="true: the needle meets a pin on the face; false: the stop is in the movement."
    )
    needle: NeedleFile
    programme: list[tuple[Number, Number]] | None = Field(
        None, min_length=2, description="[true value, shown value], rising; absent: identity."
    )
    rule: RuleField | None = Field(None, description="The tolerance rule the dial answers to.")
    movement: MovementFile | None = None
    signal: SignalFile | None = Field(None, description="How the quantity reaches the cluster.")
    graduation: Length | None = Field(
        None, description="Value between neighbouring printed graduations, in the dial's unit."
    )
    rest_mark: Literal["rest", "first_mark"] = Field(
        "rest", description="What the rest limit is counted from."
    )
    view_u_deg: NotNegative = Field(
        0.0,
        le=10,
        description="Standard uncertainty (k = 1) of what readings of this needle change by with "
        "the view beyond what they state, degrees; measured with needlewright repeatability.",
    )


class VariantFile(Open):
    """One execution of the design."""

    id: Id
    told_apart_by: Text = ""
    differs: Text = ""


class LampFile(Open):
    """One lamp, or one tell-tale."""

    id: Id | None = Field(None, description="Unique among the lamps.")
    group: Id | None = Field(
        None,
        description="Lamps that are looked at in one photo; absent: backlight, or tell-tales.",
    )
    centre_mm: tuple[Number, Number] | None = Field(None, description="Where its light shows.")
    reach_mm: Length | None = Field(None, description="How far its light goes from there.")
    colour: tuple[Share, Share, Share] | None = Field(None, description="sRGB, each 0 to 1.")
    sign: Text | None = Field(None, description="Of a tell-tale, in a word.")
    signal: LampSignalFile | None = Field(
        None, description="What switches it on; absent: a person does."
    )


class CoolingFile(Open):
    """How fast a cluster takes the temperature of its surroundings, for temperature series."""

    mass_kg: Length | None = Field(None, le=20, description="Of the whole cluster.")
    freezer_bag_min: tuple[Length, NotNegative] | None = Field(
        None,
        description="[time constant, its standard uncertainty (k = 1)] in a sealed bag in still "
        "air, minutes.",
    )
    chamber_min: tuple[Length, NotNegative] | None = Field(
        None, description="The same in the moved air of a chamber."
    )


class FamilyFile(Open):
    """One cluster design, as `family.json` beside its `face.png` states it."""

    name: Text = Field(min_length=1)
    face_size_mm: tuple[Length, Length] = Field(description="Width, height.")
    px_per_mm: Length = Field(description="Scale of face.png.")
    dials: list[DialFile] = Field(min_length=1)
    lens: YesNo | None = Field(None, description="For information; no reading depends on it.")
    backlight: YesNo | None = Field(None, description="For information; no reading depends on it.")
    invented: YesNo = Field(
        False, description="true: nobody's cluster; what was rehearsed may be put into it."
    )
    eccentricity_mm: NotNegative = Field(
        0.15, description="Standard deviation (k = 1) of shaft to printed centre."
    )
    variants: list[VariantFile] | None = None
    lamps: list[LampFile] | None = Field(None, description="What lights the face from behind.")
    tell_tales: list[LampFile] | None = Field(None, description="What warns.")
    displays: list[dict[str, Any]] | None = None
    weak_points: list[dict[str, Any]] | None = None
    refit: dict[str, Any] | list[dict[str, Any]] | None = None
    supply: SupplyFile | None = Field(None, description="What the bench supply must give.")
    cooling: CoolingFile | None = Field(
        None, description="How fast the cluster cools and warms; absent: worked out from its size."
    )
    winter_degc: Number | None = Field(
        None, ge=-60, le=20, description="The coldest at which every gauge must still work."
    )


def json_schema() -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of `family.json`.

    Returns
    -------
    dict
        The document committed as `docs/family.schema.json`.
    """
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **FamilyFile.model_json_schema(),
        "title": SCHEMA_TITLE,
    }
