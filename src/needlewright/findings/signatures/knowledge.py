"""What is known before a run is looked at, from a file people can read and change."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Any, Final, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from needlewright.errors import RunError

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
FILE: Final = "knowledge.toml"


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)

    source: str = Field(min_length=3)


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


class _File(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)

    weights: dict[str, float | str]
    pairs: dict[str, float | str]
    movement: dict[str, dict[str, float] | str]
    sound: Sound
    sizes: Sizes
    wild: Wild

    @model_validator(mode="after")
    def _every_entry_is_known(self) -> "_File":
        for name in ("weights", "pairs", "movement"):
            part: Mapping[str, Any] = getattr(self, name)
            if not isinstance(part.get("source"), str):
                raise ValueError(f"[{name}] states no source")
            for key, weight in part.items():
                if key == "source":
                    continue
                codes = weight.keys() if isinstance(weight, dict) else key.split("+")
                strange = [code for code in codes if code not in CODES]
                if strange:
                    raise ValueError(f"[{name}] {key}: '{strange[0]}' is no fault a run can show")
                numbers = weight.values() if isinstance(weight, dict) else (weight,)
                if any(isinstance(n, str) or n < 0 for n in numbers):
                    raise ValueError(f"[{name}] {key}: a weight of 0 or more is expected")
        missing = [code for code in CODES if code not in self.weights]
        if missing:
            raise ValueError(f"[weights] has no '{missing[0]}'")
        return self


@dataclass(frozen=True, slots=True)
class Knowledge:
    """Checked, with the weights of every hypothesis."""

    weights: Mapping[Members, float]
    without_gears: Mapping[str, float]
    one_approach: Mapping[str, float]
    sound: Sound
    sizes: Sizes
    wild: Wild

    def prior(self, members: Members, *, gears: bool, both_ways: bool) -> float:
        """Weight of a hypothesis for a kind of movement and of run; 0 where it is not met."""
        weight = self.weights.get(tuple(code for code in CODES if code in members), 0.0)
        for code in members:
            weight *= 1.0 if gears else self.without_gears.get(code, 1.0)
            weight *= 1.0 if both_ways else self.one_approach.get(code, 1.0)
        return weight


def parse_knowledge(text: str, name: str = FILE) -> Knowledge:
    """Read and check the text of a knowledge file.

    Parameters
    ----------
    text
        TOML.
    name
        What the file is called in a sentence.

    Returns
    -------
    Knowledge
        Of every fault and pair a run can show.

    Raises
    ------
    RunError
        One sentence on what is wrong in it.
    """
    try:
        file = _File.model_validate(tomllib.loads(text))
    except tomllib.TOMLDecodeError as error:
        raise RunError(f"{name}: is no TOML ({error}); correct it") from error
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        place = ".".join(map(str, first["loc"]))
        words = first["msg"].removeprefix("Value error, ")
        raise RunError(f"{name}: {place + ': ' if place else ''}{words}; correct it") from error
    weights: dict[Members, float] = {}
    for key, weight in (*file.weights.items(), *file.pairs.items()):
        if key != "source":
            members = tuple(code for code in CODES if code in key.split("+"))
            weights[members] = float(weight)
    without, one_way = (
        part if isinstance(part := file.movement.get(name), dict) else {}
        for name in ("without_gears", "one_approach")
    )
    return Knowledge(weights, without, one_way, file.sound, file.sizes, file.wild)


@lru_cache(maxsize=1)
def shipped_knowledge() -> Knowledge:
    """What travels with the program."""
    return parse_knowledge((files(__package__) / FILE).read_text(encoding="utf-8"))
