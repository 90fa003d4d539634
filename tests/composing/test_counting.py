"""Parts counted out and in: what does not come out even is said."""

import pytest

from needlewright.composing.counting import Counts


@pytest.mark.parametrize(
    ("counted", "even", "is_wrong", "words"),
    [
        ((None, None, 4), "", False, ""),
        ((4, 4, 4), "all", False, ""),
        ((4, 4, None), "all", False, ""),
        ((4, None, 4), "not_in", False, "screws: 4 out, not counted in yet"),
        ((7, 5, None), "missing", True, "screws: 7 out, 5 in, 2 missing; find before closing"),
        ((7, 0, 7), "missing", True, "screws: 7 out, 0 in, 7 missing; find before closing"),
        ((4, 5, None), "more", True, "screws: 4 out, 5 in, 1 too many; count again"),
        ((None, 3, None), "not_out", True, "screws: 3 in, and nothing counted out; count again"),
        (
            (3, None, 4),
            "other",
            True,
            "screws: 3 out, and there should be 4; count again, or note why",
        ),
    ],
)
def test_what_does_not_come_out_even_is_said(counted, even, is_wrong, words):
    counts = Counts("screws", *counted)
    assert (counts.even, counts.is_wrong, counts.words) == (even, is_wrong, words)
