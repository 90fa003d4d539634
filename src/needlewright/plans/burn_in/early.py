"""Early failures: their law, and what of it a burn-in leaves for the warranty.

All of this is said from what was known before a run: a stated law, or what came back to the shop.
Nothing here looks at the unit on the bench; what its run shows stands in `one_unit`.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import isfinite
from types import MappingProxyType
from typing import Final, Literal

from needlewright.amounts import figure
from needlewright.errors import PlanError
from needlewright.plans.wear.fit import FLATTEST, STEEPEST, Lives, learned_law
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
SHORTEST: Final = 1e-3
LONGEST: Final = 1e15
"""Between these a law's scale lies, in hours or sweeps."""
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
        for name, value, least, most in (
            ("shape", self.law.shape, FLATTEST, STEEPEST),
            ("scale", self.law.scale, SHORTEST, LONGEST),
        ):
            if not (isfinite(value) and value > 0):
                raise PlanError(
                    f"early failures of the {PARTS[self.clock]}: the {name} must be above 0, found "
                    f"{figure(value)}; correct it"
                )
            if not least <= value <= most:
                raise PlanError(
                    f"early failures of the {PARTS[self.clock]}: the {name} must lie between "
                    f"{figure(least)} and {figure(most)}, found {figure(value)}; correct it"
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
        raise PlanError(f"burn-in: {figure(done)} {law.clock} cannot be; give 0 or more")
    if not (isfinite(warranty) and warranty > 0):
        raise PlanError(
            f"warranty: it must hold more than 0 {law.clock}, found {figure(warranty)}; correct it"
        )
    try:
        law.law.hazard_sum(done + warranty)
    except OverflowError as error:
        raise PlanError(
            f"early failures of the {PARTS[law.clock]}: by a law of shape "
            f"{figure(law.law.shape)} and scale {figure(law.law.scale)} nothing comes near "
            f"{figure(done + warranty)} {law.clock}; correct the law or the warranty"
        ) from error
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
