"""Moves of a series, what they say of a dial, and of winter."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from benchmarks.cold_cases import turned
from benchmarks.sweep_cases import dial_of
from scipy.stats import beta

from needlewright.findings.cold import judged
from needlewright.findings.cold.judged import (
    LARGEST_RATIO,
    REGARDLESS,
    SMALLEST_RATIO,
    cold_evidence,
    judge_cold,
)
from needlewright.findings.cold.moves import RunInCold, SweepInCold, moves_of
from needlewright.readings.runs import Run, RunRow

DIAL = dial_of()
ROOT = Path(__file__).parents[3]


def run_of(degc: float | None, *seen: tuple[float, float | None], name: str = "", u: float = 0.05):
    """A run of commands and by how much the needle is off, clockwise."""
    rows, last = [], 0.0
    for value, off in seen:
        at = None if off is None else DIAL.programme_angle_deg(value) + off
        way = "up" if value >= last else "down"
        name = name or f"at {degc}"
        rows.append(RunRow(name, DIAL.id, "km/h", way, value, degc, at, u))
        last = value
    return RunInCold(Run(name, tuple(rows)), common={"thermometer": 0.5})


def outcomes(*runs: RunInCold) -> list[str]:
    return [move.outcome for move in moves_of(DIAL, runs).moves]


SOUND = run_of(20.0, (100, 0.0), (200, 0.0), (100, 0.0))


def test_a_jump_is_a_failure_and_what_stays_is_none():
    slipped = run_of(-20.0, (100, 0.0), (200, -6.0), (100, -6.0))
    assert outcomes(slipped, SOUND) == ["held", "slipped", "held", "held", "held", "held"]
    back = run_of(-20.0, (100, 0.0), (200, -6.0), (100, 0.0))
    # behind on the way down too: the needle lost as much again
    assert outcomes(back, SOUND)[:3] == ["held", "slipped", "slipped"]


def test_a_needle_that_does_not_move_stood():
    dead = run_of(-20.0, (100, -102.0), (200, -202.0))
    assert outcomes(dead, SOUND)[:2] == ["stood", "stood"]


def test_what_a_needle_does_at_its_stop_says_nothing_once_it_is_lost():
    lost = run_of(-20.0, (100, -60.0), (200, -60.0), (50, -52.0))
    assert outcomes(lost, SOUND)[:2] == ["slipped", "held"]
    assert moves_of(DIAL, [lost, SOUND]).untold == 1


def test_a_needle_that_sits_turned_fails_nothing():
    """A seat 4 degrees off, warm and cold."""
    warm, cold = (
        run_of(t, (100, 4.0), (200, 4.05), (150, 3.95), (100, 4.0)) for t in (20.0, -20.0)
    )
    assert set(outcomes(warm, cold)) == {"held"}


def test_short_moves_missing_readings_and_rows_without_temperature_are_counted():
    short = run_of(-20.0, (100, 0.0), (110, 0.0), (200, None))
    blind = run_of(None, (100, 0.0))
    moves = moves_of(DIAL, [short, SOUND, blind])
    assert (moves.short, moves.untold, moves.without_temperature) == (1, 1, 1)


def test_a_coarse_reading_does_not_tell_one_cycle():
    typed = run_of(-20.0, (100, 0.0), (200, -2.0), u=1.0)
    assert outcomes(typed, SOUND)[0] == "held"
    assert moves_of(DIAL, [typed, SOUND]).untold == 1


def test_a_sweep_is_a_move_over_the_whole_scale():
    swept = replace(
        run_of(-20.0, (200, 0.0)),
        sweep=SweepInCold(-18.0, {"thermometer": 0.5}, ("speed",), (("speed", "lost_steps"),)),
    )
    last = moves_of(DIAL, [swept]).moves[-1]
    assert (last.outcome, last.degc, last.way_deg) == ("slipped", -18.0, 240.0)
    other = replace(swept, sweep=replace(swept.sweep, dials=("fuel",)))
    assert len(moves_of(DIAL, [other]).moves) == 1


def cold_series(*failing: float) -> list[RunInCold]:
    runs = []
    for degc in (-20.0, -10.0, 0.0, 20.0):
        off = -8.0 if degc in failing else 0.0
        runs.append(run_of(degc, (100, off), (200, 2 * off), (100, off), (200, 2 * off)))
    return runs


def test_the_onset_is_said_and_is_evidence_of_the_movement():
    found = judge_cold(DIAL, cold_series(-20.0, -10.0))
    assert found.onset.where == "found"
    assert "half of the demanding moves fail at -5." in found.words
    assert "; one in ten at -3." in found.words
    (evidence,) = cold_evidence(found, "series 'cold'")
    assert (evidence.finding, evidence.dial, evidence.unit) == ("cold_wrong", "speed", "degC")
    assert evidence.part == "movement"
    assert evidence.ratio == LARGEST_RATIO
    assert -12 < evidence.size < 0
    assert evidence.u_size == pytest.approx(found.onset.u_c)


def test_no_ratio_beyond_what_the_drawn_series_bear():
    """Bounds of C. J. Clopper and E. S. Pearson, 1934 (from memory), by scipy.stats.beta."""
    rows = json.loads((ROOT / "docs/measured/cold.json").read_text())["onset"]

    def counts(of: str, name: str) -> tuple[int, int]:
        some = [row for row in rows if of in row["series"]]
        assert some
        return sum(row[name] for row in some), sum(row["drawn"] for row in some)

    def bound(errors: int, drawn: int) -> float:
        return float(beta.ppf(0.95, errors + 1, drawn - errors))

    sure, faulty = counts("begins between", "surely_cold")
    sound = bound(*counts("sound", "surely_cold"))
    off = max(bound(*counts(kind, "surely_cold")) for kind in ("scatters", "slips", "wrong face"))
    assert sure / faulty / ((1 - REGARDLESS) * sound + REGARDLESS * off) >= LARGEST_RATIO
    called, _ = counts("begins between", "called_cold")
    quiet = [1 - c / n for c, n in (counts(k, "called_cold") for k in ("sound", "scatters"))]
    share = (1 - REGARDLESS) * quiet[0] + REGARDLESS * quiet[1]
    assert share / bound(faulty - called, faulty) >= 1 / SMALLEST_RATIO


def test_one_run_that_fails_alone_is_less_sure_than_two(monkeypatch):
    """As the moves say it, before the limit that is set to any series."""
    monkeypatch.setattr(judged, "LARGEST_RATIO", 1e4)
    one, two = (judge_cold(DIAL, cold_series(*f)).ratio for f in ((-20.0,), (-20.0, -10.0)))
    assert 1 < one < two


def test_a_sound_series_speaks_against_the_cold():
    found = judge_cold(DIAL, cold_series())
    (evidence,) = cold_evidence(found, "series 'cold'")
    assert evidence.ratio < 0.25
    assert evidence.size is None
    assert (
        "no move failed from -20 to 20 °C; if half of the demanding moves fail anywhere, then"
        in (evidence.words)
    )


def test_all_that_fails_warm_as_well_is_not_of_the_cold():
    slips = ((100, 0.0), (200, -6.0), (150, -6.0), (100, -6.0), (60, -6.0))
    found = judge_cold(DIAL, [run_of(degc, *slips) for degc in (-20.0, -10.0, 0.0, 20.0)])
    assert found.onset.where == "regardless"
    assert found.ratio < 1
    assert judge_cold(DIAL, [run_of(None, (100, 0.0))]) is None


def one_of_nine() -> list[RunInCold]:
    """One failed move of nine at the coldest, by typed runs."""
    held = [(200, 0.0) if n % 2 else (100, 0.0) for n in range(9)]
    slips = [*held[:-1], (held[-1][0], -6.0)]
    return [run_of(22.0, *held), run_of(0.0, *held), run_of(-15.0, *slips)]


def test_where_half_fail_was_not_reached_no_temperature_is_made_up():
    found = judge_cold(DIAL, one_of_nine(), -10.0)
    assert found.onset.where == "beyond_cold"
    assert (
        "some moves already fail at -15 °C, the coldest tried (1 of 9); where half fail was not "
        "reached: that is below -15." in found.words
    )
    for evidence in cold_evidence(found, "series 'cold'"):
        assert (evidence.size, evidence.u_size) == (None, None)


def test_colder_than_failing_begins_winter_is_never_shown_to_be_enough():
    found = judge_cold(DIAL, one_of_nine(), -25.0)
    assert found.winter.warns
    assert found.winter.judged_c == -15.0
    assert "at -15 °C already, the coldest tried" in found.winter_words


def test_moves_in_the_warm_alone_say_nothing_of_the_cold():
    warm = judge_cold(DIAL, [SOUND, run_of(22.0, (100, 0.0), (200, 0.0))])
    assert "no move failed from 20 to 22 °C" in warm.words
    assert cold_evidence(warm, "x") == ()


def test_one_temperature_is_no_evidence():
    found = judge_cold(DIAL, [run_of(-20.0, (100, 0.0), (200, -8.0), (100, -8.0))])
    assert "one temperature does not say where it begins" in found.words
    assert cold_evidence(found, "x") == ()


@pytest.mark.parametrize(
    ("failing", "winter", "said"),
    [
        ((-20.0, -10.0), -20.0, "passes warm, but not at the family's winter figure, -20 °C"),
        ((-20.0,), -2.0, None),
        ((-20.0,), -10.0, "is not sure"),
        ((), -10.0, None),
        ((), -30.0, "not shown to work at the family's winter figure, -30 °C"),
    ],
)
def test_winter_is_warned_of(failing, winter, said):
    found = judge_cold(DIAL, cold_series(*failing), winter)
    if said is None:
        assert found.winter_words is None
        assert found.winter.winter == "enough"
    else:
        assert said in found.winter_words
        assert found.winter.warns


def test_the_physics_of_grease_is_found_where_it_is():
    """Rehearsed movements stall below a temperature that is put in; 3 of 4 intervals hold."""
    rng = np.random.default_rng(4)
    held = 0
    for _ in range(4):
        onset_c = float(rng.uniform(-16, -4))
        series = turned(rng, onset_c)
        onset = judge_cold(series.dial, series.runs).onset
        low = -99.0 if onset.low_c is None else onset.low_c
        high = 99.0 if onset.high_c is None else onset.high_c
        held += low <= onset_c <= high
    assert held >= 3
