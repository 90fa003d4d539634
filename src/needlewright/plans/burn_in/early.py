"""Early failures: their law, what of it a burn-in leaves for the warranty, and how long it pays.

All of this is said from what was known before a run: a stated law, or what came back to the shop.
Nothing here looks at the unit on the bench; what its run shows stands in `one_unit`.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import exp, isfinite, log
from types import MappingProxyType
from typing import Final, Literal

from needlewright.errors import PlanError
from needlewright.plans.wear.fit import Lives, learned_law
from needlewright.plans.wear.weibull import Weibull

Clock = Literal["hours", "sweeps"]
"""Electronics fail by hours of power, movements by sweeps to full scale and back."""
PARTS: Final[Mapping[Clock, str]] = MappingProxyType(
    {"hours": "electronics", "sweeps": "movements"}
)
STATED: Final[Mapping[Clock, Weibull]] = MappingProxyType(
    {"hours": Weibull(0.5, 400_000.0), "sweeps": Weibull(0.5, 20_000_000.0)}
)
"""A rebuilt cluster's: 3.5 % of the electronics fail within 500 h, 2.2 % of the movements within
10 000 sweeps, and half of these within the first quarter (common practice, no source)."""
NO_PAY: Final = (
    "burn-in takes nothing away here: with a shape of {shape:.3g} a unit that has run fails no "
    "less often than a new one"
)


@dataclass(frozen=True, slots=True)
class EarlyLaw:
    """How the parts of one clock fail.

    Parameters
    ----------
    clock
        What it counts.
    law
        Weibull's.
    said
        Where it comes from, for people.
    """

    clock: Clock
    law: Weibull
    said: str = "stated"

    def __post_init__(self) -> None:
        for name, value in (("shape", self.law.shape), ("scale", self.law.scale)):
            if not (isfinite(value) and value > 0):
                raise PlanError(
                    f"early failures of the {PARTS[self.clock]}: the {name} must be above 0, found "
                    f"{value:g}; correct it"
                )

    def taught(self, lives: Lives) -> "EarlyLaw":
        """The law with what came back to the shop.

        Parameters
        ----------
        lives
            Ages at failure, and of units that have not failed.

        Returns
        -------
        EarlyLaw
            As it was where nothing has failed.

        Raises
        ------
        PlanError
            If the lives tell no law.
        """
        fit = learned_law(self.law, lives)
        if fit is None:
            return self
        what = "shape and scale" if fit.is_shape_fitted else "scale, the shape as stated,"
        failed, running = len(lives.failed), len(lives.running)
        came = "failure" if failed == 1 else "failures"
        words = f"{what} from the shop's {failed} {came} and {running} that still run"
        return replace(self, law=fit.law, said=words)


@dataclass(frozen=True, slots=True)
class Expected:
    """What a law lets expect of the warranty, without a burn-in and after one.

    Parameters
    ----------
    law
        Of the parts.
    done
        Burn-in, on the law's clock.
    warranty
        What the warranty holds, on the same clock.
    """

    law: EarlyLaw
    done: float
    warranty: float

    @property
    def without(self) -> float:
        """Probability that a new one fails within the warranty."""
        return self.law.law.fails_within(self.warranty)

    @property
    def on_bench(self) -> float:
        """Probability that it fails in the burn-in, where nobody else sees it."""
        return self.law.law.fails_within(self.done)

    @property
    def after(self) -> float:
        """Probability that one that came through the burn-in fails within the warranty."""
        return self.law.law.fails_within(self.warranty, self.done)


def expected(law: EarlyLaw, done: float, warranty: float) -> Expected:
    """What a burn-in lets expect.

    Parameters
    ----------
    law
        Of the parts.
    done
        Burn-in, on the law's clock, 0 or more.
    warranty
        What the warranty holds on it, above 0.

    Returns
    -------
    Expected
        Probabilities before, during and after.

    Raises
    ------
    PlanError
        If a number cannot be.

    Notes
    -----
    **Source**: 1 - S(done + warranty) / S(done), NIST/SEMATECH e-Handbook of Statistical Methods,
    8.1.6.2 and 8.1.2.2.
    """
    if not (isfinite(done) and done >= 0):
        raise PlanError(f"burn-in: {done:g} {law.clock} cannot be; give 0 or more")
    if not (isfinite(warranty) and warranty > 0):
        raise PlanError(
            f"warranty: it must hold more than 0 {law.clock}, found {warranty:g}; correct it"
        )
    return Expected(law, done, warranty)


def residual(parts: tuple[Expected, ...]) -> float:
    """Probability that anything fails within the warranty after a burn-in.

    Parameters
    ----------
    parts
        One for each clock, taken as independent.

    Returns
    -------
    float
        1 - the product of what each survives by.
    """
    alive = 1.0
    for part in parts:
        alive *= 1.0 - part.after
    return 1.0 - alive


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


def cost_of(law: Weibull, hours: float, warranty: float, costs: "Costs") -> float:
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
            if not (isfinite(value) and value > 0):
                raise PlanError(f"cost of a {name}: must be above 0, found {value:g}; correct it")
        if not (isfinite(self.repair) and self.repair >= 0):
            raise PlanError(
                f"cost of a repair on the bench: must be 0 or more, found {self.repair:g}"
            )


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
        Without hours where the shape is 1 or more, or a failure on the bench costs no less than
        one in the warranty.

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
            f"no burn-in pays: a failure on the bench costs {costs.repair:g}, one in the warranty "
            f"{costs.back:g}",
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
    high = log(law.scale) + log(costs.back * law.shape / (costs.hour * law.scale)) / (1 - law.shape)
    low = high
    while spared(low) <= 0:
        low -= 1.0
    hours = exp(float(brentq(spared, low, high + 1e-9, xtol=1e-12))) if low < high else exp(high)
    saved = cost_of(law, 0.0, warranty, costs) - cost_of(law, hours, warranty, costs)
    words = f"{hours:.3g} h of burn-in cost least: the hour after them spares no more than it costs"
    return BestHours(hours, saved, words)
