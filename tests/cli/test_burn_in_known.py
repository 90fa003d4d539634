"""What is typed to a plan or a report of a burn-in, beside what is known already."""

from pathlib import Path

import pytest

from needlewright.cli.burn_in_options import Held, held_of, known_of
from needlewright.composing.burn_in_known import A_YEAR, AS_KEPT, known_document, known_in
from needlewright.composing.burn_in_statements import Beforehand
from needlewright.plans.burn_in.early import EarlyLaw
from needlewright.plans.wear.weibull import Weibull

TAUGHT = (
    EarlyLaw("hours", Weibull(0.5, 90_000.0), "scale, from the shop's 2 failures"),
    EarlyLaw("sweeps", Weibull(0.7, 3e6), "stated"),
)
PROMISED = Held({"hours": 1000.0, "sweeps": 20_000.0}, "24 months")


def laws(prior: list[str], history: Path | None = None) -> dict[str, EarlyLaw]:
    known = known_of(prior, history, PROMISED, 0.95, kept=TAUGHT)
    return {one.clock: one for one in known.laws}


def test_a_law_stated_for_one_clock_leaves_the_other_as_it_is_known():
    hours, sweeps = TAUGHT
    assert laws([]) == {"hours": hours, "sweeps": sweeps}
    assert laws(["hours=0.6,200000"]) == {
        "hours": EarlyLaw("hours", Weibull(0.6, 200_000.0), "stated"),
        "sweeps": sweeps,
    }
    assert laws(["sweeps=0.6,2e7"])["hours"] == hours


def test_a_history_teaches_the_clock_of_which_something_failed(tmp_path: Path):
    table = tmp_path / "units.csv"
    table.write_text("hours,sweeps,failed\n100,2000,electronics\n400,8000,no\n", encoding="utf-8")
    found = laws([], table)
    assert found["sweeps"] == TAUGHT[1]
    # one failure: the shape stays, the scale is (sum of x^shape)^(1 / shape), (10 + 20)^2 h
    # (maximum likelihood of Weibull's law with a known shape, as IEC 61649 has it; from memory)
    assert found["hours"].law.shape == 0.5
    assert found["hours"].law.scale == pytest.approx(900.0)
    assert found["hours"].said.endswith("from the shop's 1 failure and 1 that still run")


def test_a_warranty_typed_in_part_says_where_the_rest_is_from():
    assert held_of(None, None, PROMISED) == PROMISED
    part = held_of(None, 5000.0, PROMISED)
    assert part == Held({"hours": 1000.0, "sweeps": 5000.0}, "sweeps as stated, else 24 months")
    assert held_of(700.0, 5000.0, PROMISED).said == "as stated"
    stated = Held(A_YEAR, "")
    assert held_of(700.0, None, stated).said == "as stated", "what was kept was stated too"


def test_a_burn_in_begun_before_it_was_kept_says_that_its_warranty_is_as_kept():
    document = known_document(Beforehand(TAUGHT, A_YEAR))
    assert known_in(document).warranty_from == "", "stated"
    del document["warranty_from"]
    old = known_in(document)
    assert (old.warranty, old.warranty_from) == (A_YEAR, AS_KEPT)
    promised = Held(old.warranty, old.warranty_from)
    said = held_of(700.0, None, promised).said
    assert said == "hours as stated, else as kept when it was begun"
