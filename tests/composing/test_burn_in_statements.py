"""The two statements on a burn-in: neither is made of what the other is made of."""

from dataclasses import replace

from needlewright.bench.burn_in.journal import Counts
from needlewright.composing.burn_in_known import A_YEAR
from needlewright.composing.burn_in_statements import (
    Beforehand,
    LeftRun,
    batch_document,
    beforehand_document,
    laws_of,
    shown_document,
)

USUAL = Beforehand(laws_of({}, None), A_YEAR)
A_DAY = Counts(powered_s=86_400.0, sweeps=288)


def test_other_laws_change_nothing_of_what_a_run_shows():
    stated = {"hours": (0.9, 1000.0), "sweeps": (1.5, 5000.0)}
    sharp = replace(USUAL, laws=laws_of(stated, None), left=LeftRun("final", "", {}))
    mine, theirs = (
        shown_document(one, A_DAY, {"hours": 1}, rehearsed=False) for one in (USUAL, sharp)
    )
    assert mine == theirs
    before, after = (beforehand_document(one, A_DAY) for one in (USUAL, sharp))
    assert before["fails_after"] != after["fails_after"]


def test_what_a_run_showed_changes_nothing_of_what_was_expected_but_whom_it_is_said_of():
    came, failed = (beforehand_document(USUAL, A_DAY, came_through=one) for one in (True, False))
    assert came["fails_without"] == failed["fails_without"]
    assert [one["fails_without"] for one in came["parts"]] == [
        one["fails_without"] for one in failed["parts"]
    ]
    assert failed["fails_after"] is None
    assert failed["words"].endswith(
        "this one failed in 24 h and 288 sweeps of burn-in, and of such a one nothing is said here"
    )


def test_a_bound_that_says_nothing_is_said_to_say_nothing():
    words = shown_document(USUAL, A_DAY, {}, rehearsed=False)["words"]
    # chi-square with 2 degrees of freedom at 95 %: 24 h / 2.996 (NIST/SEMATECH 8.4.5.1)
    assert words.startswith(
        "24 h of this one unit with no failure of the electronics show by themselves, at 95%, a "
        "mean of at least 8.01 h between failures: nothing is shown against a failure within 500 h"
    )
    long = Counts(powered_s=3600.0 * 2000, sweeps=24_000)
    words = shown_document(USUAL, long, {}, rehearsed=False)["words"]
    # 1 - exp(-2.996 x 500 / 2000)
    assert "a mean of at least 668 h between failures: a failure within 500 h may be 53%" in words
    assert "probable; 24\u202f000 sweeps" in words


def test_thousands_of_a_batch_stand_in_thin_groups():
    words = batch_document(1000.0, 0.95, 0.95)["words"]
    assert words == (
        "to show at 95%: 2\u202f996 h of all units together without a failure for a mean of "
        "1\u202f000 h between failures; 59 units without a failure for 95.0% that come through"
    )
