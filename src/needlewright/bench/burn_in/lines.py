"""The lines of a burn-in's journal: what each kind of them holds."""

from pathlib import PurePosixPath
from typing import Annotated, Final, Literal

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter

from needlewright.bench.burn_in.plan import BurnInPlan

Finite = Annotated[float, Field(allow_inf_nan=False)]
Count = Annotated[int, Field(ge=0)]
Ending = Literal["finished", "stopped", "failed"]


class Counts(BaseModel):
    """What a unit has lived through."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    powered_s: Annotated[float, Field(ge=0, allow_inf_nan=False)] = 0.0
    sweeps: Count = 0
    key_ons: Count = 0

    @property
    def hours(self) -> float:
        """With the power on."""
        return self.powered_s / 3600.0


class _Line(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")

    at: str
    """Of the wall's clock, ISO 8601, UTC."""
    counts: Counts


class Begun(_Line):
    """The first line."""

    kind: Literal["begun"] = "begun"
    format: Literal[1] = 1
    family: str
    cluster: str
    """`bench`, or how it was rehearsed."""
    unit: str
    """Which cluster, as people tell it from others."""
    plan: BurnInPlan


class GoneOn(_Line):
    """The program was started again."""

    kind: Literal["gone_on"] = "gone_on"
    by: str | None = None
    """Who had it go on; None: nobody said."""
    cut_off: bool = False
    """Whether the line before was not written to its end, as by a power cut, and is left out."""


class Beat(_Line):
    """Nothing happened; hours are counted so far."""

    kind: Literal["beat"] = "beat"
    amperes: Finite | None = None
    doing: str = ""


class Looked(_Line):
    """A needle was read at a check point."""

    kind: Literal["look"] = "look"
    visit: Count
    dial: str
    value: Finite
    """What it was told, in its unit."""
    angle_deg: Finite | None
    u_angle_deg: Finite | None
    """Standard uncertainty, k = 1, with what is common to all looks."""
    reason: str | None = None
    """Why it was not read."""
    temperature_c: Finite | None = None
    photo: str | None = None
    """File, relative to the journal's folder."""

    @property
    def step(self) -> int:
        """Of its visit, as its photo is named: `looks/0003-4.jpg` is step 4 of visit 3; else 0."""
        _, dash, step = PurePosixPath(self.photo or "").stem.rpartition("-")
        return int(step) if dash and step.isdecimal() else 0


class Visited(_Line):
    """All check points were visited."""

    kind: Literal["visited"] = "visited"
    visit: Count


class LampsSeen(_Line):
    """What lamps gave at the beginning of the first dwell, and at the end of each."""

    kind: Literal["lamps"] = "lamps"
    light: dict[str, Finite]
    """Beside the unlit picture, 1 the photo's white, by lamp."""
    dark_bench: bool = False
    """Whether the bench's light was off for it."""
    looks: Count = 0
    """So often they were looked at in the dwell before."""
    dark: dict[str, Count] = Field(default_factory=dict)
    """In so many of those looks a lamp was dark; lamps that never were are left out."""
    looks_not_judged: Count = 0
    """So many more looks could not be judged, because the room's light had changed."""


class Happened(_Line):
    """An event."""

    kind: Literal["event"] = "event"
    what: str
    where: str
    """A dial, a lamp, or `cluster`."""
    words: str
    size: Finite | None = None
    pictures: tuple[str, ...] = ()
    """Files, relative to the journal's folder, in time."""
    picture_s: tuple[Finite, ...] = ()
    """When each was taken, seconds from the event."""
    temperature_c: Finite | None = None


class Ended(_Line):
    """The run ended, for the time being or for good."""

    kind: Literal["ended"] = "ended"
    state: Ending
    words: str


Line = Begun | GoneOn | Beat | Looked | Visited | LampsSeen | Happened | Ended
LINE: Final[TypeAdapter[Line]] = TypeAdapter(Annotated[Line, Field(discriminator="kind")])
"""Reads one."""
