"""What programs send, as far as it is checked before the records check it."""

from collections.abc import Mapping
from typing import Annotated, Any, Final, TypeVar

from fastapi import Path, Query
from pydantic import AfterValidator, BaseModel, ConfigDict, Field, WithJsonSchema

from needlewright.records.entries import Entry
from needlewright.records.words import DecisionKind, RunSide, WaitsFor

LARGEST_ID: Final = 2**63 - 1
LARGEST_VERSION: Final = 2**31 - 1
T = TypeVar("T")


def _writable(value: T) -> T:
    """Refuse half characters, which no file and no answer can hold."""
    _look_through(value)
    return value


def _look_through(value: Any) -> None:
    if isinstance(value, str):
        if any("\ud800" <= c <= "\udfff" for c in value):
            raise ValueError("a text holds half a character")
    elif isinstance(value, Mapping):
        for key, one in value.items():
            _look_through(key)
            _look_through(one)
    elif isinstance(value, list):
        for one in value:
            _look_through(one)


def inlined(schema: Mapping[str, Any]) -> dict[str, Any]:
    """A model's JSON Schema with what it refers to put in place, so that it stands anywhere."""
    definitions: Mapping[str, Any] = schema.get("$defs", {})

    def put_in(part: Any) -> Any:
        if isinstance(part, list):
            return [put_in(one) for one in part]
        if not isinstance(part, Mapping):
            return part
        name = str(part.get("$ref", "")).removeprefix("#/$defs/")
        if name in definitions:
            return put_in(definitions[name])
        return {key: put_in(one) for key, one in part.items() if key != "$defs"}

    return dict(put_in(schema))


def fields_of(entry: type[Entry]) -> WithJsonSchema:
    """Documents what the records themselves check, with one sentence for what is wrong."""
    return WithJsonSchema(inlined(entry.model_json_schema()))


Plain = Annotated[str, Field(max_length=4_000), AfterValidator(_writable)]
Fields = Annotated[dict[str, Any], AfterValidator(_writable)]
Id = Annotated[int, Path(ge=1, le=LARGEST_ID)]
Seen = Annotated[int | None, Query(ge=0, le=LARGEST_VERSION)]
"""The version the program was looking at; 409 where somebody saved the same field since."""
By = Annotated[str | None, Query(max_length=200)]
"""Who does it; else the person of the session, else the shop's only one."""


class Body(BaseModel):
    """Anything sent."""

    model_config = ConfigDict(extra="forbid")


class PersonBody(Body):
    """Who is at work in this session."""

    person: Plain | None = None


class WaitsBody(Body):
    """What a job waits for."""

    what: WaitsFor


class NoteBody(Body):
    """A note."""

    text: Plain


class DecisionBody(Body):
    """A decision and its reason."""

    text: Plain
    why: Plain
    kind: DecisionKind = "other"


class InstrumentsBody(Body):
    """The instruments a job is done with, by number."""

    numbers: Annotated[list[Plain], Field(max_length=100)]


class WhyBody(Body):
    """A reason."""

    why: Plain


class RowBody(Body):
    """What one dial is told at one step."""

    step: Annotated[int, Field(ge=0, le=10_000)]
    dial: Plain
    unit: Plain
    approach: Annotated[str, Field(pattern="^(up|down|rest)$")]
    commanded: Annotated[float | None, Field(allow_inf_nan=False)] = None
    temperature_c: Annotated[float | None, Field(allow_inf_nan=False)] = None
    u_commanded: Annotated[float | None, Field(allow_inf_nan=False, ge=0)] = None
    key_cycle: Annotated[int | None, Field(ge=0, le=1_000_000)] = None
    supply_v: Annotated[float | None, Field(allow_inf_nan=False)] = None
    time: Plain | None = None


class RunBody(Body):
    """A run."""

    side: RunSide
    rows: Annotated[list[RowBody] | None, Field(max_length=5_000)] = None
    """None: proposed from the rules' check points."""
    name: Plain | None = None
    temperature_c: Annotated[float | None, Field(allow_inf_nan=False)] = None
    """For proposed rows."""


class PaperBody(Body):
    """A paper to issue."""

    asked: Annotated[str, Field(pattern="^(certificate|report)$")] = "certificate"
    because: Plain | None = None
    """Why it replaces the one before it, where there is one."""
    authorised_by: Plain | None = None


class NoticeBody(Body):
    """The notice of an odometer that could not keep its mileage."""

    because: Plain | None = None
    """Why it replaces the one before it, where there is one."""


class NewPersonBody(Body):
    """Somebody who works in the shop."""

    name: Plain


class NewInstrumentBody(Body):
    """An instrument of the bench."""

    name: Plain
    number: Plain
    due: Plain | None = None
    """A day such as 2026-03-02."""
    traceable_to: Plain | None = None
