"""What changed between two plans, in plain lines."""

from typing import Any

from needlewright.web.plan_changes import MOST, changes_between
from needlewright.web.texts import texts_in

LAMP = {"id": "lamp", "words": "lamp", "price_each": "1.20", "count": 1}


def option(**changes: Any) -> dict[str, Any]:
    plain = {
        "id": "recommended",
        "title": "recommended",
        "price": "41.50",
        "minutes": 30.2,
        "operations": [{"id": "reflow", "dial": "speed", "words": "reflow the joints"}],
        "parts": [LAMP],
        "steps": [{"words": "open the case"}],
    }
    return {**plain, **changes}


def thing(choice: str, name: str = "speed:joint") -> dict[str, Any]:
    return {"id": name, "of": "road speed gauge", "words": "solder joint", "choice": choice}


def plan(*options: dict[str, Any], **changes: Any) -> dict[str, Any]:
    plain = {
        "currency": "EUR",
        "age_years": 14.4,
        "mileage_km": None,
        "warranty_months": 24,
        "horizon_years": 6,
        "km_per_year": 14000,
        "hour": "60.00",
        "variant": None,
        "catalogue": "catalogue.toml",
        "options": list(options) or [option()],
        "decisions": [thing("leave")],
    }
    return {**plain, **changes}


def changes(before: dict[str, Any], after: dict[str, Any]) -> list[str]:
    return list(changes_between(before, after, texts_in()))


def test_the_same_plan_has_no_changes() -> None:
    assert changes(plan(), plan()) == []


def test_prices_minutes_work_and_parts_of_an_option() -> None:
    other = option(
        price="55.00",
        minutes=41.0,
        operations=[{"id": "replace", "dial": "speed", "words": "replace the movement"}],
        parts=[{**LAMP, "price_each": "1.50"}],
    )
    assert changes(plan(), plan(other)) == [
        "recommended: 41.50 EUR before, 55.00 EUR now",
        "recommended: 30 minutes before, 41 now",
        "recommended: also replace the movement",
        "recommended: no more reflow the joints",
        "recommended: lamp 1.20 before, 1.50 now",
    ]


def test_another_currency_is_another_price() -> None:
    assert changes(plan(), plan(currency="USD")) == [
        "recommended: 41.50 EUR before, 41.50 USD now",
        "currency: EUR before, USD now",
    ]


def test_other_steps_for_the_same_work_and_an_option_that_is_new() -> None:
    other = option(steps=[{"words": "open the case"}, {"words": "take the board out"}])
    third = option(id="everything", title="replace everything")
    assert changes(plan(), plan(other, third)) == [
        "recommended: the same work, other steps",
        "replace everything: was not offered before",
    ]


def test_what_becomes_of_a_thing() -> None:
    came = plan(decisions=[thing("replace now"), thing("watch", "fuel:joint")])
    assert changes(plan(), came) == [
        "road speed gauge, solder joint: left before, to be replaced now",
        "road speed gauge, solder joint: was not in the plan before, left and watched now",
    ]
    assert changes(plan(), plan(decisions=[])) == [
        "road speed gauge, solder joint: not in the plan any more"
    ]


def test_the_terms() -> None:
    after = plan(age_years=None, mileage_km=190_000.0, hour="75.00", catalogue="ours.toml")
    assert changes(plan(), after) == [
        "age in years: 14.4 before, not known now",
        "mileage in km: not known before, 190\u202f000 now",
        "price of an hour: 60.00 before, 75.00 now",
        "catalogue: catalogue.toml before, ours.toml now",
    ]


def test_no_endless_list() -> None:
    many = plan(decisions=[thing("leave", f"d{n}:joint") for n in range(MOST + 5)])
    said = changes(plan(decisions=[]), many)
    assert len(said) == MOST + 1
    assert said[-1] == "and 5 more"
