from dataclasses import replace

import pytest

from needlewright.proofs.before_after import before_after
from needlewright.proofs.verdicts import judge_run
from needlewright.readings.runs import Run
from proofs.drawn_job import FAMILY, row, true_run


def test_the_drawn_job_pairs_every_row():
    found, left = (judge_run(FAMILY, true_run(name)) for name in ("as-found", "as-left"))
    table = before_after(found, left)
    assert len(table) == 48
    assert all(r.found is not None and r.left is not None for r in table)
    low = next(r for r in table if (r.dial, r.commanded, r.approach) == ("speed", 40.0, "down"))
    assert (low.found.code, low.left.code) == ("fail", "pass")
    assert low.change == pytest.approx(5.88, abs=0.005)


def test_swapping_the_runs_mirrors_the_table():
    found, left = (judge_run(FAMILY, true_run(name)) for name in ("as-found", "as-left"))
    there, back = before_after(found, left), before_after(left, found)
    for forth, mirrored in zip(there, back, strict=True):
        assert forth.found is mirrored.left
        assert forth.left is mirrored.found
        assert forth.change == pytest.approx(-mirrored.change, abs=1e-12)


def test_rows_of_one_run_only_and_repeated_points():
    def verdict(*rows):
        return judge_run(FAMILY, Run("typed", rows))

    found = verdict(row("speed", 40, 41.0), row("speed", 40, 42.0), row("speed", 60, 66.0))
    left = verdict(
        row("speed", None, 0.0),
        row("speed", 40.0000000001, 43.0),
        replace(row("speed", 40, 44.0), approach="down"),
    )
    table = before_after(found, left)
    shown = [
        (r.commanded, r.approach, r.found and r.found.shown, r.left and r.left.shown) for r in table
    ]
    assert shown == [
        (None, "rest", None, 0.0),
        (40.0000000001, "up", 41.0, 43.0),
        (40, "down", None, 44.0),
        (40, "up", 42.0, None),
        (60, "up", 66.0, None),
    ]
    assert [r.change for r in table] == [None, 2.0, None, None, None]
