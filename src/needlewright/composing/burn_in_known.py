"""What is known before a burn-in: as the shop's records teach it, and as it is kept beside one."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from math import isfinite
from typing import Any, Final

from needlewright.amounts import figure
from needlewright.composing.burn_in_statements import Beforehand, LeftRun
from needlewright.composing.burn_in_warranty import warranty_of_job, warranty_of_shop
from needlewright.errors import PlanError
from needlewright.plans.burn_in.early import PARTS, STATED, Clock, EarlyLaw
from needlewright.plans.burn_in.paying import Costs
from needlewright.plans.burn_in.warranty import Warranty
from needlewright.plans.rebuild.age import DAYS_A_YEAR
from needlewright.plans.wear.fit import Lives
from needlewright.plans.wear.follow_up import LEAST_DAYS
from needlewright.plans.wear.weibull import Weibull
from needlewright.records.burn_in_lives import burnt_in
from needlewright.records.opening import Shop
from needlewright.records.views.burn_ins import BurntIn

A_YEAR: Final[Mapping[Clock, float]] = Warranty(12.0, 14_000.0, "").held
"""Of 14 000 km; the warranty of burn-ins that were begun before theirs was kept."""
AS_KEPT: Final = "as kept when it was begun"
"""Where that warranty is from was not kept with it."""
YOUNGEST: Final = 1e-3
"""What failed at once had lived so long at least, on either clock."""


def lives_of(shop: Shop, now: datetime) -> dict[Clock, Lives]:
    """What became of the shop's clusters that were burnt in.

    Parameters
    ----------
    shop
        The shop.
    now
        Until when those that have not come back are taken to run.

    Returns
    -------
    dict
        Lives by clock, each watched from its age on until its warranty ends; rehearsed burn-ins and
        those set aside are not among them.
    """
    ages: dict[Clock, list[_Spell]] = {clock: [] for clock in PARTS}
    a_year = warranty_of_shop(shop).a_year
    for one in burnt_in(shop):
        for clock, spells in ages.items():
            spells.extend(_spells(one, clock, now, a_year[clock]))
    return {clock: _lives(spells) for clock, spells in ages.items()}


@dataclass(frozen=True, slots=True)
class _Spell:
    """From which age a part was watched, until which, and whether it failed then."""

    entered: float
    ended: float
    has_failed: bool


def _lives(spells: Sequence[_Spell]) -> Lives:
    failed = [one for one in spells if one.has_failed]
    running = [one for one in spells if not one.has_failed]
    return Lives(
        tuple(one.ended for one in failed),
        tuple(one.ended for one in running),
        tuple(one.entered for one in failed),
        tuple(one.entered for one in running),
    )


def _spells(one: BurntIn, clock: Clock, now: datetime, a_year: float) -> Iterator[_Spell]:
    """The burn-ins of a cluster one after the other, and what came after the last.

    What failed is repaired and no newer for it (docs/decisions/0064): it is watched again from
    the age it has then.
    """
    entered = age = 0.0
    for view in one.burn_ins:
        lived: Mapping[Clock, float] = {"hours": view.hours, "sweeps": float(view.sweeps)}
        first = view.said.get("first_failures", {}).get(clock)
        if first is None:
            age += lived[clock]
            continue
        failed_at = age + max(float(first), YOUNGEST)
        yield _Spell(entered, failed_at, has_failed=True)
        entered = age = max(age + lived[clock], failed_at)
    driven, has_failed = _driven(one, clock, now, a_year)
    if age + driven > entered:
        yield _Spell(entered, age + driven, has_failed)


def _driven(one: BurntIn, clock: Clock, now: datetime, a_year: float) -> tuple[float, bool]:
    """What it lived through after it went back, while its warranty held; whether it failed then.

    Whoever is owed a repair comes back; later visits would be seen of failures more readily than
    of their absence (docs/decisions/0066).
    """
    last = one.burn_ins[-1]
    if one.closed_at is None or last.said.get("first_failures"):
        return 0.0, False
    days = ((now if one.back_at is None else one.back_at) - one.closed_at).days
    days = max(days, 0 if one.back_at is None else LEAST_DAYS)
    driven = a_year * days / DAYS_A_YEAR
    held = float(last.known.get("warranty", A_YEAR)[clock])
    if driven > held:
        return held, False
    return driven, one.back_at is not None and clock in _failed_of(one)


def _failed_of(one: BurntIn) -> set[Clock]:
    """Clocks by which it failed after it went back, as somebody decided when it came again."""
    return {"hours" if dial is None else "sweeps" for dial, _ in one.found}


def known_of_shop(
    shop: Shop,
    warranty: Mapping[Clock, float] | None = None,
    *,
    confidence: float | None = None,
    stated: Mapping[Clock, Weibull] | None = None,
    costs: tuple[Costs, str] | None = None,
    warranty_from: str = "",
) -> Beforehand:
    """What the shop knows before a burn-in.

    Parameters
    ----------
    shop
        The shop.
    warranty
        What it holds, by clock; None: as the shop's catalogue has it.
    confidence
        One-sided, of what a run shows; None: the usual.
    stated
        Laws as stated, by clock; without one, the usual law with what came back to the shop.
    costs
        What the shop pays, with its currency; None: nothing is known of that.
    warranty_from
        Where that is from, in words; empty: it is stated.

    Returns
    -------
    Beforehand
        Each law says where it comes from.

    Raises
    ------
    PlanError
        If a number cannot be.
    """
    lives = lives_of(shop, shop.now())
    laws = []
    for clock in PARTS:
        law = (stated or {}).get(clock)
        if law is not None:
            laws.append(EarlyLaw(clock, law, "stated"))
            continue
        usual = EarlyLaw(clock, STATED[clock], "usual, no source")
        try:
            taught = usual.taught(lives[clock])
        except PlanError:  # lives that tell no law, as all of one age
            taught = usual
        laws.append(taught)
    if warranty is None:
        usual_one = warranty_of_shop(shop)
        warranty, warranty_from = usual_one.held, usual_one.words
    known = Beforehand(tuple(laws), dict(warranty))
    _refuse_warranty(known.warranty)
    paid, currency = (None, "") if costs is None else costs
    chosen = known.confidence if confidence is None else confidence
    return Beforehand(known.laws, known.warranty, chosen, paid, currency, warranty_from)


def known_of_job(shop: Shop, tag: str) -> Beforehand:
    """What is known before a burn-in of a job, with the warranty its plan promises.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.

    Returns
    -------
    Beforehand
        Without a plan with the shop's own warranty.

    Raises
    ------
    NotThereError
        If there is no such job.
    """
    promised = warranty_of_job(shop, tag)
    return known_of_shop(shop, promised.held, warranty_from=promised.words)


def _refuse_warranty(warranty: Mapping[Clock, float]) -> None:
    for clock, held in warranty.items():
        if not (isfinite(held) and held > 0):
            raise PlanError(
                f"warranty: it must hold more than 0 {clock}, found {figure(held)}; correct it"
            )


def known_document(known: Beforehand) -> dict[str, Any]:
    """What was known, as it is kept beside a burn-in.

    Parameters
    ----------
    known
        The laws and the warranty.

    Returns
    -------
    dict
        For JSON; `known_in` reads it.
    """
    costs = known.costs
    return {
        "laws": [
            {
                "clock": one.clock,
                "shape": one.law.shape,
                "scale": one.law.scale,
                "from": one.said,
            }
            for one in known.laws
        ],
        "warranty": dict(known.warranty),
        "warranty_from": known.warranty_from,
        "confidence": known.confidence,
        "costs": None
        if costs is None
        else {"hour": costs.hour, "back": costs.back, "repair": costs.repair},
        "currency": known.currency,
        "left": None if known.left is None else _left_document(known.left),
    }


def known_in(document: Mapping[str, Any]) -> Beforehand:
    """What was known before a burn-in that was kept; the inverse of `known_document`."""
    laws = tuple(
        EarlyLaw(one["clock"], Weibull(one["shape"], one["scale"]), one["from"])
        for one in document["laws"]
    )
    costs = None if document["costs"] is None else Costs(**document["costs"])
    warranty: dict[Clock, float] = dict(document["warranty"])
    left = document.get("left")  # burn-ins begun before it was kept have none
    return Beforehand(
        laws,
        warranty,
        document["confidence"],
        costs,
        document["currency"],
        document.get("warranty_from", AS_KEPT),
        None if left is None else _left_in(left),
    )


def _left_document(left: LeftRun) -> dict[str, Any]:
    rows = [
        {"dial": dial, "value": value, "angle_deg": angle, "u_angle_deg": u}
        for (dial, value), (angle, u) in left.angles_deg.items()
    ]
    return {"name": left.name, "at": left.at, "rows": rows}


def _left_in(document: Mapping[str, Any]) -> LeftRun:
    angles = {
        (one["dial"], one["value"]): (one["angle_deg"], one["u_angle_deg"])
        for one in document["rows"]
    }
    return LeftRun(document["name"], document["at"], angles)
