"""How long a burn-in pays: what an hour of it costs, against what it spares."""

from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from math import exp, log
from typing import Final

from needlewright.amounts import figure, hours_words
from needlewright.errors import PlanError
from needlewright.plans.burn_in.early import NO_PAY
from needlewright.plans.wear.weibull import Weibull

DEAREST: Final = 1e12
LAST_HOURS: Final = 1e6
"""Longer burn-ins are not looked through for the one that costs least."""
FIRST_HOURS: Final = 1e-100
"""Nor shorter ones."""


@dataclass(frozen=True, slots=True)
class Costs:
    """What a shop pays, in one currency.

    Parameters
    ----------
    hour
        An hour at the bench, one unit.
    back
        A unit that fails within its warranty: shipping both ways, labour, goodwill.
    repair
        One that fails on the bench.
    """

    hour: float
    back: float
    repair: float = 0.0

    def __post_init__(self) -> None:
        for name, value in (("bench hour", self.hour), ("return", self.back)):
            if not 0 < value < DEAREST:
                raise PlanError(
                    f"cost of a {name}: must be above 0 and below {figure(DEAREST)}, found "
                    f"{figure(value)}; correct it"
                )
        if not 0 <= self.repair < DEAREST:
            raise PlanError(
                f"cost of a repair on the bench: must be 0 or more and below "
                f"{figure(DEAREST)}, found {figure(self.repair)}; correct it"
            )


def cost_typed(where: str, text: str) -> float:
    """A cost as typed; raises PlanError, with where it stands, if it is no number."""
    try:
        value = Decimal(text)
        if value.is_finite():
            return float(value)
    except InvalidOperation:
        pass
    raise PlanError(
        f"{where}: expected an amount with a decimal point, like 4.50, found '{text[:20]}'"
    )


@dataclass(frozen=True, slots=True)
class BestHours:
    """How long a burn-in pays.

    Parameters
    ----------
    hours
        Where it costs least; None: no burn-in does.
    saved
        What it spares by then against none, for one unit; 0 without hours.
    words
        One sentence.
    """

    hours: float | None
    saved: float
    words: str


def cost_of(law: Weibull, hours: float, warranty: float, costs: Costs) -> float:
    """What a burn-in and the warranty after it cost for one unit, on average.

    Parameters
    ----------
    law
        Of its parts, in hours.
    hours
        Of burn-in.
    warranty
        Hours it holds.
    costs
        Of the shop.

    Returns
    -------
    float
        Hour x hours + repair x H(hours) + back x (H(hours + warranty) - H(hours)).

    Notes
    -----
    What fails is repaired and is then as likely to fail as it was just before, so that failures
    come at the rate of the hazard. **Source**: minimal repair, Barlow and Proschan, Mathematical
    Theory of Reliability, chapter 4 (from memory); derivation: docs/decisions/0064.
    """
    early, whole = law.hazard_sum(hours), law.hazard_sum(hours + warranty)
    return costs.hour * hours + costs.repair * early + costs.back * (whole - early)


def best_hours(law: Weibull, warranty: float, costs: Costs) -> BestHours:
    """How many hours of burn-in cost least.

    Parameters
    ----------
    law
        Of the parts, in hours.
    warranty
        Hours it holds.
    costs
        Of the shop.

    Returns
    -------
    BestHours
        Without hours where the shape is 1 or more, a failure on the bench costs no less than one
        in the warranty, or the costs and the law put it beyond all that anybody would do.

    Notes
    -----
    The cost's slope is hour - ((back - repair) h(t) - back h(t + warranty)). With a shape below 1
    the bracket falls from beyond all limits for as long as it is above 0, so it meets the cost of
    an hour once. **Source**: as `cost_of`.
    """
    if law.shape >= 1:
        return BestHours(None, 0.0, NO_PAY.format(shape=law.shape))
    if costs.repair >= costs.back:
        return BestHours(
            None,
            0.0,
            f"no burn-in pays: a failure on the bench costs {figure(costs.repair)}, one in "
            f"the warranty {figure(costs.back)}",
        )

    def spared(log_hours: float) -> float:
        """What the next hour spares, over what it costs."""
        hours = exp(log_hours)
        later = hours + warranty
        now = law.shape * law.hazard_sum(hours) / hours
        then = law.shape * law.hazard_sum(later) / later
        return (costs.back - costs.repair) * now - costs.back * then - costs.hour

    from scipy.optimize import brentq  # noqa: PLC0415 (half a second that few plans wait for)

    # an hour's hazard alone cannot be worth an hour beyond the high end
    worth = log(costs.back) + log(law.shape) - log(costs.hour) - log(law.scale)
    high = min(log(law.scale) + worth / (1 - law.shape), log(LAST_HOURS))
    low = high
    while low > log(FIRST_HOURS) and spared(low) <= 0:
        low -= 1.0
    if low <= log(FIRST_HOURS):
        words = "no burn-in pays: even its first moment costs more than it spares"
        return BestHours(None, 0.0, words)
    if spared(high) > 0:
        words = (
            f"even {figure(LAST_HOURS)} h of burn-in spare more than they cost; look at the costs "
            "again"
        )
        return BestHours(None, 0.0, words)
    hours = exp(float(brentq(spared, low, high + 1e-9, xtol=1e-12))) if low < high else exp(high)
    saved = cost_of(law, 0.0, warranty, costs) - cost_of(law, hours, warranty, costs)
    words = (
        f"{hours_words(hours)} of burn-in cost least: the hour after them spares no more than it "
        "costs"
    )
    return BestHours(hours, saved, words)
