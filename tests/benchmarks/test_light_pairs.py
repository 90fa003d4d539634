"""How the benchmark of lamps after the work counts."""

import numpy as np
import pytest
from benchmarks.light_pairs import (
    Said,
    _interval,
    claims_table,
    claims_too_much,
    is_so,
    stated,
    worked_on,
)

from needlewright.findings.lamps.after_work import Compared
from needlewright.findings.lamps.looked import Condition, Looked


def look(condition: Condition, probability: float) -> Looked:
    return Looked("zone", "a", None, condition, probability)


def test_what_two_looks_state_is_the_product_of_their_own_probabilities() -> None:
    dark, right = look("dark", 0.9), look("right", 0.8)
    for outcome, found, left, chance in (
        ("mended", dark, right, 0.9 * 0.8),
        ("new", right, dark, 0.8 * 0.9),
        ("right", right, right, 0.8 * 0.8),
        ("still", dark, dark, 0.9 * 0.9),
    ):
        one = Compared("zone", "a", None, outcome, found, left)
        assert stated(one) == pytest.approx(chance)


def test_a_thing_that_is_still_wrong_is_so_however_bad_it_is() -> None:
    assert is_so(Said("hub", "worse", "still", 1.0))
    assert is_so(Said("hub", "mended", "mended", 1.0))
    assert not is_so(Said("hub", "still", "mended", 1.0))
    assert not is_so(Said("hub", "right", "still", 1.0))


def test_claims_beyond_what_is_stated_are_named() -> None:
    """Two of 20 wrong are no chance where 0.999 was stated, and are where 0.9 was."""
    so, not_so = (Said("hub", true, "mended", 0.999) for true in ("mended", "right"))
    said = [so] * 18 + [not_so] * 2
    assert claims_too_much(said) == ["mended, hubs"]
    assert claims_too_much([Said(o.kind, o.true, o.said, 0.9) for o in said]) == []
    [cells] = zip(*(column.cells for column in claims_table(said).columns), strict=True)
    assert cells[:4] == ("mended, hubs", "20", "18", "0.900")


def test_the_interval_is_that_of_clopper_and_pearson() -> None:
    """Without a hit its upper end is 1 - 0.025 ** (1 / n), derived by hand."""
    assert _interval(0, 10) == f"0.000 to {1 - 0.025**0.1:.3f}"
    assert _interval(10, 10) == f"{0.025**0.1:.3f} to 1.000"
    assert not _interval(0, 0)


def test_work_replaces_wrong_lamps_and_lets_right_ones_be() -> None:
    rng = np.random.default_rng(3)
    found = {f"l{n}": 0.0 if n % 2 else 1.0 for n in range(400)}
    left = worked_on(rng, found, 0.0)
    replaced = [left[lamp] for lamp, light in found.items() if light == 0 and left[lamp] > 0]
    assert len(replaced) / 200 == pytest.approx(0.6, abs=0.1)
    assert min(replaced) >= 0.85
    assert all(abs(left[lamp] - 1) < 0.05 for lamp, light in found.items() if light == 1)
