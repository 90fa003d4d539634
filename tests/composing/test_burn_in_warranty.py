"""One warranty of a shop: its plans and its burn-ins count the same months."""

import pytest

from needlewright.bench.burn_in.journal import Counts
from needlewright.composing.burn_in_known import known_document, known_in, known_of_job, lives_of
from needlewright.composing.burn_in_statements import beforehand_document
from needlewright.composing.burn_in_warranty import (
    usual_warranty,
    warranty_of_job,
    warranty_of_shop,
)
from needlewright.composing.job_plan import PlanTerms, make_job_plan
from needlewright.errors import PlanError
from needlewright.plans.burn_in.warranty import Warranty
from needlewright.plans.catalogue.load import catalogue_text
from needlewright.records.catalogues import set_catalogue
from needlewright.records.opinions import Decided, give_opinion
from needlewright.records.plans import keep_plan
from records.benches import ANNA, bench, new

THIN = "\u202f"


def own_text() -> bytes:
    """The catalogue with half the months and twice the way."""
    text = catalogue_text().content.replace(b"warranty_months = 24", b"warranty_months = 12")
    text = text.replace(b"km_per_year = 14_000", b"km_per_year = 28_000")
    assert text != catalogue_text().content
    return text


def test_a_plan_and_a_burn_in_promise_the_same(tmp_path):
    with bench(tmp_path / "shop") as (opened, _):
        new(opened, built="2012")
        shipped = warranty_of_job(opened, "T-77")
        assert shipped == usual_warranty() == warranty_of_shop(opened)
        # 14 000 km at 28 km/h, twenty sweeps an hour (common practice, no source), two years
        assert shipped.held == {"hours": 1000.0, "sweeps": 20_000.0}

        decided = Decided(("backlash",), "plays", {"backlash": 0.9}, dial="speed")
        give_opinion(opened, "T-77", decided, ANNA)
        terms = PlanTerms(warranty_months=36)
        document = make_job_plan(opened, "T-77", terms)
        keep_plan(opened, "T-77", document, ANNA)
        of_plan = warranty_of_job(opened, "T-77")
        assert of_plan.held == {"hours": 1500.0, "sweeps": 30_000.0}
        assert of_plan.words == f"36 months at 14{THIN}000 km a year (plan {document['number']})"

        known = known_of_job(opened, "T-77")
        assert (known.warranty, known.warranty_from) == (of_plan.held, of_plan.words)
        said = beforehand_document(known, Counts())
        assert f"within 1{THIN}500 h and 30{THIN}000 sweeps of warranty" in said["words"]
        assert said["warranty_from"] == of_plan.words
        assert known_in(known_document(known)) == known

        # without a plan the shop's own catalogue counts, for what a cluster lives through too
        set_catalogue(opened, "own.toml", own_text(), ANNA)
        own = warranty_of_shop(opened)
        assert (own.held["hours"], own.a_year["hours"]) == (1000.0, 1000.0)
        assert own.words == f"12 months at 28{THIN}000 km a year (the shop's catalogue)"
        assert "is taken to live 1\u202f000 h and 20\u202f000 sweeps a year" in own.driven_words
        assert warranty_of_job(opened, "T-77") == of_plan
        assert lives_of(opened, opened.now())["hours"].failed == ()


def test_without_a_warranty_a_year_is_looked_at_and_that_is_said():
    none = Warranty(0.0, 14_000.0, "the shop's catalogue")
    assert none.held == {"hours": 500.0, "sweeps": 10_000.0}
    assert none.words.startswith("no warranty is given: a year is looked at, of 14")


@pytest.mark.parametrize(
    ("months", "km", "wrong"),
    [
        (-1.0, 14_000.0, "warranty: -1 months cannot be; give 0 to 1\u202f200"),
        (float("nan"), 14_000.0, "warranty: nan months cannot be"),
        (24.0, 0.0, "warranty: 0 km a year cannot be; give more than 0"),
    ],
)
def test_a_warranty_that_cannot_be_is_one_sentence(months: float, km: float, wrong: str):
    with pytest.raises(PlanError) as refused:
        Warranty(months, km, "")
    assert wrong in str(refused.value)
