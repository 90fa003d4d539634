"""What a person says of a cluster nobody has described: rough clicks, a few values, one length.

Pixels are those of the photo that is clicked in; the centre of its top-left pixel is (0, 0).
"""

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Annotated, Any, Final

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from needlewright.errors import FamilyError
from needlewright.families.fields import Id, Length, Number, Text, UnitSymbol, YesNo
from needlewright.families.jsonfile import read_object
from needlewright.families.notes import path_of
from needlewright.units import unit as unit_of

INPUTS_FILE: Final = "draft.json"
"""Beside the family, so that nothing typed is lost and the draft can be made again."""
FEWEST_MARKS: Final = 2
LONGEST_SHOWN: Final = 60

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class TypedMark:
    """A click on a mark and the value that is printed at it."""

    at_px: Point
    value: float


@dataclass(frozen=True, slots=True)
class TypedDial:
    """A click on a dial's hub, two marks or more with their values, and the unit."""

    id: str
    hub_px: Point
    marks: tuple[TypedMark, ...]
    unit: str
    quantity: str | None = None
    """In words; None: that of the unit."""
    rest_angle_deg: float | None = None
    """Where the needle lies unpowered; None: on the first mark."""
    rest_pin: bool = False
    needle: Mapping[str, float] = field(default_factory=dict)
    """What was measured by hand, by the names of `families.model.Needle`: outranks all else."""

    @property
    def quantity_words(self) -> str:
        """The quantity as stated, or the unit's."""
        return self.quantity or QUANTITIES[unit_of(self.unit).quantity]


QUANTITIES: Final = {
    "speed": "road speed",
    "turning speed": "engine speed",
    "temperature": "coolant temperature",
    "voltage": "supply voltage",
    "current": "charging current",
    "power": "drive power",
    "pressure": "oil pressure",
    "volume": "fuel in the tank",
    "fraction": "fuel level",
    "resistance": "resistance",
    "frequency": "frequency",
}
"""What a cluster usually shows in a unit of this quantity (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class KnownLength:
    """One length on the face, which sets the millimetres.

    Parameters
    ----------
    length_mm
        Measured on the face, from centre to centre or from point to point.
    ends
        Two pixels, or the ids of two dials, whose centres are meant.
    """

    length_mm: float
    ends: tuple[Point | str, Point | str]


@dataclass(frozen=True, slots=True)
class DraftInputs:
    """All that is typed for a draft.

    Parameters
    ----------
    name
        Of the family.
    dials
        At least one.
    dpi
        Resolution of a scan, dots per inch; None: the picture is a photo.
    known
        A length that sets the millimetres of a photo.
    face_px
        Two opposite corners of the face; None: the dials with a margin.
    level_px
        Two points that lie level on the face; None: from how the dials stand to each other.
    at_rest
        Names of the photos in which every needle lies unpowered at its rest; where it is seen
        there is where it rests, unless that was typed.
    """

    name: str
    dials: tuple[TypedDial, ...]
    dpi: float | None = None
    known: KnownLength | None = None
    face_px: tuple[Point, Point] | None = None
    level_px: tuple[Point, Point] | None = None
    at_rest: tuple[str, ...] = ()


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class _MarkFile(_Strict):
    at_px: tuple[Number, Number]
    value: Number


class _NeedleFile(_Strict):
    length_mm: Length | None = None
    tail_mm: Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0)] | None = None
    base_width_mm: Length | None = None
    tip_width_mm: Length | None = None
    hub_radius_mm: Length | None = None
    height_mm: Length | None = None
    thickness_mm: Length | None = None


class _DialFile(_Strict):
    id: Id
    hub_px: tuple[Number, Number]
    marks: list[_MarkFile] = Field(min_length=FEWEST_MARKS)
    unit: UnitSymbol
    quantity: Text | None = None
    rest_angle_deg: Number | None = None
    rest_pin: YesNo = False
    needle: _NeedleFile = _NeedleFile()


class _KnownFile(_Strict):
    length_mm: Length
    ends: tuple[tuple[Number, Number] | Text, tuple[Number, Number] | Text]


class _InputsFile(_Strict):
    name: Text = Field(min_length=1)
    dials: list[_DialFile] = Field(min_length=1)
    dpi: Length | None = None
    known: _KnownFile | None = None
    face_px: tuple[tuple[Number, Number], tuple[Number, Number]] | None = None
    level_px: tuple[tuple[Number, Number], tuple[Number, Number]] | None = None
    at_rest: tuple[Text, ...] = ()


def read_inputs(path: Path) -> DraftInputs:
    """Read what was typed from a file.

    Parameters
    ----------
    path
        JSON, as `write_inputs` leaves it.

    Returns
    -------
    DraftInputs
        Checked by `check_inputs`.

    Raises
    ------
    FamilyError
        One sentence on the first thing wrong.
    """
    raw = read_object(path)
    raw.pop("photos", None)
    try:
        file = _InputsFile.model_validate(raw)
    except ValidationError as error:
        raise FamilyError(f"{path}: {_first_words(error)}") from error
    inputs = DraftInputs(
        file.name,
        tuple(_dial(dial) for dial in file.dials),
        file.dpi,
        None if file.known is None else KnownLength(file.known.length_mm, file.known.ends),
        file.face_px,
        file.level_px,
        file.at_rest,
    )
    check_inputs(inputs)
    return inputs


def _first_words(error: ValidationError) -> str:
    """Where the first thing is wrong, what is wrong with it, and what was found."""
    first = error.errors(include_url=False)[0]
    wrong = first["msg"][:1].lower() + first["msg"][1:]
    found = json.dumps(first["input"], default=str)
    shown = found if len(found) <= LONGEST_SHOWN else f"{found[:LONGEST_SHOWN]}..."
    return f"{path_of(first['loc']) or 'the file'}: {wrong}; found {shown}"


def _dial(file: _DialFile) -> TypedDial:
    return TypedDial(
        file.id,
        file.hub_px,
        tuple(TypedMark(mark.at_px, mark.value) for mark in file.marks),
        file.unit,
        file.quantity,
        file.rest_angle_deg,
        file.rest_pin,
        file.needle.model_dump(exclude_none=True),
    )


def inputs_document(inputs: DraftInputs, photos: tuple[str, ...] = ()) -> dict[str, Any]:
    """What was typed, as `read_inputs` takes it again.

    Parameters
    ----------
    inputs
        What was typed.
    photos
        Names of the photos it was typed for, the one clicked in first; for information.

    Returns
    -------
    dict
        Plain JSON.
    """
    document = asdict(inputs)
    document["dials"] = [
        {key: value for key, value in dial.items() if value is not None}
        for dial in document["dials"]
    ]
    named = {"name": document.pop("name"), "photos": list(photos)}
    kept = {key: value for key, value in document.items() if value is not None and value != ()}
    return {**named, **json.loads(json.dumps(kept))}


def check_inputs(inputs: DraftInputs) -> None:
    """Refuse what no photo could make a draft of.

    Parameters
    ----------
    inputs
        What was typed.

    Raises
    ------
    FamilyError
        One sentence on the first thing wrong.
    """
    ids = [dial.id for dial in inputs.dials]
    if not ids:
        raise FamilyError("no dial is named; click on each dial's hub and on two of its marks")
    for dial_id in ids:
        if ids.count(dial_id) > 1:
            raise FamilyError(f"dial '{dial_id}' is named twice; give each dial an id of its own")
    for dial in inputs.dials:
        _check_dial(dial)
    if inputs.dpi is not None and inputs.known is not None:
        raise FamilyError(
            "both a scan's resolution and a known length are given; give the one that is true: "
            "the resolution for a scan, a length for a photo"
        )
    for end in () if inputs.known is None else inputs.known.ends:
        if isinstance(end, str) and end not in ids:
            raise FamilyError(
                f"the known length ends at dial '{end}', which is not among {', '.join(ids)}"
            )
    if inputs.known is not None and inputs.known.ends[0] == inputs.known.ends[1]:
        raise FamilyError("the known length begins and ends at one place; name two")


def _check_dial(dial: TypedDial) -> None:
    unit_of(dial.unit)
    if len(dial.marks) < FEWEST_MARKS:
        raise FamilyError(
            f"dial '{dial.id}': {len(dial.marks)} mark is clicked; two with their values are "
            "needed, best the first and the last"
        )
    for i, mark in enumerate(dial.marks):
        for other in dial.marks[:i]:
            if mark.value == other.value:
                raise FamilyError(
                    f"dial '{dial.id}': two marks have the value {mark.value:g}; type the value "
                    "that is printed at each"
                )
            if mark.at_px == other.at_px:
                raise FamilyError(
                    f"dial '{dial.id}': the marks {other.value:g} and {mark.value:g} are clicked "
                    "at one place; click on two different marks"
                )
