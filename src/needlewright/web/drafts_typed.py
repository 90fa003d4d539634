"""What a person clicked and typed of a new family, as text; once it is whole, as inputs.

Text stays as it was typed, wrong or not: nothing is lost because it could not be understood.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Annotated, Final, Literal

from pydantic import BaseModel, ConfigDict, Field

from needlewright.errors import NeedlewrightError, UnitError
from needlewright.families.fields import id_fault
from needlewright.plans.decimal_comma import pointed
from needlewright.readings.drafting.inputs import (
    FEWEST_MARKS,
    DraftInputs,
    KnownLength,
    TypedDial,
    TypedMark,
    check_inputs,
)
from needlewright.units import unit as unit_of
from needlewright.web.texts import Texts

MOST_DIALS: Final = 24
MOST_MARKS: Final = 40
MOST_PHOTOS: Final = 20
LONGEST: Final = 200
Coordinate = Annotated[float, Field(allow_inf_nan=False, ge=-1e6, le=1e6)]
At = tuple[Coordinate, Coordinate]
Said = Annotated[str, Field(max_length=LONGEST)]
PhotoId = Annotated[str, Field(pattern=r"^[0-9a-f]{12}$")]


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class MarkForm(_Strict):
    """A mark: where it was clicked, and the value as typed."""

    at: At | None = None
    value: Said = ""


class DialForm(_Strict):
    """A dial. `key` names it while it has no id."""

    key: Annotated[str, Field(pattern=r"^[a-z0-9]{1,12}$")]
    id: Said = ""
    quantity: Said = ""
    unit: Said = ""
    hub: At | None = None
    marks: Annotated[tuple[MarkForm, ...], Field(max_length=MOST_MARKS)] = ()


class TypedForm(_Strict):
    """All that is clicked and typed for a draft; what is not there is empty."""

    name: Said = ""
    bare: bool = False
    """Whether needles are pulled in the photo that is clicked in."""
    size: Literal["", "dpi", "dials", "points"] = ""
    dpi: Said = ""
    length: Said = ""
    between: tuple[Said, Said] = ("", "")
    """Keys of two dials."""
    ends: tuple[At | None, At | None] = (None, None)
    corners: tuple[At | None, At | None] = (None, None)
    """Of the face, opposite ones; none: the dials with a margin."""
    level: tuple[At | None, At | None] = (None, None)
    """Two places that lie level; none: from how the dials stand."""
    at_rest: Annotated[tuple[PhotoId, ...], Field(max_length=MOST_PHOTOS)] = ()
    """Photos in which every needle lies unpowered."""
    dials: Annotated[tuple[DialForm, ...], Field(max_length=MOST_DIALS)] = ()

    def rests_in(self, photos: Sequence[str]) -> list[str]:
        """Those of a draft's photos in which needles are seen and said to rest.

        The first shows no needle that is measured where it is bare or a scan.
        """
        first = photos[:1] if self.bare or self.size == "dpi" else []
        return [one for one in photos if one in self.at_rest and one not in first]


@dataclass(frozen=True, slots=True)
class WrongAt:
    """Something that is wrong, and the place on the page that it stands beside."""

    place: str
    """Such as `dial:a1:unit` or `found:speed`; empty: the whole draft."""
    what: str

    def document(self) -> dict[str, str]:
        """For the page's scripts."""
        return {"place": self.place, "what": self.what}


def inputs_of(form: TypedForm, texts: Texts) -> tuple[DraftInputs | None, list[WrongAt]]:
    """What was typed, understood.

    Parameters
    ----------
    form
        As typed.
    texts
        For the sentences.

    Returns
    -------
    tuple
        The inputs, or None and everything that is wrong, each with its place.
    """
    wrongs = [WrongAt(place, texts(f"drafts.wrong.{name}")) for place, name in _missing(form)]
    for dial in form.dials:
        wrongs += _wrong_values(dial, texts)
    if wrongs:
        return None, wrongs
    inputs = DraftInputs(
        form.name.strip(),
        tuple(_dial(dial) for dial in form.dials),
        dpi=number(form.dpi) if form.size == "dpi" else None,
        known=_known(form),
        face_px=_pair(form.corners),
        level_px=_pair(form.level),
    )
    try:
        check_inputs(inputs)
    except NeedlewrightError as error:
        return None, [WrongAt(place_of(str(error), form), str(error))]
    return inputs, []


def place_of(sentence: str, form: TypedForm) -> str:
    """The dial that a sentence speaks of, as a place; empty where it speaks of none."""
    for dial in form.dials:
        if dial.id.strip() and f"dial '{dial.id.strip()}'" in sentence:
            return f"dial:{dial.key}"
    return ""


def number(said: str) -> float | None:
    """A number as people type it, with a comma or a point; None where it is none, or two."""
    try:
        value = float(pointed(said.strip().replace("−", "-")))
    except (UnitError, ValueError):
        return None
    return value if math.isfinite(value) else None


def _missing(form: TypedForm) -> Iterator[tuple[str, str]]:
    """Place and wording of everything that is not there or cannot be."""
    if not form.name.strip():
        yield "name", "name"
    if not form.dials:
        yield "dials", "no_dials"
    yield from _wrong_size(form)
    for name, pair in (("corners", form.corners), ("level", form.level)):
        if pair.count(None) == 1 or (_pair(pair) is not None and pair[0] == pair[1]):
            yield name, name
    ids = [dial.id.strip() for dial in form.dials]
    for dial in form.dials:
        where, own = f"dial:{dial.key}", dial.id.strip()
        if not own:
            yield f"{where}:id", "id"
        elif fault := id_fault(own):
            yield f"{where}:id", f"id_{fault}"
        elif ids.count(own) > 1:
            yield f"{where}:id", "id_twice"
        if not _is_unit(dial.unit):
            yield f"{where}:unit", "unit"
        if dial.hub is None:
            yield f"{where}:hub", "hub"
        if len(dial.marks) < FEWEST_MARKS:
            yield f"{where}:marks", "marks"


def _wrong_size(form: TypedForm) -> Iterator[tuple[str, str]]:
    if not form.size:
        yield "size", "size"
        return
    if form.size == "dpi":
        if not (number(form.dpi) or 0.0) > 0:
            yield "dpi", "dpi"
        return
    if not (number(form.length) or 0.0) > 0:
        yield "length", "length"
    keys = [dial.key for dial in form.dials]
    first, second = form.between
    if form.size == "dials" and (first == second or first not in keys or second not in keys):
        yield "between", "between"
    if form.size == "points" and None in form.ends:
        yield "ends", "ends"


def _wrong_values(dial: DialForm, texts: Texts) -> list[WrongAt]:
    wrongs = []
    values = [number(mark.value) for mark in dial.marks]
    for i, (mark, value) in enumerate(zip(dial.marks, values, strict=True)):
        where = f"dial:{dial.key}:mark:{i}"
        if mark.at is None:
            wrongs.append(WrongAt(where, texts("drafts.wrong.mark_at")))
        if value is None:
            name = "value_number" if mark.value.strip() else "value"
            wrongs.append(WrongAt(where, texts(f"drafts.wrong.{name}")))
        elif value in values[:i]:
            said = texts("drafts.wrong.value_twice", value=f"{value:g}")
            wrongs.append(WrongAt(where, said))
    return wrongs


def _is_unit(symbol: str) -> bool:
    try:
        unit_of(symbol)
    except UnitError:
        return False
    return True


def _dial(dial: DialForm) -> TypedDial:
    assert dial.hub is not None
    return TypedDial(
        dial.id.strip(),
        dial.hub,
        tuple(_marks(dial.marks)),
        dial.unit,
        dial.quantity.strip() or None,
    )


def _marks(marks: Sequence[MarkForm]) -> Iterator[TypedMark]:
    for mark in marks:
        value = number(mark.value)
        assert mark.at is not None
        assert value is not None
        yield TypedMark(mark.at, value)


def _known(form: TypedForm) -> KnownLength | None:
    if form.size not in ("dials", "points"):
        return None
    length_mm = number(form.length) or 0.0
    if form.size == "dials":
        ids = {dial.key: dial.id.strip() for dial in form.dials}
        return KnownLength(length_mm, (ids[form.between[0]], ids[form.between[1]]))
    ends = _pair(form.ends)
    assert ends is not None
    return KnownLength(length_mm, ends)


def _pair(pair: tuple[At | None, At | None]) -> tuple[At, At] | None:
    """Both places, or None where one is not tapped."""
    first, second = pair
    return None if first is None or second is None else (first, second)
