"""Planning a burn-in: what is said, what is refused."""

from pathlib import Path

import pytest

from needlewright.errors import PlanError
from needlewright.plans.burn_in.early import STATED, EarlyLaw, expected, residual
from needlewright.plans.burn_in.history import read_history
from needlewright.plans.burn_in.one_unit import shown_by, success_run, zero_failure_hours
from needlewright.plans.burn_in.paying import Costs, best_hours, cost_typed
from needlewright.plans.wear.weibull import Weibull


def test_a_shape_below_one_leaves_less_and_one_of_one_the_same_and_above_it_more():
    left = {
        shape: expected(EarlyLaw("hours", Weibull(shape, 1000.0)), 100.0, 500.0)
        for shape in (0.5, 1.0, 2.0)
    }
    assert left[0.5].after < left[0.5].without
    assert left[1.0].after == pytest.approx(left[1.0].without, abs=1e-12)
    assert left[2.0].after > left[2.0].without
    best = best_hours(Weibull(1.0, 1000.0), 500.0, Costs(1.0, 400.0))
    assert best.hours is None
    assert best.words == (
        "burn-in takes nothing away here: with a shape of 1 a unit that has run fails no less "
        "often than a new one"
    )


def test_electronics_and_movements_are_put_together_as_independent():
    hours = expected(EarlyLaw("hours", STATED["hours"]), 24.0, 500.0)
    sweeps = expected(EarlyLaw("sweeps", STATED["sweeps"]), 2000.0, 10_000.0)
    assert hours.without == pytest.approx(0.0347, abs=5e-5)
    assert sweeps.without == pytest.approx(0.0221, abs=5e-5)
    assert hours.after == pytest.approx(0.02805, abs=5e-5)
    assert residual((hours, sweeps)) == pytest.approx(
        1 - (1 - hours.after) * (1 - sweeps.after), abs=1e-12
    )


def test_a_failure_on_the_bench_that_costs_as_much_as_a_return_makes_no_burn_in_pay():
    assert best_hours(Weibull(0.5, 1e4), 500.0, Costs(1.0, 100.0, 100.0)).hours is None


def test_what_came_back_teaches_the_law_of_its_own_clock(tmp_path: Path):
    table = tmp_path / "history.csv"
    table.write_text("hours,sweeps,failed\n30,2000,electronics\n900,,no\n400,9000,movements\n")
    lives = read_history(table)
    assert (lives["hours"].failed, lives["hours"].running) == ((30.0,), (900.0, 400.0))
    assert (lives["sweeps"].failed, lives["sweeps"].running) == ((9000.0,), (2000.0,))
    taught = EarlyLaw("hours", Weibull(0.5, 1.0)).taught(lives["hours"])
    # one failure: the scale alone, eta^0.5 = sum of the roots
    assert taught.law.scale == pytest.approx((30**0.5 + 30 + 20) ** 2)
    assert taught.said == (
        "scale, the shape as stated, from the shop's 1 failure and 2 that still run"
    )
    untaught = EarlyLaw("sweeps", Weibull(0.5, 1.0))
    assert untaught.taught(type(lives["hours"])((), (1.0,))) is untaught


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("hours,failed\n", "expected the columns hours,sweeps,failed, found hours,failed"),
        ("hours,sweeps,failed\n1,2,maybe\n", "line 2, failed: expected no, electronics, movements"),
        ("hours,sweeps,failed\n,2,electronics\n", "line 2, hours: expected an age above 0"),
        ("hours,sweeps,failed\n-1,2,no\n", "line 2, hours: expected an age above 0, found '-1'"),
    ],
)
def test_a_table_that_cannot_be_used_is_refused(tmp_path: Path, text: str, wrong: str):
    table = tmp_path / "history.csv"
    table.write_text(text)
    with pytest.raises(PlanError) as refused:
        read_history(table)
    assert wrong in str(refused.value)


@pytest.mark.parametrize(
    "asked",
    [
        lambda: EarlyLaw("hours", Weibull(0.0, 1.0)),
        lambda: expected(EarlyLaw("hours", Weibull(0.5, 1.0)), -1.0, 500.0),
        lambda: expected(EarlyLaw("hours", Weibull(0.5, 1.0)), 1.0, 0.0),
        lambda: EarlyLaw("hours", Weibull(1e9, 1.0)),
        lambda: EarlyLaw("hours", Weibull(1e-9, 1.0)),
        lambda: EarlyLaw("hours", Weibull(0.5, 1e300)),
        lambda: expected(EarlyLaw("hours", Weibull(50.0, 1e-3)), 1.0, 1e6),
        lambda: Costs(0.0, 1.0),
        lambda: Costs(1.0, 1e300),
        lambda: Costs(float("nan"), 1.0),
        lambda: cost_typed("cost", "sNaN"),
        lambda: cost_typed("cost", "inf"),
        lambda: shown_by(0.0),
        lambda: shown_by(1.0, -1),
        lambda: success_run(1.0),
        lambda: zero_failure_hours(1.0, 1.0),
    ],
)
def test_numbers_that_cannot_be_are_refused(asked):
    with pytest.raises(PlanError):
        asked()


@pytest.mark.parametrize(
    ("law", "costs", "says"),
    [
        # of a shape near 1 the hazard hardly falls: an hour is worth it for ever, or never
        (Weibull(0.999, 4e5), Costs(1e-9, 1e9), "look at the costs again"),
        (Weibull(0.999, 4e5), Costs(1e9, 1.0), "even its first moment costs more"),
        (Weibull(0.5, 1e15), Costs(1e11, 1e-300), "even its first moment costs more"),
    ],
)
def test_costs_that_put_the_best_hours_beyond_reason_name_none(law, costs, says):
    best = best_hours(law, 500.0, costs)
    assert (best.hours, best.saved) == (None, 0.0)
    assert says in best.words
