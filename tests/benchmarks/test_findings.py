"""The benchmark of named faults, in small: sources, figures, and the page with them."""

import json
import runpy
from pathlib import Path

import numpy as np
import pytest
from benchmarks.fault_runs import SINGLE, draw
from benchmarks.findings import (
    Named,
    as_if_equally_often,
    calibration_error,
    name,
    right_share,
    runs,
    sound_called_faulty,
)
from benchmarks.moved_faults import move

from needlewright.findings.signatures.words import LIKELY, PROBABLE

DOCS = Path(__file__).parents[2] / "docs"


def said(fault: str, answer: str, probability: float, identifiable: bool = True) -> Named:
    return Named("drawn", fault, identifiable, answer, probability, None, 1.0)


def test_the_figures_by_hand() -> None:
    named = [
        said("sound", "sound", 0.95),
        said("sound", "backlash", 0.55),
        said("backlash", "backlash", 0.95),
        said("backlash", "dragging", 0.45),
        said("stalled", "blocked", 0.45, identifiable=False),
    ]
    assert right_share(named) == 0.5
    assert sound_called_faulty(named) == 0.5
    # bins: 0.4 holds 0.9 said and none right, 0.5 one of 0.55 wrong, 0.9 two of 0.95 right
    assert calibration_error(named) == pytest.approx((0.9 + 0.55 + 0.1) / 5)
    weights = as_if_equally_often(named)
    assert weights == [0.5, 0.5, 0.5, 0.5, 1.0]


@pytest.mark.parametrize("fault", SINGLE)
def test_drawn_runs_have_what_they_say(fault: str) -> None:
    rng = np.random.default_rng(1)
    for _ in range(5):
        drawn = draw(rng, fault)
        assert 5 <= len(drawn.rows) <= 25
        assert (drawn.size is None) == (fault == "sound")
        assert drawn.effect_deg > 0.3 or fault == "sound"


def test_a_moved_needle_has_its_fault() -> None:
    rng = np.random.default_rng(2)
    drawn = move(rng, "stalled")
    seen = [row.angle_deg or 0.0 for row in drawn.rows]
    assert np.median(seen) == pytest.approx(drawn.size, abs=3 * drawn.u_deg + 0.1)


def test_a_small_sample_of_drawn_dials_is_named_rightly() -> None:
    named = [name(drawn) for drawn in runs("drawn", 80, 77)]
    faulty = [n for n in named if n.identifiable and n.fault != "sound"]
    assert len(faulty) >= 20
    # at 0.98 right of each, five wrong of 30 come once in a thousand samples
    assert right_share(named) >= 0.84
    assert sound_called_faulty(named) <= 0.1


def test_the_figures_on_the_page_are_the_benchmarks() -> None:
    made = runpy.run_path(str(DOCS / "make_findings.py"))["filled"]
    page = (DOCS / "findings.md").read_text(encoding="utf-8")
    assert made(page) == page
    assert page.count("| met |") + page.count("| MISSED |") == 4


def measured(title: str) -> list[list[str]]:
    document = json.loads((DOCS / "measured" / "findings.json").read_text(encoding="utf-8"))
    return next(table["rows"] for table in document["tables"] if table["title"] == title)


def test_the_words_claim_no_more_than_was_measured() -> None:
    """Most probably: right of nine in ten or more; probably: of more than half."""
    bins = measured("is what is called probable true as often?")
    for name_of_bin, _, _, right in bins:
        low = float(name_of_bin.split()[0])
        assert low < LIKELY or float(right) >= 0.9
        assert low < PROBABLE or float(right) > 0.5
    # and where a word is not used, it would not hold
    below = {float(one.split()[0]): float(right) for one, _, _, right in bins}
    assert below[0.8] < 0.9
    assert below[0.5] < 0.5


def test_uncertainties_that_hold_less_often_would_be_said() -> None:
    shares = {one: float(share) for one, _, share in measured("sizes of faults named rightly")}
    assert min(shares.values()) >= 0.9
    too_narrow = runpy.run_path(str(DOCS / "make_findings.py"))["too_narrow"]
    assert "0.91 or more" in too_narrow([["blocked", "100", "0.91"], ["stalled", "90", "0.99"]])
    assert "`blocked` (0.76)" in too_narrow([["blocked", "100", "0.76"], ["stalled", "90", "0.99"]])


def test_the_page_says_how_sure_answers_are() -> None:
    """By hand: (10 x 0.55 + 30 x 0.85) / 40 = 0.775 said, (10 x 0.4 + 30 x 0.7) / 40 right."""
    how_sure = runpy.run_path(str(DOCS / "make_findings.py"))["how_sure"]
    said = how_sure([
        ["0.5 to 0.6", "10", "0.550", "0.400"],
        ["0.8 to 0.9", "30", "0.850", "0.700"],
        ["0.9 to 1.0", "60", "0.990", "0.980"],
    ])  # fmt: skip
    assert "Of 100 dials 40 got" in said
    assert "said 0.78 on average and was right for 0.62" in said
