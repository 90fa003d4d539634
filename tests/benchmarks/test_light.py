"""The benchmark of judged lamps, in small: what it draws, its figures, and the page with them."""

import json
import runpy
from pathlib import Path

import pytest
from benchmarks.light import KINDS, Judged, bound, drawn_cases, judge, supported
from scipy.stats import binom

from needlewright.findings.lamps.rates import MOST

DOCS = Path(__file__).parents[2] / "docs"


def said(true: str, answer: str) -> Judged:
    return Judged("dark", "healthy", true, answer)


def test_the_bound_of_a_rate() -> None:
    """By its definition, with scipy's binomial: so few errors come once in twenty at that rate."""
    for errors, count in ((0, 60), (3, 90), (17, 40)):
        assert binom.cdf(errors, count, bound(errors, count)) == pytest.approx(0.05)
    assert bound(0, 100) == pytest.approx(0.03, abs=0.001)  # the rule of three
    assert bound(5, 5) == 1.0


def test_supported_ratios_by_hand() -> None:
    cases = [said("yes", "yes")] * 18 + [said("yes", "no")] * 2 + [said("no", "no")] * 50
    for_yes, for_no = supported([*cases, said("yes", "not seen")])
    assert for_yes == pytest.approx(0.9 / bound(0, 50))
    assert for_no == pytest.approx(1.0 / bound(2, 20))


def test_evidence_claims_no_more_than_was_measured() -> None:
    document = json.loads((DOCS / "measured" / "light.json").read_text(encoding="utf-8"))
    tables = {table["title"]: table["rows"] for table in document["tables"]}
    rows = {row[0]: row[1:] for row in tables["ratios of likelihoods"]}
    assert set(rows) == set(KINDS) == set(MOST)
    for name, (for_yes, for_no) in rows.items():
        most_yes, most_no = MOST[name]
        assert 1.0 <= most_yes <= float(for_yes)
        assert 1.0 <= most_no <= float(for_no)


def test_the_figures_on_the_page_are_the_benchmarks() -> None:
    made = runpy.run_path(str(DOCS / "make_light.py"))["filled"]
    page = (DOCS / "light.md").read_text(encoding="utf-8")
    assert made(page) == page


def test_two_drawn_faces_are_judged_rightly(tmp_path: Path) -> None:
    found = [one for case in drawn_cases(2, 31) for one in judge(case, tmp_path)]
    zones = [one for one in found if (one.kind, one.reference) == ("zone", "healthy")]
    assert len(zones) == 9
    assert [one.said for one in zones] == [one.true for one in zones]
    assert all(abs(one.off_u) < 2.5 for one in zones)
    signs = [one for one in found if one.kind == "sign"]
    assert len(signs) == 8
    assert all(one.said in (one.true, "not seen") for one in signs)
