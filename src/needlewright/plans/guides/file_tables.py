"""Guides as they are written: TOML people read and edit, each with its source."""

from typing import Annotated, Literal

from pydantic import Field

from needlewright.findings.troubleshooting.file_tables import Closed

Words = Annotated[str, Field(min_length=1, max_length=400)]
Listed = Literal["dials", "lamps", "tell_tales", "displays"]
Rows = Literal["loose_parts", "connectors", "fasteners"]


class StepTable(Closed):
    """What is done, and the drawing that shows it."""

    words: Words
    drawing: str | None = None


class CountedTable(Closed):
    """Parts counted out and in again."""

    what: Words
    count: Annotated[int, Field(ge=1, le=1000)] | None = None
    of: Listed | None = None
    fasteners: bool = False


class CheckTable(Closed):
    """What is checked afterwards, and with which command."""

    words: Words
    command: Words | None = None


class GuideTable(Closed):
    """A guide."""

    title: Words
    operations: Annotated[tuple[str, ...], Field(min_length=1)]
    open: tuple[str, ...] = ()
    cautions: Annotated[tuple[str, ...], Field(min_length=1)]
    own_cautions: tuple[Words, ...] = ()
    tools: Annotated[tuple[Words, ...], Field(min_length=1)]
    counted: tuple[CountedTable, ...] = ()
    good: Annotated[tuple[Words, ...], Field(min_length=1)]
    photos: Annotated[tuple[Words, ...], Field(min_length=1)]
    step: Annotated[tuple[StepTable, ...], Field(min_length=1)]
    check: Annotated[tuple[CheckTable, ...], Field(min_length=1)]
    source: Words


class LevelTable(Closed):
    """What every guide shares that opens a level."""

    tools: tuple[Words, ...] = ()
    counted: tuple[CountedTable, ...] = ()


class LevelsTable(Closed):
    """By level of the catalogue, what its guides share."""

    level: dict[str, LevelTable]
    source: Words


class RefitStepTable(StepTable):
    """A step of putting back; the lines of the family that belong to it."""

    rows: tuple[Rows, ...] = ()


class RefitPartTable(Closed):
    """One part of putting back."""

    title: Words
    step: Annotated[tuple[RefitStepTable, ...], Field(min_length=1)]


class RefitTable(Closed):
    """The sheet for whoever puts a cluster back."""

    title: Words
    wait: Words
    cautions: Annotated[tuple[Words, ...], Field(min_length=1)]
    good: Annotated[tuple[Words, ...], Field(min_length=1)]
    part: Annotated[tuple[RefitPartTable, ...], Field(min_length=1)]
    check: Annotated[tuple[CheckTable, ...], Field(min_length=1)]
    source: Words
