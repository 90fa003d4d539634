"""The two statements on a burn-in, which are never mixed: what was to be expected, what it shows.

The first is made of what was known beforehand alone, the second of the run alone.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from needlewright.bench.burn_in.journal import Counts
from needlewright.errors import PlanError
from needlewright.papers.wording import count_words, grouped, hours_words
from needlewright.plans.burn_in.early import (
    PARTS,
    STATED,
    Clock,
    EarlyLaw,
    Expected,
    expected,
    residual,
)
from needlewright.plans.burn_in.history import read_history
from needlewright.plans.burn_in.one_unit import (
    CONFIDENCE,
    Shown,
    shown_by,
    success_run,
    zero_failure_hours,
)
from needlewright.plans.burn_in.paying import BestHours, Costs, best_hours
from needlewright.plans.wear.weibull import Weibull

LEAST_MEAN: Final[Mapping[Clock, float]] = {"hours": 1.0, "sweeps": 20.0}
"""A lower bound of the mean between failures below an hour of driving, or so many sweeps as are
made in it, says nothing: who drives the cluster once sees more (common practice, no source)."""
AS_STATED: Final = "as stated"
AS_GOOD_AS_ONE: Final = 0.99
"""A bound above this says nothing of whether it fails."""
REHEARSED: Final = "rehearsed: nothing of this was seen on a real cluster, and it proves nothing"


@dataclass(frozen=True, slots=True)
class LeftRun:
    """Where a run before the burn-in had the needles, come to from below.

    Parameters
    ----------
    name
        Of the run, for people.
    at
        When it was begun, ISO 8601.
    angles_deg
        Angle and its standard uncertainty (k = 1) by dial and value told.
    """

    name: str
    at: str
    angles_deg: Mapping[tuple[str, float], tuple[float, float]]


@dataclass(frozen=True, slots=True)
class Beforehand:
    """What is known before a run."""

    laws: tuple[EarlyLaw, ...]
    warranty: Mapping[Clock, float]
    confidence: float = CONFIDENCE
    costs: Costs | None = None
    currency: str = ""
    warranty_from: str = ""
    """Where the warranty's hours and sweeps come from, in words; empty: as stated."""
    left: LeftRun | None = None
    """Of the same cluster; none of either statement is made of it."""


def laws_of(
    prior: Mapping[Clock, tuple[float, float]],
    history: Path | None,
    kept: Iterable[EarlyLaw] = (),
) -> tuple[EarlyLaw, ...]:
    """The laws of early failures.

    Parameters
    ----------
    prior
        Shape and scale as stated, by clock.
    history
        What became of the shop's rebuilt clusters; None: nothing is known. It teaches a law of
        which something failed.
    kept
        Laws as a shop taught them or a burn-in kept them, for clocks of which none is stated;
        without one, the usual law.

    Returns
    -------
    tuple of EarlyLaw
        Hours first.

    Raises
    ------
    PlanError
        If one cannot be, or the table cannot be used.
    """
    lives = {} if history is None else read_history(history)
    known = {one.clock: one for one in kept}
    found = []
    for clock in PARTS:
        one = known.get(clock) or EarlyLaw(clock, STATED[clock], "usual, no source")
        if clock in prior:
            one = EarlyLaw(clock, Weibull(*prior[clock]), "stated")
        try:
            found.append(one.taught(lives[clock]) if clock in lives else one)
        except PlanError as error:
            raise PlanError(f"{history}, {PARTS[clock]}: {error}") from error
    return tuple(found)


def expected_of(known: Beforehand, counts: Counts) -> tuple[Expected, ...]:
    """What a burn-in of so much lets expect; raises PlanError."""
    done: Mapping[Clock, float] = {"hours": counts.hours, "sweeps": float(counts.sweeps)}
    return tuple(expected(law, done[law.clock], known.warranty[law.clock]) for law in known.laws)


def beforehand_document(
    known: Beforehand, counts: Counts, *, came_through: bool = True
) -> dict[str, Any]:
    """The statement made of what was known beforehand alone.

    Parameters
    ----------
    known
        The laws and the warranty.
    counts
        Of the burn-in, done or planned.
    came_through
        Whether nothing failed in it: what is expected after it is of such a unit only.

    Returns
    -------
    dict
        With `words`.
    """
    parts = expected_of(known, counts)
    new = 1.0
    for part in parts:
        new *= 1.0 - part.without
    without, after = 1.0 - new, residual(parts) if came_through else None
    hours, sweeps = known.warranty["hours"], known.warranty["sweeps"]
    words = (
        f"from what was known beforehand alone, {without:.1%} of such clusters fail within "
        f"{hours_words(hours)} and {count_words(round(sweeps), 'sweep')} of warranty"
    )
    swept = count_words(counts.sweeps, "sweep")
    done = f"{hours_words(counts.hours)} and {swept} of burn-in"
    if after is None:
        words += f"; this one failed in {done}, and of such a one nothing is said here"
    else:
        words += f", and {after:.1%} of those that came through {done}"
    return {
        "parts": [
            {
                "clock": part.law.clock,
                "part": PARTS[part.law.clock],
                "shape": part.law.law.shape,
                "scale": part.law.law.scale,
                "from": part.law.said,
                "burn_in": part.done,
                "warranty": part.warranty,
                "fails_without": part.without,
                "fails_in_burn_in": part.on_bench,
                "fails_after": part.after if came_through else None,
                "takes_away": part.law.law.shape < 1,
            }
            for part in parts
        ],
        "fails_without": without,
        "fails_after": after,
        "warranty_from": known.warranty_from or AS_STATED,
        "words": words,
    }


def shown_document(
    known: Beforehand, counts: Counts, failures: Mapping[Clock, int], *, rehearsed: bool
) -> dict[str, Any]:
    """The statement made of one unit's run alone.

    Parameters
    ----------
    known
        For the warranty and the confidence; its laws are not looked at.
    counts
        What the unit has lived through.
    failures
        In it, by clock.
    rehearsed
        Whether no real cluster was there.

    Returns
    -------
    dict
        With `words`; a clock that has not run shows nothing.
    """
    lived: Mapping[Clock, float] = {"hours": counts.hours, "sweeps": float(counts.sweeps)}
    shown = {
        clock: shown_by(lived[clock], failures.get(clock, 0), known.confidence)
        for clock in PARTS
        if lived[clock] > 0
    }
    said = [_shown_words(clock, one, known) for clock, one in shown.items()]
    words = "; ".join(said) if said else "nothing has run yet, so nothing is shown"
    if rehearsed:
        words += f" ({REHEARSED})"
    return {
        "confidence": known.confidence,
        "rehearsed": rehearsed,
        "parts": [
            {
                "clock": clock,
                "part": PARTS[clock],
                "lived": one.lived,
                "failures": one.failures,
                "most_failures_each": one.rate,
                "least_mean_between": one.mean,
                "warranty": known.warranty[clock],
                "most_fails_within": one.within(known.warranty[clock]),
            }
            for clock, one in shown.items()
        ],
        "words": words,
    }


def _shown_words(clock: Clock, one: Shown, known: Beforehand) -> str:
    count = count_words(one.failures, "failure") if one.failures else "no failure"
    done = f"{_amount(clock, one.lived)} of this one unit with {count} of the {PARTS[clock]}"
    if is_too_short(clock, one.mean):
        return f"{done}: too short to say anything by itself"
    ahead, within = _amount(clock, known.warranty[clock]), one.within(known.warranty[clock])
    left = f"a failure within {ahead} may be {within:.0%} probable"
    if within > AS_GOOD_AS_ONE:
        left = f"nothing is shown against a failure within {ahead}"
    return (
        f"{done} show by themselves, at {one.confidence:.0%}, a mean of at least "
        f"{_amount(clock, one.mean)} between failures: {left}"
    )


def is_too_short(clock: Clock, mean: float) -> bool:
    """Whether a lower bound of the mean between failures is too low to say anything."""
    return mean < LEAST_MEAN[clock]


def _amount(clock: Clock, lived: float) -> str:
    return hours_words(lived) if clock == "hours" else count_words(int(lived), "sweep")


def best_of(known: Beforehand) -> BestHours | None:
    """How long a burn-in pays; None: nothing is known of costs."""
    if known.costs is None:
        return None
    law = next(one for one in known.laws if one.clock == "hours")
    return best_hours(law.law, known.warranty["hours"], known.costs)


def batch_document(mean_h: float, reliability: float, confidence: float) -> dict[str, Any]:
    """What a batch must come through without a failure to show something.

    Parameters
    ----------
    mean_h
        Hours between failures that are to be shown.
    reliability
        Share of units that are to be shown to come through.
    confidence
        One-sided.

    Returns
    -------
    dict
        With `words`.
    """
    hours = zero_failure_hours(mean_h, confidence)
    units = success_run(reliability, confidence)
    words = (
        f"to show at {confidence:.0%}: {_batch_hours(hours)} of all units together without a "
        f"failure for a mean of {_batch_hours(mean_h)} between failures; "
        f"{count_words(units, 'unit')} without a failure for "
        f"{reliability:.1%} that come through"
    )
    return {
        "mean_h": mean_h,
        "reliability": reliability,
        "confidence": confidence,
        "hours_without_failure": hours,
        "units_without_failure": units,
        "words": words,
    }


def _batch_hours(hours: float) -> str:
    """Hours of a batch, which are many: whole ones above a hundred."""
    return f"{grouped(hours)} h" if hours >= 100 else hours_words(hours)
