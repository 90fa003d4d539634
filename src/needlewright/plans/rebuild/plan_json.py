"""A plan as one JSON document: papers are made of it, and its number stands for its content."""

import json
from decimal import Decimal
from fractions import Fraction
from hashlib import sha256
from typing import Any, Final

from needlewright.plans.catalogue.model import Catalogue, Need
from needlewright.plans.money import rounded, shared_out
from needlewright.plans.rebuild.choices import Decision
from needlewright.plans.rebuild.looks import Look
from needlewright.plans.rebuild.must_pass import most_left
from needlewright.plans.rebuild.options import TITLES, Option
from needlewright.plans.rebuild.plan import Plan
from needlewright.plans.rebuild.steps import PlanStep
from needlewright.plans.rebuild.switches import Switch
from needlewright.plans.rebuild.work import Task

NUMBER_DIGITS: Final = 8
NOT_CONTENT: Final = ("number", "files", "kept", "most_left")
"""What stands in a printed document beside the plan itself, or follows from its catalogue."""
ADDED: Final = ("looks", "unfinished", "barred")
"""What later forms of the document added: where it is empty the plan means what it did before."""


def plan_document(
    plan: Plan,
    catalogue: Catalogue,
    *,
    invented: bool,
    variant: str | None,
    tag: str | None,
    built: str | None = None,
) -> dict[str, Any]:
    """The document.

    Parameters
    ----------
    plan
        What is planned.
    catalogue
        It was made with.
    invented
        Whether the family says that no such cluster was ever built.
    variant
        Of the family, where it is known.
    tag
        Of the job, where it is known.
    built
        When the cluster was, where its age was taken from that.

    Returns
    -------
    dict
        Money as decimals in text, each figure rounded by itself and once; probabilities and
        minutes as numbers. `number` changes with anything else in it.
    """
    terms = plan.terms
    document: dict[str, Any] = {
        "family": plan.family,
        "invented": invented,
        "variant": variant,
        "tag": tag,
        "currency": terms.currency,
        "catalogue": catalogue.name,
        "catalogue_sha256": catalogue.sha256,
        "built": built,
        "age_years": _age(plan, built),
        "mileage_km": plan.life.km,
        "warranty_months": _number(terms.warranty_years * 12),
        "horizon_years": _number(terms.horizon_years),
        "km_per_year": _number(terms.km_per_year),
        "hour": _money(terms.hour, terms.currency),
        "most_left": _number(most_left(terms)),
        "looks": [_look(one, terms.currency) for one in plan.looks],
        "options": [_option(plan, one) for one in plan.options],
        "decisions": [_decision(plan, one) for one in plan.decisions],
        "weak_points": [
            {
                "id": one.id,
                "words": one.words,
                "shape": round(one.law.shape, 4),
                "scale": round(one.law.scale, 4),
                "clock": one.clock,
                "learned": one.learned or None,
                "lives": None
                if one.lives is None
                else {"failed": one.lives[0], "sound": one.lives[1]},
                "source": one.source,
            }
            for one in catalogue.weak_points.values()
        ],
        "vehicle": list(plan.vehicle),
        "switches": [_switch(one, terms.currency) for one in plan.switches],
        "notes": list(plan.notes),
        "nearly_even": _nearly_even(plan),
    }
    return {"number": number_of(document), **document}


def number_of(document: dict[str, Any]) -> str:
    """A short number for a document's content: another plan has another."""
    content = _said({key: value for key, value in document.items() if key not in NOT_CONTENT})
    text = json.dumps(content, sort_keys=True, ensure_ascii=False, allow_nan=False)
    return sha256(text.encode("utf-8")).hexdigest()[:NUMBER_DIGITS].upper()


def _said(value: Any) -> Any:
    """A document without what was added since and says nothing: such a plan keeps its number."""
    if isinstance(value, dict):
        return {k: _said(one) for k, one in value.items() if one or k not in ADDED}
    return [_said(one) for one in value] if isinstance(value, list | tuple) else value


def _option(plan: Plan, option: Option) -> dict[str, Any]:
    costs, currency = option.costs, plan.terms.currency
    tasks = sorted(costs.tasks, key=lambda task: task.name)
    amounts, parts = _amounts(plan, option)
    return {
        "id": option.id,
        "title": TITLES[option.id],
        **{name: str(amount) for name, amount in amounts.items()},
        "minutes": round(float(option.minutes), 2),
        "u_minutes": round(option.u_minutes, 2),
        "expected_returns": round(float(costs.loss.expected_returns), 6),
        "any_return": round(float(option.any_return), 6),
        "operations": [_task(task, plan.operations[option.id][task.name]) for task in tasks],
        "parts": [
            _part(need, price, currency)
            for need, price in zip(plan.parts[option.id], parts, strict=True)
        ],
        "left": list(option.left),
        "unfinished": list(option.unfinished),
        "cautions": list(option.cautions),
        "steps": [_step(one) for one in plan.steps[option.id]],
    }


def _amounts(plan: Plan, option: Option) -> tuple[dict[str, Decimal], tuple[Decimal, ...]]:
    """What an option costs by what it is for, and of each part: every column adds up as shown."""
    costs, currency = option.costs, plan.terms.currency
    price, total = rounded(costs.price, currency), rounded(costs.total, currency)
    lines = [need.count * need.part.price for need in plan.parts[option.id]]
    opening, labour, *parts = shared_out(price, [costs.opening, costs.labour, *lines], currency)
    loss = costs.loss
    later = [costs.spoiling, loss.rework, loss.returns, loss.later, loss.watching]
    names = ("spoiling", "rework", "returns", "later", "watching")
    after = shared_out(total - price, later, currency)
    amounts = {
        "price": price,
        "opening": opening,
        "labour": labour,
        "parts_price": price - opening - labour,
        **dict(zip(names, after, strict=True)),
        "after": total - price,
        "total": total,
    }
    return amounts, tuple(parts)


def _task(task: Task, words: str) -> dict[str, Any]:
    one = task.operation
    return {
        "id": one.id,
        "dial": task.place,
        "kind": one.kind,
        "words": words,
        "source": one.source,
    }


def _part(need: Need, price: Decimal, currency: str) -> dict[str, Any]:
    return {
        "id": need.part.id,
        "words": need.part.words,
        "count": need.count,
        "price_each": _money(need.part.price, currency),
        "price": str(price),
    }


def _step(step: PlanStep) -> dict[str, Any]:
    return {
        "kind": step.kind,
        "words": step.words,
        "dial": step.place,
        "minutes": None if step.minutes is None else round(float(step.minutes), 2),
        "u_minutes": None if step.u_minutes is None else round(step.u_minutes, 4),
        "reasons": list(step.reasons),
        "parts": [
            {"id": need.part.id, "words": need.part.words, "count": need.count}
            for need in step.parts
        ],
        "cautions": list(step.cautions),
        "guide": step.guide,
        "operation": step.task,
    }


def _decision(plan: Plan, one: Decision) -> dict[str, Any]:
    currency = plan.terms.currency
    return {
        "id": one.thing.name,
        "dial": one.thing.place,
        "of": "the whole" if one.thing.place is None else _bare(plan, one.thing.place),
        "part": one.thing.part,
        "words": one.words,
        "choice": one.choice,
        "by": list(one.by),
        "along_with": one.along_with or None,
        "chance_now": round(float(one.chance_now), 6),
        "chance_warranty": round(float(one.chance_warranty), 6),
        "chance_horizon": round(float(one.chance_horizon), 6),
        "faults": [
            {"fault": fault.state, "chance": round(float(fault.chance), 6)}
            for fault in one.thing.faults
        ],
        "wears": [wear.point.id for wear in one.thing.wear],
        "totals": {choice: _money(total, currency) for choice, total in one.totals.items()},
        "barred": list(one.barred),
        "looks": list(one.looks),
        "reason": one.reason,
        "due": one.due or None,
        "caution": one.caution or None,
    }


def _look(one: Look, currency: str) -> dict[str, Any]:
    return {
        "findings": list(one.tests),
        "dial": one.place,
        "words": list(one.words),
        "minutes": round(one.minutes, 2),
        "saves": _money(one.saves, currency),
        "things": list(one.things),
    }


def _nearly_even(plan: Plan) -> dict[str, Any] | None:
    one = plan.nearly_even
    if one is None:
        return None
    more = _money(one.more, plan.terms.currency)
    return {"id": one.thing, "choice": one.choice, "more": more, "words": one.words}


def _switch(one: Switch, currency: str) -> dict[str, Any]:
    def said(value: Fraction) -> str | float:
        return _money(value, currency) if one.kind == "return" else round(float(value), 6)

    return {
        "kind": one.kind,
        "side": one.side,
        "at": said(one.at),
        "assumed": said(one.assumed),
        "words": one.words,
        "place": one.place,
        "code": one.code or None,
    }


def _bare(plan: Plan, dial: str) -> str:
    """A dial's name as it stands by itself: `fuel gauge`."""
    return plan.names.get(dial, dial).removeprefix("the ")


def _money(amount: Fraction, currency: str) -> str:
    return str(rounded(amount, currency))


def _age(plan: Plan, built: str | None) -> float | None:
    """As it was given; one that was counted from a day, as people say it."""
    years = plan.life.years
    return years if years is None or built is None else round(years, 1)


def _number(value: Fraction) -> int | float:
    return int(value) if value.denominator == 1 else round(float(value), 6)
