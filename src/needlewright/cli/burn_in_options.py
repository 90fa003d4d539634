"""Options of a burn-in: what it does, and what is known beforehand."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Final

import typer

from needlewright.bench.burn_in.plan import BurnInPlan, plan_for, points_of
from needlewright.composing.burn_in_bench import chamber_of
from needlewright.composing.burn_in_statements import AS_STATED, Beforehand, laws_of
from needlewright.errors import UsageError
from needlewright.families.model import Family
from needlewright.plans.burn_in.early import PARTS, Clock, EarlyLaw
from needlewright.plans.burn_in.paying import Costs, cost_typed
from needlewright.plans.money import currency_named

HOURS: Final = 24.0
DWELL_S: Final = 280.0
CHECK_EVERY_H: Final = 1.0
MaybeFamily = Annotated[
    Path | None,
    typer.Option("--family", metavar="DIR", help="The family's folder; a job has its own."),
]
OfJob = Annotated[
    str | None,
    typer.Option("--job", metavar="TAG", help="Of a job in the shop's records: it is kept there."),
]
AsJson = Annotated[bool, typer.Option("--json", help="One JSON document.")]
Hours = Annotated[float, typer.Option(metavar="H", help="Hours with the power on.")]
Dwell = Annotated[
    float, typer.Option("--dwell", metavar="S", help="Seconds needles stand between sweeps.")
]
SweepsEach = Annotated[int, typer.Option(metavar="N", help="Sweeps between two dwells.")]
CheckEvery = Annotated[
    float, typer.Option(metavar="H", help="Hours between two visits of the check points.")
]
Given = Annotated[
    list[str] | None,
    typer.Option(
        "--points",
        metavar="DIAL=V,V...",
        help="Check points of a dial, rising, in its unit; three marks of its scale otherwise.",
    ),
]
NoLamps = Annotated[bool, typer.Option("--no-lamps", help="Leave the lamps off.")]
DarkLamps = Annotated[
    bool,
    typer.Option(
        "--dark-lamps",
        help="Switch the bench's light off for a look at the lamps at the end of each dwell.",
    ),
]
Chamber = Annotated[
    str,
    typer.Option(
        metavar="H=DEGC,...",
        help="What a chamber is set to from which hour on, like 0=23,2=-20,6=23.",
    ),
]
Prior = Annotated[
    list[str] | None,
    typer.Option(
        metavar="CLOCK=SHAPE,SCALE",
        help="Weibull law of early failures, like hours=0.5,400000 for the electronics or "
        "sweeps=0.5,2e7 for the movements.",
    ),
]
History = Annotated[
    Path | None,
    typer.Option(
        metavar="CSV", help="What became of rebuilt clusters: columns hours,sweeps,failed."
    ),
]
WarrantyHours = Annotated[
    float | None,
    typer.Option(metavar="H", help="Hours of power it holds; else as plan or catalogue promise."),
]
WarrantySweeps = Annotated[
    float | None,
    typer.Option(metavar="N", help="Sweeps it holds; else as plan or catalogue promise."),
]
MaybeConfidence = Annotated[
    float | None,
    typer.Option(
        "--confidence", metavar="C", help="One-sided, of what the run shows by itself; 0.95 else."
    ),
]
Confidence = Annotated[
    float, typer.Option(metavar="C", help="One-sided, of what the run shows by itself.")
]


def plan_of(
    family: Family,
    dials: tuple[str, ...],
    *,
    hours: float,
    dwell_s: float,
    sweeps_each: int,
    check_every_h: float,
    points: list[str],
    lamps: bool,
    chamber: str,
    dark_lamps: bool = False,
) -> BurnInPlan:
    """The plan as typed; raises RunError, UsageError."""
    found = points_of(family, dials)
    for text in points:
        name, _, numbers = (part.strip() for part in text.partition("="))
        if name not in found:
            raise UsageError(f"--points {text}: expected one of {', '.join(found) or 'no dial'}")
        try:
            found[name] = tuple(float(number) for number in numbers.split(","))
        except ValueError as error:
            raise UsageError(
                f"--points {text}: expected a dial and its values, like speed=40,80,120"
            ) from error
    return plan_for(
        family,
        hours=hours,
        dwell_s=dwell_s,
        sweeps_each=sweeps_each,
        check_every_h=check_every_h,
        points=found,
        lamps=lamps,
        dark_lamps=dark_lamps and lamps,
        chamber=chamber_of(chamber),
    )


def known_of(
    prior: list[str],
    history: Path | None,
    warranty: "Held",
    confidence: float,
    costs: "CostsTyped | None" = None,
    *,
    kept: Iterable[EarlyLaw] = (),
) -> Beforehand:
    """What is known beforehand, as typed, with laws as kept or taught where none is typed.

    Raises PlanError, UsageError, UnitError.
    """
    laws = laws_of(dict(_law(text) for text in prior), history, kept)
    paid = None if costs is None else costs.taken()
    currency = "" if costs is None or paid is None else currency_named(costs.currency)
    return Beforehand(laws, warranty.by_clock, confidence, paid, currency, warranty.said)


def _law(text: str) -> tuple[Clock, tuple[float, float]]:
    clock, _, numbers = (part.strip() for part in text.partition("="))
    try:
        shape, scale = (float(number) for number in numbers.split(","))
        known = next(one for one in PARTS if one == clock)
    except (ValueError, StopIteration) as error:
        raise UsageError(
            f"--prior {text}: expected CLOCK=SHAPE,SCALE, like hours=0.5,400000 or sweeps=0.5,2e7"
        ) from error
    return known, (shape, scale)


@dataclass(frozen=True, slots=True)
class Held:
    """What the warranty holds, and where that is from."""

    by_clock: Mapping[Clock, float]
    said: str


def held_of(hours: float | None, sweeps: float | None, usual: Held) -> Held:
    """The warranty as typed, and otherwise as usual."""
    if hours is None and sweeps is None:
        return usual
    typed: Mapping[Clock, float | None] = {"hours": hours, "sweeps": sweeps}
    by_clock = {
        clock: usual.by_clock[clock] if one is None else one for clock, one in typed.items()
    }
    stated = [clock for clock, one in typed.items() if one is not None]
    if len(stated) == len(typed) or not usual.said:  # what has no word on it was stated before
        return Held(by_clock, AS_STATED)
    return Held(by_clock, f"{stated[0]} {AS_STATED}, else {usual.said}")


class CostsTyped:
    """What a shop pays, as typed.

    Parameters
    ----------
    hour
        Of an hour at the bench; a decimal number.
    back
        Of a cluster that comes back.
    repair
        Of a repair on the bench.
    currency
        Its code.
    """

    def __init__(
        self, hour: str | None, back: str | None, repair: str | None, currency: str
    ) -> None:
        self._hour, self._back, self._repair, self.currency = hour, back, repair, currency

    def taken(self) -> Costs | None:
        """As numbers; None where none is given."""
        if self._hour is None and self._back is None and self._repair is None:
            return None
        if self._hour is None or self._back is None:
            raise UsageError("how long a burn-in pays needs both --cost-hour and --cost-return")
        return Costs(
            cost_typed("--cost-hour", self._hour),
            cost_typed("--cost-return", self._back),
            cost_typed("--cost-repair", self._repair or "0"),
        )
