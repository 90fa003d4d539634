"""What people type, checked at the edge: one sentence for the first thing that is wrong."""

import math
import re
from collections.abc import Mapping
from datetime import date, datetime
from typing import Annotated, Any, ClassVar, Final, TypeVar

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, ValidationError

from needlewright.errors import JobError, UnitError
from needlewright.plans.decimal_comma import pointed
from needlewright.records.words import Law, MileageUnit

LONGEST_TEXT: Final = 2_000
LONGEST_NAME: Final = 200
EARLIEST_YEAR: Final = 1900
_BUILT: Final = re.compile(r"[0-9]{4}(-[0-9]{2}(-[0-9]{2})?)?")
EntryT = TypeVar("EntryT", bound="Entry")


def _text(text: str) -> str:
    text = text.replace("\r\n", "\n").strip()
    if any(not c.isprintable() and c not in "\n\t" for c in text):
        raise ValueError("unprintable")
    return text


def _some(text: str) -> str:
    joined = " ".join(text.split())
    if not joined or not joined.isprintable():
        raise ValueError("empty")
    return joined


def _day(value: Any) -> Any:
    if value == "":
        return None
    if isinstance(value, datetime):
        raise ValueError("day")
    return date.fromisoformat(value) if isinstance(value, str) else value


def _number(value: Any) -> Any:
    if value == "":
        return None
    if isinstance(value, bool) or (isinstance(value, float) and not math.isfinite(value)):
        raise ValueError("number")
    try:
        return pointed(value.strip()) if isinstance(value, str) else value
    except UnitError as error:
        raise ValueError("number") from error


def _blank(value: Any) -> Any:
    return None if isinstance(value, str) and not value.strip() else value


def _built(text: str) -> str:
    text = text.strip()
    if not _BUILT.fullmatch(text) or int(text[:4]) < EARLIEST_YEAR:
        raise ValueError("built")
    date.fromisoformat((text + "-01-01")[:10])  # a month or day there is
    return text


Text = Annotated[str, Field(max_length=LONGEST_TEXT), AfterValidator(_text)]
"""Any text, also none."""
Name = Annotated[str, Field(max_length=LONGEST_NAME), AfterValidator(_some)]
"""One line that is not empty."""
Tag = Annotated[str, Field(max_length=40), AfterValidator(_some)]
Day = Annotated[date | None, BeforeValidator(_day)]
Mileage = Annotated[Annotated[float, Field(ge=0, le=1e8)] | None, BeforeValidator(_number)]
Speed = Annotated[Annotated[float, Field(gt=0, le=1e6)] | None, BeforeValidator(_number)]
MaybeText = Annotated[
    Annotated[str, Field(max_length=LONGEST_TEXT), AfterValidator(_text)] | None,
    BeforeValidator(_blank),
]
Built = Annotated[
    Annotated[str, AfterValidator(_built)] | None,
    BeforeValidator(lambda value: str(value) if isinstance(value, int) else _blank(value)),
]
"""A year, month or day, as exactly as it is known."""
Texts = list[Annotated[str, Field(max_length=LONGEST_TEXT), AfterValidator(_some)]]


class Entry(BaseModel):
    """Fields a person may send; a field that is not known is refused, not lost."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    expected: ClassVar[Mapping[str, str]] = {}
    """Of fields of which more can be said here than by their name alone."""

    @property
    def stated(self) -> dict[str, Any]:
        """The fields that were given, as plain values."""
        dumped = self.model_dump()
        return {name: dumped[name] for name in dumped if name in self.model_fields_set}


class BoxItem(Entry):
    """One thing that belongs in the box."""

    what: Name
    ticked: bool = False
    note: Text = ""


class NewJob(Entry):
    """A new tag."""

    tag: Tag
    family: Name
    """Name of a family the shop keeps."""
    serial: MaybeText = None
    variant: MaybeText = None
    built: Built = None
    owner: Text = ""
    owner_contact: Text = ""
    vehicle: Text = ""
    max_speed: Speed = None
    complaint: Text = ""
    promised: Day = None
    odometer_unit: MileageUnit | None = None
    """None: as the shop's settings say."""
    return_of: Annotated[Tag | None, BeforeValidator(_blank)] = None
    """Tag of the earlier job this one is a return of."""


class JobEntry(Entry):
    """What can be changed on a job at any time."""

    tag: Tag = ""
    family: Name = ""
    serial: MaybeText = None
    variant: MaybeText = None
    built: Built = None
    owner: Text = ""
    owner_contact: Text = ""
    vehicle: Text = ""
    max_speed: Speed = None
    complaint: Text = ""
    promised: Day = None
    odometer_unit: MileageUnit = "km"
    odometer_in: Mileage = None
    odometer_none: MaybeText = None
    return_of: Annotated[Tag | None, BeforeValidator(_blank)] = None
    work_done: Texts = []
    remarks: Texts = []
    deviations: MaybeText = None
    external_results: MaybeText = None
    temperature: MaybeText = None


class ReceiveEntry(Entry):
    """How the box came in; `odometer_in` and `odometer_none` are kept with the job."""

    day: Day = None
    sender: Text = ""
    contents: list[BoxItem] = []
    packing: Text = ""
    damage: Text = ""
    condition: Text = ""
    odometer_unreadable: Text = ""
    family_ok: bool | None = None
    family_note: Text = ""
    variant_ok: bool | None = None
    variant_note: Text = ""
    face_ok: bool | None = None
    face_note: Text = ""
    connector_ok: bool | None = None
    connector_note: Text = ""
    odometer_unit: MileageUnit = "km"
    odometer_in: Mileage = None
    odometer_none: MaybeText = None


class ReturnEntry(Entry):
    """How the box goes out; `odometer_out` is kept with the job."""

    day: Day = None
    contents: list[BoxItem] = []
    packing: Text = ""
    carrier: Text = ""
    law: Annotated[Law | None, BeforeValidator(_blank)] = None
    procedure: Text = ""
    notice_mileage_before: Mileage = None
    notice_day: Day = None
    notice_attached_to: Text = ""
    odometer_out: Mileage = None


class SettingsEntry(Entry):
    """Who the shop is and what it works by."""

    name: Text = ""
    place: Text = ""
    law: Law = "us"
    local_law: Text = ""
    odometer_unit: MileageUnit = "km"
    authorised_by: Text = ""
    supply: Text = ""
    battery_wait: Text = ""
    invented: bool = False


class InstrumentEntry(Entry):
    """An instrument of the bench."""

    name: Name = ""
    number: Name = ""
    due: Day = None
    traceable_to: MaybeText = None
    retired: bool = False


_EXPECTED: Final = {
    "tag": "1 to 40 printable characters",
    "family": "the name of a family",
    "who": "who accepted, in one line",
    "how": "how, such as by message or in person, in one line",
    "max_speed": "a number above 0",
    "built": "a year, month or day from 1900 on, such as 2012, 2012-05 or 2012-05-17",
    "odometer_unit": "'km' or 'mi'",
    "law": "'us' or 'local'",
    "odometer_in": "the mileage, a number of 0 or more",
    "odometer_out": "the mileage, a number of 0 or more",
    "notice_mileage_before": "the mileage before, a number of 0 or more",
    "contents": "a list of things, each with 'what', 'ticked' and 'note'",
    "what": "a name in one line",
    "name": "a text in one line",
    "number": "a number or code in one line",
    "work_done": "a list of texts",
    "remarks": "a list of texts",
    "code": "a short code in one line, without a slash",
    "words": "what it is, in one line",
    "unit": "what is counted, in one line, such as pieces",
    "mark": "the batch's mark or date code, in one line",
    "count": "a whole number of pieces, 0 or more",
    "why": "the reason, in words",
    "reorder_point": "a whole number of 0 or more, or nothing",
    "price": "an amount of 0 or more, such as 16.50 or 16,50, without marks of thousands",
    "currency": "a code of three letters (ISO 4217), such as EUR",
    **dict.fromkeys(
        ("promised", "day", "notice_day", "due", "received_on"), "a day such as 2026-03-02"
    ),
    **dict.fromkeys(
        ("family_ok", "variant_ok", "face_ok", "connector_ok", "invented", "ticked", "retired"),
        "yes or no (true, false)",
    ),
}


def checked(entry: type[EntryT], typed: Mapping[str, Any], where: str) -> EntryT:
    """Check what was typed.

    Parameters
    ----------
    entry
        What is expected.
    typed
        Field by field.
    where
        Named first in the sentence, as in "job EX-0412".

    Returns
    -------
    Entry
        Whose `stated` are the fields that were given.

    Raises
    ------
    JobError
        One sentence on the first field that is wrong.
    """
    try:
        return entry.model_validate(dict(typed))
    except ValidationError as error:
        said = [_complaint(entry, one) for one in error.errors(include_url=False)]
        raise JobError(f"{where}: {said[0][1]}", dict(reversed(said))) from error


def _complaint(entry: type[Entry], first: Any) -> tuple[str, str]:
    """A field, and what is wrong with it, beginning with its name."""
    field = next((str(s) for s in reversed(first["loc"]) if isinstance(s, str)), "")
    named = [str(s) for s in first["loc"] if isinstance(s, str) and s in _known(entry)]
    field = named[-1] if named else field
    if first["type"] == "extra_forbidden":
        known = ", ".join(entry.model_fields)
        return field, f"the field '{field}' is not known; known are {known}"
    wanted = {**_EXPECTED, **entry.expected}
    expected = wanted.get(field, f"a text of at most {LONGEST_TEXT} characters")
    if first["type"] == "missing":
        return field, f"the field '{field}' is missing; expected {expected}"
    found = repr(first["input"])
    found = found if len(found) <= 60 else found[:57] + "..."
    return field, f"{field}: expected {expected}, found {found}; correct it and save again"


def _known(entry: type[Entry]) -> set[str]:
    return {*entry.model_fields, *BoxItem.model_fields}
