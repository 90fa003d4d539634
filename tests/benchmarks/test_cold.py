"""The benchmark of the cold runs, and its page shows its figures."""

import runpy
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from benchmarks.cold import key_cycle_rows, onset_rows, rate_row  # noqa: E402


def test_the_page_shows_the_figures_that_were_measured():
    made = runpy.run_path(str(ROOT / "docs" / "make_cold.py"))["filled"]
    text = (ROOT / "docs" / "cold.md").read_text(encoding="utf-8")
    assert made(text) == text, "run docs/make_cold.py"


def test_it_counts_what_it_draws():
    rows = onset_rows(1, 7)
    assert [row["drawn"] for row in rows] == [1, 3, 1, 3, 3, 3, 3, 3]
    for row in rows:
        assert (
            sum(row[kind] for kind in ("found", "beyond", "below", "above", "other"))
            == row["drawn"]
        )
    rates = rate_row(2, 7)
    assert rates["enough"] <= rates["drawn"] == 2
    keys = {row["rests"]: row["creeps"] for row in key_cycle_rows(2, 7)}
    assert keys["sits turned"] == keys["sound (physics)"] == 0
    assert keys["weak torque (physics)"] == pytest.approx(2)
