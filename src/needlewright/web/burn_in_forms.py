"""What is typed before a burn-in begins: what it does, what it is to be worth, who checked what."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import isclose
from typing import Final

from needlewright.bench.burn_in.plan import BurnInPlan, plan_for, points_of
from needlewright.composing.bench_plan import points_in
from needlewright.composing.burn_in_bench import (
    chamber_of,
    dials_without_a_person,
    refuse_on_real_bench,
)
from needlewright.composing.burn_in_known import known_of_shop
from needlewright.composing.burn_in_statements import Beforehand
from needlewright.errors import PlanError, RunError, UnitError, UsageError
from needlewright.families.model import Dial, Family
from needlewright.plans.burn_in.early import PARTS, Clock
from needlewright.plans.burn_in.paying import Costs, cost_typed
from needlewright.plans.burn_in.warranty import Warranty
from needlewright.plans.decimal_comma import pointed
from needlewright.plans.money import currency_named
from needlewright.plans.wear.weibull import Weibull
from needlewright.records.opening import Shop
from needlewright.signals.settings import BenchSettings
from needlewright.web.posted import SentForm

CHECKS: Final = ("limit", "fuse", "fire", "covered")
"""What somebody ticks before a real cluster is left alone."""
MOST_POINTS: Final = 30
LAW_FIELDS: Final[Mapping[Clock, tuple[str, str]]] = {
    "hours": ("shape", "scale"),
    "sweeps": ("sweeps_shape", "sweeps_scale"),
}
"""A law is stated with both, or learnt."""
USUAL: Final[Mapping[str, str]] = {
    "hours": "24",
    "dwell": "280",
    "sweeps_each": "1",
    "check_every": "1",
    "lamps": "yes",
    "chamber": "",
    "shape": "",
    "scale": "",
    "sweeps_shape": "",
    "sweeps_scale": "",
    "cost_hour": "",
    "cost_return": "",
    "cost_repair": "",
    "currency": "EUR",
}
"""What the form says until somebody changes it."""


@dataclass(frozen=True, slots=True)
class DialOffer:
    """One dial, as it is offered."""

    dial: Dial
    points: str
    is_told: bool


class Typed:
    """The form, as sent or as usual.

    Parameters
    ----------
    sent
        What was sent; None: nothing yet.
    promised
        The warranty the form begins with.
    """

    def __init__(self, sent: SentForm | None, promised: Warranty) -> None:
        self._sent, self.promised = sent, promised
        held = promised.held
        self._usual = {**USUAL, **{f"warranty_{clock}": f"{held[clock]:.6g}" for clock in PARTS}}

    def __call__(self, name: str) -> str:
        """A field's text."""
        return self._usual.get(name, "") if self._sent is None else self._sent.text(name).strip()

    def ticked(self, name: str) -> bool:
        """Whether a box is ticked."""
        return bool(self._usual.get(name)) if self._sent is None else self._sent.ticked(name)

    @property
    def checked(self) -> tuple[str, ...]:
        """What somebody ticked before leaving it alone."""
        return tuple(one for one in CHECKS if self.ticked(f"checked-{one}"))

    def dials(self, family: Family) -> list[DialOffer]:
        """The dials with their check points, as typed or three marks of each scale."""
        if self._sent is None:
            usual = points_of(family, tuple(dial.id for dial in family.dials))
            return [
                DialOffer(dial, ", ".join(f"{one:g}" for one in usual[dial.id]), True)
                for dial in family.dials
            ]
        return [
            DialOffer(dial, self(f"points-{dial.id}"), self.ticked(f"told-{dial.id}"))
            for dial in family.dials
        ]

    def plan(self, family: Family) -> BurnInPlan:
        """What is to be done.

        Parameters
        ----------
        family
            The cluster design.

        Returns
        -------
        BurnInPlan
            That can be carried out.

        Raises
        ------
        RunError
            If a field is no number, or the plan cannot be carried out.
        """
        points = {}
        for one in self.dials(family):
            if one.is_told:
                where = f"dial '{one.dial.id}'"
                points[one.dial.id] = tuple(points_in(one.points, where, MOST_POINTS))
        return plan_for(
            family,
            hours=number(self("hours"), "hours"),
            dwell_s=number(self("dwell"), "dwell"),
            sweeps_each=int(number(self("sweeps_each"), "sweeps in a turn", whole=True)),
            check_every_h=number(self("check_every"), "check points every"),
            points=points,
            lamps=self.ticked("lamps"),
            dark_lamps=self.ticked("lamps") and self.ticked("dark_lamps"),
            chamber=self._chamber(),
        )

    def _chamber(self) -> tuple[tuple[float, float], ...]:
        try:
            return chamber_of(self("chamber").replace("\u2212", "-"))
        except UsageError as error:
            raise RunError(str(error).replace("--chamber", "chamber")) from error

    def known(self, shop: Shop) -> Beforehand:
        """What is known beforehand: as stated here, else as the shop's records teach it.

        Parameters
        ----------
        shop
            The shop.

        Returns
        -------
        Beforehand
            With what the shop pays, where that is typed.

        Raises
        ------
        RunError, PlanError, UnitError
            If a field is no number, or cannot be.
        """
        warranty: dict[Clock, float] = {
            "hours": number(self("warranty_hours"), "warranty, hours"),
            "sweeps": number(self("warranty_sweeps"), "warranty, sweeps"),
        }
        stated: dict[Clock, Weibull] = {}
        for clock, (shape, scale) in LAW_FIELDS.items():
            if self(shape) or self(scale):
                of = f"of the {PARTS[clock]}"
                stated[clock] = Weibull(
                    number(self(shape), f"shape {of}"), number(self(scale), f"scale {of}")
                )
        return known_of_shop(
            shop,
            warranty,
            stated=stated,
            costs=self._costs(),
            warranty_from=self._promised_words,
        )

    @property
    def _promised_words(self) -> str:
        """Where the warranty is from; empty where another one was typed."""
        typed = {clock: number(self(f"warranty_{clock}"), "warranty") for clock in PARTS}
        is_promised = all(
            isclose(typed[clock], held, rel_tol=1e-5) for clock, held in self.promised.held.items()
        )
        return self.promised.words if is_promised else ""

    def _costs(self) -> tuple[Costs, str] | None:
        typed = [self(name) for name in ("cost_hour", "cost_return", "cost_repair")]
        if not any(typed):
            return None
        hour, back, repair = typed
        if not (hour and back):
            raise PlanError(
                "costs: how long a burn-in pays needs what an hour at the bench costs and what a "
                "return does; type both, or neither"
            )
        costs = Costs(
            cost_typed("cost of an hour at the bench", hour),
            cost_typed("cost of a return", back),
            cost_typed("cost of a repair on the bench", repair or "0"),
        )
        return costs, currency_named(self("currency") or USUAL["currency"])


def require_unattended(
    plan: BurnInPlan, family: Family, settings: BenchSettings, typed: Typed
) -> None:
    """Refuse to leave a real cluster alone that must not be.

    Parameters
    ----------
    plan
        What is to be done.
    family
        The cluster design.
    settings
        Of the bench.
    typed
        The form, with what somebody ticked.

    Raises
    ------
    RunError
        If the bench tells a dial nothing with nobody there, the bench's light is to be switched, or
        something was not ticked.
    """
    alone = dials_without_a_person(family, settings)
    by_hand = [dial for dial in plan.dials if dial not in alone]
    if by_hand:
        raise RunError(
            f"dial '{by_hand[0]}': this bench tells it nothing with nobody there; leave it out of "
            f"the burn-in (told are {', '.join(alone)})"
        )
    refuse_on_real_bench(plan)
    if missing := [one for one in CHECKS if one not in typed.checked]:
        raise RunError(
            f"cautions: {len(missing)} of {len(CHECKS)} are not ticked; look at each at the bench, "
            "then tick it"
        )


def number(text: str, where: str, *, whole: bool = False) -> float:
    """A number as typed.

    Parameters
    ----------
    text
        In a field.
    where
        Which, for sentences.
    whole
        Whether it must be a whole one.

    Returns
    -------
    float
        Its value; what it may be is judged elsewhere.

    Raises
    ------
    RunError
        If it is none.
    """
    plain = "".join(text.split()).replace("\u2212", "-")  # groups of three, thin or not
    kind = "a whole number" if whole else "a number"
    try:
        value = float(pointed(plain))
    except UnitError as error:
        raise RunError(f"{where}: {error}") from error
    except ValueError:
        value = float("nan")
    if not abs(value) < 1e12 or (whole and value != int(value)):
        raise RunError(f"{where}: expected {kind}, found '{text[:20]}'; correct it")
    return value
