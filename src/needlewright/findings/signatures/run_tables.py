"""The tables of the knowledge file on what a run shows, and the faults a run can show."""

from collections.abc import Mapping
from typing import Annotated, Final, Literal

from pydantic import BaseModel, ConfigDict, Field

FaultCode = Literal[
    "sound",
    "needle_offset",
    "scale_factor",
    "lost_steps",
    "backlash",
    "dragging",
    "stalled",
    "blocked",
    "wrong_face",
    "erratic",
]
CODES: Final[tuple[FaultCode, ...]] = (
    "sound",
    "needle_offset",
    "scale_factor",
    "lost_steps",
    "backlash",
    "dragging",
    "stalled",
    "blocked",
    "wrong_face",
    "erratic",
)
"""Faults that a run can show, in the order of the vocabulary."""
UNITS: Final[Mapping[FaultCode, str | None]] = {
    "sound": None,
    "needle_offset": "deg",
    "scale_factor": "ratio",
    "lost_steps": "cycle",
    "backlash": "deg",
    "dragging": "deg",
    "stalled": "deg",
    "blocked": "deg",
    "wrong_face": "deg",
    "erratic": "deg",
}
Members = tuple[FaultCode, ...]
Weight = Annotated[float, Field(ge=0)]


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)

    source: str = Field(min_length=3)


class Dials(_Part):
    """How often a dial whose run is explained is sound, for 100 that have one fault."""

    sound: float = Field(gt=0)


class Pairs(_Part):
    """How often two faults come together, for 100 dials that have one; `a+b`."""

    met: dict[str, Weight]


class MovementKinds(_Part):
    """By what a weight is multiplied for a kind of movement, and for a kind of run."""

    without_gears: dict[str, Weight]
    one_approach: dict[str, Weight]


class Sound(_Part):
    """What a sound gauge may have of its own, standard deviations in degrees."""

    seat_deg: float = Field(gt=0)
    approach_deg: float = Field(gt=0)
    approach_without_gears_deg: float = Field(gt=0)


class Sizes(_Part):
    """What faults are taken to be before the run: widths, medians and factors."""

    offset_deg: float = Field(gt=0)
    least_deg: float = Field(ge=0)
    slight_deg: float = Field(gt=0)
    slight_share: float = Field(gt=0, lt=1)
    turned_deg: float = Field(gt=0)
    turned_share: float = Field(gt=0, lt=1)
    ratio_factor: float = Field(gt=1)
    mile_share: float = Field(ge=0, lt=1)
    backlash_deg: float = Field(gt=0)
    backlash_factor: float = Field(gt=1)
    lag_deg: float = Field(gt=0)
    lag_factor: float = Field(gt=1)
    shape_deg: tuple[float, ...] = Field(min_length=1)
    shape_length: tuple[float, ...] = Field(min_length=1)
    erratic_deg: float = Field(gt=0)
    erratic_factor: float = Field(gt=1)
    against_motion: float = Field(gt=0, lt=1)
    block_above: float = Field(gt=0, lt=1)
    lag_constant_without_gears: float = Field(ge=0, le=1)
    lag_constant_with_gears: float = Field(ge=0, le=1)


class Wild(_Part):
    """How often a row is simply wrong, and how far."""

    share_of_runs: float = Field(gt=0, lt=0.5)
    share_of_runs_two: float = Field(gt=0, lt=0.5)
    within_deg: float = Field(gt=0)


class RunTables(BaseModel):
    """What is known before a run is looked at, beside how often each fault is met."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    dials: Dials
    pairs: Pairs
    movement: MovementKinds
    sound: Sound
    sizes: Sizes
    wild: Wild


def pair_of(name: str) -> Members:
    """The faults of `a+b`, in the order of the vocabulary; fewer than two: it is no pair."""
    named = name.split("+")
    return tuple(code for code in CODES[1:] if code in named) if len(named) == 2 else ()
