"""What changed between two plans of a job, in plain lines: prices, work, what is left, terms."""

from collections.abc import Iterator, Mapping
from typing import Any, Final

from needlewright.papers.wording import grouped, money
from needlewright.web.texts import Texts

Document = Mapping[str, Any]
TERMS: Final = ("age_years", "mileage_km", "warranty_months", "horizon_years", "km_per_year")
MONEY: Final = ("hour",)
WHOLE: Final = ("variant", "catalogue", "currency")
MOST: Final = 40
"""Lines; beyond it their number is told."""


def changes_between(before: Document, after: Document, t: Texts) -> tuple[str, ...]:
    """Say how a plan differs from one before it.

    Parameters
    ----------
    before
        The older plan, as `plans.rebuild.plan_json` makes it.
    after
        The newer one.
    t
        The page's texts.

    Returns
    -------
    tuple of str
        Of every option its price and its work, then of every thing what becomes of it, then the
        terms; empty where only what nobody is shown differs.
    """
    lines = [
        *_options(before, after, t),
        *_decisions(before, after, t),
        *_terms(before, after, t),
    ]
    if len(lines) > MOST:
        return (*lines[:MOST], t("plan.changes.more", n=len(lines) - MOST))
    return tuple(lines)


def _options(before: Document, after: Document, t: Texts) -> Iterator[str]:
    old = {one["id"]: one for one in before["options"]}
    for option in after["options"]:
        was, title = old.get(option["id"]), option["title"]
        if was is None:
            yield t("plan.changes.option_new", option=title)
            continue
        costs = {
            "was": f"{money(was['price'])} {before['currency']}",
            "is": f"{money(option['price'])} {after['currency']}",
        }
        if costs["was"] != costs["is"]:
            yield t("plan.changes.price", option=title, **{"was": costs["was"], "now": costs["is"]})
        if round(was["minutes"]) != round(option["minutes"]):
            minutes = {"was": f"{was['minutes']:.0f}", "now": f"{option['minutes']:.0f}"}
            yield t("plan.changes.minutes", option=title, **minutes)
        yield from _work(was, option, t)


def _work(was: Document, option: Document, t: Texts) -> Iterator[str]:
    """Operations that came and went, and where the steps differ though the operations do not."""
    before = {(one["id"], one["dial"]): one["words"] for one in was["operations"]}
    after = {(one["id"], one["dial"]): one["words"] for one in option["operations"]}
    for key, words in after.items():
        if key not in before:
            yield t("plan.changes.work_new", option=option["title"], work=words)
    for key, words in before.items():
        if key not in after:
            yield t("plan.changes.work_gone", option=option["title"], work=words)
    if set(before) == set(after) and _step_words(was) != _step_words(option):
        yield t("plan.changes.steps", option=option["title"])
    parts = {part["id"]: part for part in was["parts"]}
    for part in option["parts"]:
        old = parts.get(part["id"])
        if old is not None and old["price_each"] != part["price_each"]:
            prices = {"was": money(old["price_each"]), "now": money(part["price_each"])}
            yield t("plan.changes.part", option=option["title"], part=part["words"], **prices)


def _step_words(option: Document) -> list[str]:
    return [step["words"] for step in option["steps"]]


def _decisions(before: Document, after: Document, t: Texts) -> Iterator[str]:
    old = {one["id"]: one for one in before["decisions"]}
    for one in after["decisions"]:
        was = old.pop(one["id"], None)
        thing = {"of": one["of"], "part": one["words"]}
        if was is None:
            yield t(
                "plan.changes.thing_new", **thing, choice=t(f"plan.changes.becomes.{_key(one)}")
            )
        elif was["choice"] != one["choice"]:
            choices = {
                "was": t(f"plan.changes.becomes.{_key(was)}"),
                "now": t(f"plan.changes.becomes.{_key(one)}"),
            }
            yield t("plan.changes.choice", **thing, **choices)
    for one in old.values():
        yield t("plan.changes.thing_gone", of=one["of"], part=one["words"])


def _key(decision: Document) -> str:
    return str(decision["choice"]).replace(" ", "_")


def _terms(before: Document, after: Document, t: Texts) -> Iterator[str]:
    for key in (*TERMS, *MONEY, *WHOLE):
        if before.get(key) != after.get(key):
            words = {"was": _said(before.get(key), t), "now": _said(after.get(key), t)}
            yield t("plan.changes.term", term=t(f"plan.changes.terms.{key}"), **words)


def _said(value: Any, t: Texts) -> str:
    if value is None:
        return t("plan.not_known")
    if isinstance(value, str):
        return value
    return grouped(value) if value >= 1000 else f"{value:g}"
