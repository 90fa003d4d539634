"""What a burn-in does: how long, how often it sweeps, what it looks at, how cold it is."""

from collections.abc import Iterator, Mapping
from itertools import pairwise
from math import isfinite
from typing import Annotated, Any, Final

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from needlewright.amounts import figure
from needlewright.errors import RunError
from needlewright.families.model import Family

Finite = Annotated[float, Field(allow_inf_nan=False)]
SHARES: Final = (0.2, 0.5, 0.8)
"""Of a scale: a check point is the mark nearest to it."""
DWELL_SHARE: Final = 0.6
"""Of a scale, where needles stand between sweeps."""
SWEEP_S: Final = 20.0
"""So long a sweep takes with the key before and after it, about."""
LONGEST_H: Final = 10_000.0
LONGEST_DWELL_S: Final = 86_400.0
"""Needles are swept once a day at least (common practice, no source)."""
FURTHEST: Final = 1e9
"""Further from 0 no dial is told anything, in whatever unit."""
SAID: Final[Mapping[str, str]] = {
    "hours": "hours",
    "dwell_s": "dwell",
    "sweeps_each": "sweeps in a turn",
    "check_every_h": "check points every",
    "points": "check points",
    "chamber": "chamber",
}
"""What people call the fields of a plan."""
CAUTIONS: Final = (
    "never unattended without a current limit on the supply and a fuse in its lead",
    "on a surface that does not burn, nothing that burns within reach, a smoke detector above it",
    "the supply of a display or backlight can carry tens to hundreds of volts: cover it; switch "
    "off, wait and measure before touching it",
)
COLD_CAUTION: Final = (
    "a chamber: the cluster sealed in a bag with a drying sachet before it is cooled, and the bag "
    "shut until it is warmer than the room's dew point"
)


class BurnInPlan(BaseModel):
    """One burn-in."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    hours: Finite
    """With the power on."""
    dwell_s: Finite
    """Needles stand, lamps on, between two turns of sweeps."""
    sweeps_each: int
    """Sweeps in a turn."""
    check_every_h: Finite
    """How often the check points are visited; at the beginning and at the end in any case."""
    points: dict[str, tuple[Finite, ...]]
    """Check points of every dial that is told something, rising, in its unit."""
    lamps: bool = True
    dark_lamps: bool = False
    """Whether the bench's light is switched off for a look at the lamps at the end of a dwell."""
    chamber: tuple[tuple[Finite, Finite], ...] = ()
    """From which hour on a chamber is at which degC, as somebody has set it; empty: a room."""

    @property
    def dials(self) -> tuple[str, ...]:
        """Ids of the dials that are told something."""
        return tuple(self.points)

    @property
    def cautions(self) -> tuple[str, ...]:
        """For whoever leaves it running."""
        return (*CAUTIONS, COLD_CAUTION) if self.chamber else CAUTIONS

    @property
    def expected_sweeps(self) -> int:
        """How many sweeps there will be, about."""
        turn_s = self.dwell_s + self.sweeps_each * SWEEP_S
        return int(self.hours * 3600.0 / turn_s) * self.sweeps_each

    def temperature_degc(self, hour: float) -> float | None:
        """What the chamber is set to.

        Parameters
        ----------
        hour
            Of the burn-in.

        Returns
        -------
        float or None
            None: no chamber, or nothing is said of that hour.
        """
        said = [degc for begins, degc in self.chamber if begins <= hour + 1e-9]
        return said[-1] if said else None

    def visit(self) -> Iterator[Mapping[str, float]]:
        """What the dials are told at each step of a visit of the check points.

        Yields
        ------
        Mapping
            Values by dial, up and down again; a dial with fewer points waits at its last.
        """
        last = max(len(values) for values in self.points.values()) - 1
        for place in (*range(last + 1), *range(last - 1, -1, -1)):
            yield {
                dial: values[min(place, len(values) - 1)] for dial, values in self.points.items()
            }

    def comes_from_above(self, dial: str, step: int) -> bool:
        """Whether a needle comes to a step of a visit from a higher value.

        Parameters
        ----------
        dial
            Id.
        step
            Of `visit`, counted from 0.

        Returns
        -------
        bool
            False too where it waits at the value it had before.
        """
        return (dial, step) in self.steps_from_above

    @property
    def steps_from_above(self) -> frozenset[tuple[str, int]]:
        """Dials and steps of a visit at which a needle comes from a higher value."""
        told = list(self.visit())
        return frozenset(
            (dial, step)
            for step in range(1, len(told))
            for dial, value in told[step].items()
            if value < told[step - 1][dial]
        )


def plan_for(family: Family, **typed: Any) -> BurnInPlan:
    """Make a plan of what was typed.

    Parameters
    ----------
    family
        The cluster design.
    **typed
        Fields of `BurnInPlan`.

    Returns
    -------
    BurnInPlan
        That can be carried out.

    Raises
    ------
    RunError
        With what is wrong and what to do.
    """
    try:
        plan = BurnInPlan(**typed)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        field, *inside = first["loc"]
        name = SAID.get(str(field), str(field))
        where = f"dial '{inside[0]}', {name}" if field == "points" and inside else name
        found = str(first["input"])[:20]
        raise RunError(f"{where}: expected a finite number, found '{found}'; correct it") from error
    refuse_plan(plan, family)
    return plan


def refuse_plan(plan: BurnInPlan, family: Family) -> None:
    """Refuse a plan that cannot be carried out.

    Parameters
    ----------
    plan
        As typed.
    family
        The cluster design.

    Raises
    ------
    RunError
        With what is wrong and what to do.
    """
    if not (isfinite(plan.hours) and 0 < plan.hours <= LONGEST_H):
        raise RunError(
            f"burn-in of {figure(plan.hours)} h: give more than 0 and at most {figure(LONGEST_H)} "
            "hours"
        )
    if not 1.0 <= plan.dwell_s <= LONGEST_DWELL_S:
        raise RunError(
            f"dwell of {figure(plan.dwell_s)} s: give 1 to {figure(LONGEST_DWELL_S)} seconds"
        )
    if not 0 <= plan.sweeps_each <= 1000:
        raise RunError(f"{plan.sweeps_each} sweeps in a turn: give 0 to 1000")
    if not (isfinite(plan.check_every_h) and plan.check_every_h > 0):
        raise RunError(f"check points every {figure(plan.check_every_h)} h: give more than 0 hours")
    if not any(plan.points.values()):
        raise RunError("no dial can be told anything without a person: a burn-in has nothing to do")
    for dial, values in plan.points.items():
        if family.dial(dial) is None:
            known = ", ".join(one.id for one in family.dials)
            raise RunError(f"family '{family.name}' has no dial '{dial}': {known}")
        if not values or any(b <= a for a, b in pairwise(values)):
            found = ", ".join(figure(value) for value in values) or "none"
            raise RunError(f"dial '{dial}': check points must rise, found {found}")
        if any(abs(value) >= FURTHEST for value in values):
            raise RunError(f"dial '{dial}': check points must lie within {figure(FURTHEST)} of 0")
    hours = [hour for hour, _ in plan.chamber]
    if any(b <= a for a, b in pairwise(hours)) or any(hour < 0 for hour in hours):
        raise RunError("chamber: the hours must rise from 0 or more, as in 0=23,2=-20,6=23")
    if any(not -60.0 <= degc <= 120.0 for _, degc in plan.chamber):
        raise RunError("chamber: give temperatures from -60 to 120 degC")


def points_of(family: Family, dials: tuple[str, ...]) -> dict[str, tuple[float, ...]]:
    """Check points where nobody states any.

    Parameters
    ----------
    family
        The cluster design.
    dials
        Ids of those that are told something.

    Returns
    -------
    dict
        The marks nearest to a fifth, a half and four fifths of every scale.
    """
    found = {}
    for dial in family.dials:
        if dial.id in dials:
            marks = dial.scale.values
            wanted = [marks[0] + share * (marks[-1] - marks[0]) for share in SHARES]
            nearest = {min(marks, key=lambda mark, at=at: abs(mark - at)) for at in wanted}  # type: ignore[misc]
            found[dial.id] = tuple(float(one) for one in sorted(nearest))
    return found


def dwell_values(plan: BurnInPlan, family: Family) -> Mapping[str, float]:
    """Where needles stand between sweeps.

    Parameters
    ----------
    plan
        The plan.
    family
        The cluster design.

    Returns
    -------
    Mapping
        The mark nearest to six tenths of every scale.
    """
    told = {}
    for dial in family.dials:
        if dial.id in plan.points:
            marks = dial.scale.values
            wanted = marks[0] + DWELL_SHARE * (marks[-1] - marks[0])
            told[dial.id] = float(min(marks, key=lambda mark, at=wanted: abs(mark - at)))  # type: ignore[misc]
    return told
