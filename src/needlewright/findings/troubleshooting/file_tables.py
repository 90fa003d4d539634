"""The tables of the knowledge file on causes, what shows them and what cures them."""

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

Share = Annotated[float, Field(gt=0, lt=1)]
Part = Annotated[float, Field(gt=0, le=1)]
Minutes = Annotated[float, Field(ge=0)]
Words = Annotated[str, Field(min_length=1)]


class Closed(BaseModel):
    """A table of the file; a misspelt key must not pass for a default."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class CauseTable(Closed):
    """Something that can be wrong."""

    scope: Literal["dial", "whole"]
    inside: bool
    prior: Share
    words: Words
    brings: dict[str, Share] = Field(default_factory=dict)
    parts: dict[str, Part] = Field(default_factory=dict)
    source: Words


class FindingTable(Closed):
    """A question or a test."""

    scope: Literal["dial", "whole"]
    place: Literal["asked", "vehicle", "bench"]
    words: Words
    shown_by: dict[str, Share] = Field(min_length=1)
    otherwise: Share
    minutes: Minutes
    risk_minutes: Minutes = 0.0
    opens: bool = False
    source: Words


class RemedyTable(Closed):
    """What may be done about causes."""

    scope: Literal["dial", "whole"]
    inside: bool
    words: Words
    cures: dict[str, Share] = Field(min_length=1)
    minutes: Annotated[float, Field(gt=0)]
    includes: tuple[str, ...] = ()
    source: Words


class WorkTable(Closed):
    """What it takes to come to the inside."""

    send_minutes: Minutes
    open_minutes: Minutes
    check_minutes: Minutes
    give_up_minutes: Minutes
    source: Words


class PartTable(Closed):
    """A part inside a dial."""

    words: Words
    source: Words


class PointingTable(Closed):
    """What it is worth when an analysis points at a part."""

    ratio: Annotated[float, Field(ge=1)]
    source: Words
