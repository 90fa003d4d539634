"""What is said of a burn-in that runs where nobody sees a bar."""

import pytest

from needlewright.amounts import work_words
from needlewright.bench.burn_in.attended import Progress
from needlewright.bench.burn_in.journal import Counts
from needlewright.cli.burn_in_told import each_hour


def test_each_full_hour_is_said_once_with_what_it_is_of(capsys: pytest.CaptureFixture[str]):
    tell = each_hour(3.0, "rehearsed h")
    for minutes in (0, 30, 60, 61, 119, 121, 180):
        counts = Counts(powered_s=60.0 * minutes, sweeps=minutes // 5)
        tell(Progress(counts, 3.0, events=2, words="dwell"))
    assert capsys.readouterr().err.splitlines() == [
        "1 of 3 rehearsed h: 12 sweeps, 2 events",
        "2 of 3 rehearsed h: 24 sweeps, 2 events",
    ]


def test_a_burn_in_that_is_gone_on_with_says_the_hours_from_there(
    capsys: pytest.CaptureFixture[str],
):
    tell = each_hour(24.0, "h")
    for hours in (5.4, 5.9, 6.0):
        tell(Progress(Counts(powered_s=3600.0 * hours), 24.0, events=0, words="dwell"))
    assert capsys.readouterr().err == "6 of 24 h: 0 sweeps, 0 events\n"


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(2.0, "10 s"), (47.0, "50 s"), (130.0, "2 min"), (2500.0, "42 min"), (9000.0, "2.5 h")],
)
def test_work_is_said_no_more_exactly_than_it_is_known(seconds: float, words: str):
    assert work_words(seconds) == words
