"""The needle-set instruction: on the drawn job, on made runs, at its edges."""

import re
from dataclasses import replace
from math import degrees

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom

from needlewright.families.model import Dial, Movement, Programme
from needlewright.plans.needle_set import NeedleSet, needle_set
from needlewright.plans.seat import fit_seat, seat_rows, turn_components_deg
from needlewright.proofs.verdicts import rule_of
from needlewright.readings.runs import RunRow
from plans.made_runs import made_rows, noise
from readings.drawn_runs import FAMILY, completed, drawn_run, turned

DIALS = {dial.id: dial for dial in FAMILY.dials}
SPEED, ENGINE, TEMP, FUEL = (DIALS[name] for name in ("speed", "engine", "temp", "fuel"))
ECC_MM = FAMILY.eccentricity_mm


def told(dial: Dial, rows: tuple[RunRow, ...]) -> NeedleSet:
    return needle_set(dial, rows, rule_of(dial), ECC_MM)


def drawn(name: str, dial: str, u_deg: float = 0.05, seed: int | None = None) -> NeedleSet:
    return told(DIALS[dial], completed(drawn_run(name, u_deg, seed)).of_dial(dial))


EXPECTED = {
    ("as-found", "speed"): "not_the_seat",
    ("as-found", "fuel"): "not_the_seat",
    ("as-found", "engine"): "turn",
    ("as-found", "temp"): "leave",
    ("as-left", "speed"): "leave",
    ("as-left", "fuel"): "leave",
    ("as-left", "engine"): "leave",
    ("as-left", "temp"): "leave",
}


@pytest.mark.parametrize(("run", "dial"), EXPECTED)
@pytest.mark.parametrize("u_deg", [0.03, 0.05, 0.1])
@pytest.mark.parametrize("seed", [None, 1, 2, 3, 4])
def test_the_drawn_job(run: str, dial: str, u_deg: float, seed: int | None) -> None:
    found = drawn(run, dial, u_deg, seed)
    assert found.verdict == EXPECTED[run, dial]
    if found.verdict == "turn":
        assert found.turn_deg == pytest.approx(3.4, abs=2 * found.u_turn_deg)
        assert 0.1 < found.u_turn_deg < 0.2


def test_the_engine_of_the_drawn_job_in_full() -> None:
    found = drawn("as-found", "engine")
    # The mean of the eleven drawn errors; equal weights, as every row has the same u.
    assert found.turn_deg == pytest.approx(3.3959, abs=5e-5)
    # House rule, 1 % of span: 0.08; worst at 4.8 down, shown 4.69295.
    assert found.margin_before == pytest.approx(0.08 - (4.8 - 4.69295), abs=1e-5)
    assert (found.worst_point.commanded, found.worst_point.approach) == (4.8, "down")
    assert found.margin_after == pytest.approx(0.0702524, abs=1e-6)
    assert found.margin_unit == "1000 r/min"
    assert "does not conform at 4.8 ×1000 r/min down" in found.reason
    assert "reads low by one turn of the needle, 3.4 deg" in found.reason
    # Reading 0.05; repeatability 0.15 over two approaches of 6 and 5 rows; eccentricity 0.15 mm
    # at 36.77 mm, seen from eleven directions.
    parts = dict(found.components_deg)
    assert parts["reading and stimulus"] == pytest.approx(0.05)
    assert parts["repeatability"] == pytest.approx(0.15 * np.hypot(6 / 11, 5 / 11))
    angles = np.radians(
        [r.angle_deg for r in completed(drawn_run("as-found")).of_dial("engine")[1:]]
    )
    resultant = abs(np.exp(1j * angles).mean())
    assert parts["eccentricity"] == pytest.approx(degrees(0.15 / 36.77) * resultant, rel=1e-9)


def test_rows_that_are_not_one_turn_are_named() -> None:
    speed = drawn("as-found", "speed")
    assert "jumps by -5.8 deg between 80 km/h up and 120 km/h up" in speed.reason
    assert (speed.turn_deg, speed.u_turn_deg, speed.margin_after) == (None, None, None)
    # R39 at 40 km/h, shown 36.528 on the way down.
    assert speed.margin_before == pytest.approx(36.528 - 40.0, abs=1e-3)
    assert (speed.worst_point.commanded, speed.worst_point.approach) == (40.0, "down")
    fuel = drawn("as-found", "fuel")
    assert "rising and falling differ by 2.8 deg on average" in fuel.reason
    assert "most at 0.2 of full (+1.5 deg up, -1.5 deg down)" in fuel.reason


@pytest.mark.parametrize("dial", DIALS.values(), ids=list(DIALS))
@given(offset=st.floats(-15, 15).filter(lambda x: abs(x) > 2.0))
@settings(max_examples=60, deadline=None)
def test_a_seat_is_turned_back_exactly(dial: Dial, offset: float) -> None:
    found = told(dial, made_rows(dial, seat_deg=offset))
    assert found.turn_deg == pytest.approx(-offset, abs=1e-6)
    assert found.verdict == "turn"
    assert found.target == "programme"


@pytest.mark.parametrize("dial", DIALS)
@given(offset=st.floats(-8, 8), seed=st.integers(0, 10**6))
@settings(max_examples=40, deadline=None)
def test_what_is_turned_comes_back_in_the_instruction(dial: str, offset: float, seed: int) -> None:
    """As left, pressed on further by some offset: the instruction grows by just that offset."""
    run = drawn_run("as-left", 0.06, seed)
    if dial == "fuel" and offset > 0:
        offset = -offset  # toward its pin, where rows stop saying how far
    still = told(DIALS[dial], completed(run).of_dial(dial))
    moved = told(DIALS[dial], completed(turned(run, dial, offset)).of_dial(dial))
    if still.verdict == "not_the_seat":
        assert moved.verdict == "not_the_seat"
        return
    assert moved.turn_deg == pytest.approx(still.turn_deg - offset, abs=1e-9)
    assert abs(moved.turn_deg + offset) <= 4 * moved.u_turn_deg


RUNS = 250


@pytest.mark.parametrize("dial", DIALS.values(), ids=list(DIALS))
@pytest.mark.parametrize("u_deg", [0.03, 0.1])
def test_a_sound_movement_is_seldom_called_not_the_seat(dial: Dial, u_deg: float) -> None:
    """Noise as stated, any seat: at most 1 % false alarms, judged at the 99.9 % binomial bound."""
    rng = np.random.default_rng(7)
    wrong = 0
    for _ in range(RUNS):
        error = noise(rng, u_deg, dial.movement.repeatability_deg)
        rows = made_rows(dial, error, seat_deg=float(rng.uniform(-4, 4)), u_deg=u_deg)
        wrong += told(dial, rows).verdict == "not_the_seat"
    assert wrong <= binom.ppf(0.999, RUNS, 0.01)


def slip(i_from: int, size_deg: float):
    return lambda i, told, approach: size_deg if i >= i_from else 0.0


def lash(size_deg: float):
    return lambda i, told, approach: (0.5 if approach == "up" else -0.5) * size_deg


def both(one, other):
    return lambda i, told, approach: one(i, told, approach) + other(i, told, approach)


def grows(dial: Dial, factor: float):
    def error(i: int, told_value: float, approach: str) -> float:
        shown = dial.programme.shown_at(told_value)
        origin = dial.scale.values[0]
        return dial.scale.angle_at(origin + factor * (shown - origin)) - dial.scale.angle_at(shown)

    return error


@pytest.mark.parametrize("dial", DIALS.values(), ids=list(DIALS))
@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda dial: slip(4, -2.0), "jumps by"),
        (lambda dial: slip(7, 2.0), "jumps by"),
        (lambda dial: lash(1.0), "rising and falling differ by"),
        (lambda dial: grows(dial, 1.03), "the error runs from"),
        (lambda dial: lambda i, told, approach: 2.0 if i == 3 else 0.0, "rows scatter|jumps by"),
    ],
    ids=["one cycle down", "one cycle up", "backlash", "factor", "one row"],
)
def test_what_no_turn_puts_right_is_found_and_described(dial: Dial, make, says: str) -> None:
    """One lost cycle, a degree of backlash, 3 % of scale factor, one row: found 19 times in 20."""
    rng = np.random.default_rng(11)
    found = []
    for _ in range(40):
        blur = noise(rng, 0.08, dial.movement.repeatability_deg)
        rows = made_rows(
            dial, both(make(dial), blur), seat_deg=float(rng.uniform(-2, 2)), u_deg=0.08
        )
        found.append(told(dial, rows))
    hits = [one for one in found if one.verdict == "not_the_seat"]
    assert len(hits) >= 38
    assert sum(bool(re.search(says, one.reason)) for one in hits) >= 0.9 * len(hits)


def test_backlash_within_the_movement_s_repeatability_is_not_called() -> None:
    assert told(FUEL, made_rows(FUEL, lash(0.3))).verdict == "leave"
    assert told(FUEL, made_rows(FUEL, lash(0.9))).verdict == "not_the_seat"
    steady = replace(FUEL, movement=Movement(repeatability_deg=0.03))
    assert told(steady, made_rows(steady, lash(0.3))).verdict == "not_the_seat"


def test_a_small_turn_is_left_when_it_conforms() -> None:
    # A quarter of the engine's tip width is 0.495 degrees: below it no hand would turn.
    left = told(ENGINE, made_rows(ENGINE, seat_deg=-0.45))
    assert left.verdict == "leave"
    assert left.turn_deg == pytest.approx(0.45, abs=1e-9)
    assert left.reason == "it conforms, and the turn is less than a hand can aim for"
    assert told(ENGINE, made_rows(ENGINE, seat_deg=-0.55)).verdict == "turn"
    blurred = told(ENGINE, made_rows(ENGINE, seat_deg=-0.55, u_deg=0.6))
    assert blurred.verdict == "leave"
    assert blurred.reason == "it conforms, and the gain is below what can be told"


def test_a_small_turn_is_made_when_only_that_conforms() -> None:
    tight = replace(ENGINE, rule={"house": {"of_span": 0.0012}})
    found = told(tight, made_rows(tight, seat_deg=-0.35))
    assert found.margin_before < 0 < found.margin_after
    assert found.verdict == "turn"


def test_what_no_turn_brings_in_is_left_and_said_so() -> None:
    tight = replace(ENGINE, rule={"house": {"of_span": 0.0003}})
    found = told(tight, made_rows(tight, lash(0.2)))
    assert found.verdict == "leave"
    assert found.margin_before < 0
    assert "does not conform" in found.reason
    assert "no turn of the needle would bring it in" in found.reason


def test_without_a_rule_there_are_no_margins() -> None:
    free = replace(ENGINE, rule=None)
    found = told(free, made_rows(free, seat_deg=3.0))
    assert (found.verdict, found.margin_before, found.margin_after) == ("turn", None, None)
    assert found.turn_deg == pytest.approx(-3.0, abs=1e-9)


def test_nothing_read_is_nothing_said() -> None:
    rows = tuple(replace(r, angle_deg=None, indicated=None) for r in made_rows(ENGINE))
    found = told(ENGINE, rows)
    assert (found.verdict, found.turn_deg) == (None, None)
    assert found.reason == "no commanded row was read; nothing can be said of the seat"
    stopped = tuple(replace(r, flags=("on_stop",)) for r in made_rows(ENGINE))
    assert told(ENGINE, stopped).reason.startswith("every commanded row stands on a stop")


def test_one_row_turns_and_says_that_it_is_alone() -> None:
    found = told(ENGINE, made_rows(ENGINE, seat_deg=4.0)[3:4])
    assert found.verdict == "turn"
    assert found.turn_deg == pytest.approx(-4.0, abs=1e-9)
    assert found.reason.endswith("one row only, so nothing says the others agree")
    # One direction only: the eccentricity does not average at all.
    assert dict(found.components_deg)["eccentricity"] == pytest.approx(degrees(0.15 / 36.77))


HONEST = replace(SPEED, programme=Programme())
"""A speedometer programmed to show the true speed: R39 leaves no room below it."""


def test_where_the_rule_leaves_no_room_the_smallest_margin_is_made_largest() -> None:
    """R39 without a rest in the way: at the lowest point V the room is 0.1 V + 4, its middle best.

    Commanded 39.6 to 198 and no zero: a turn of s degrees shows 0.961 s more everywhere, so the
    lower margin is that, the upper one least at 39.6: 7.96 - 0.961 s. Best where both are 3.98.
    """
    rows = tuple(r for r in made_rows(HONEST, rest=False) if r.commanded)
    found = told(HONEST, rows)
    assert found.target == "rule"
    assert found.margin_before == pytest.approx(0.0, abs=1e-9)
    assert found.margin_after == pytest.approx(3.98, abs=1e-3)
    assert found.turn_deg == pytest.approx(3.98 * 20.807 / 20, abs=1e-3)
    assert found.verdict == "turn"
    assert "the rule leaves no room for the programme" in found.reason


def test_the_rest_limit_holds_the_needle() -> None:
    found = told(HONEST, made_rows(HONEST))
    half_tip = degrees(0.5 * 1.39 / 45.09)
    assert found.turn_deg == pytest.approx(half_tip, abs=1e-9)
    assert found.margin_after == pytest.approx(half_tip * 20 / 20.807, abs=1e-3)
    assert "the rest limit allows no more" in found.reason


def test_a_needle_on_its_pin_is_not_held_by_the_rest_limit() -> None:
    pinned = replace(HONEST, rest_pin=True, rest_angle_deg=SPEED.rest_angle_deg - 8.0)
    rows = tuple(r for r in made_rows(pinned) if r.commanded != 0.0)
    assert rows[0].approach == "rest"
    assert told(pinned, rows).turn_deg == pytest.approx(3.98 * 20.807 / 20, abs=1e-3)


def test_a_tight_rule_about_the_programme_keeps_the_programme() -> None:
    """A house rule narrower than U leaves no room, yet no turn leaves more: the mean stays best."""
    tight = replace(TEMP, rule={"house": {"of_span": 0.002}})
    found = told(tight, made_rows(tight, seat_deg=3.0))
    assert found.target == "programme"
    assert found.turn_deg == pytest.approx(-3.0, abs=1e-9)


def test_rows_on_a_stop_count_on_one_side() -> None:
    """Slipped down by three cycles throughout, the zero row stands on its stop: still one turn."""
    rows = list(made_rows(ENGINE, slip(0, -6.0)))
    stop = ENGINE.rest_angle_deg - 2.0
    for i in (1, len(rows) - 1):
        rows[i] = replace(
            rows[i], angle_deg=stop, indicated=None, u_indicated=None, flags=("on_stop",)
        )
    found = needle_set(ENGINE, rows, None, ECC_MM)
    assert found.verdict == "turn"
    # The needle rests where it should, so the rest limit holds it to half a tip width.
    assert found.turn_deg == pytest.approx(degrees(0.5 * 1.27 / 36.77), abs=1e-9)
    free = [r for r in rows if r.approach != "rest"]
    assert needle_set(ENGINE, free, None, ECC_MM).turn_deg == pytest.approx(6.0, abs=1e-9)
    unflagged = [replace(r, flags=()) for r in free]
    assert needle_set(ENGINE, unflagged, None, ECC_MM).verdict == "not_the_seat"
    # The other way round a stop contradicts: the others say it should stand well above it.
    high = [replace(r, angle_deg=r.angle_deg + 12.0) if not r.on_stop else r for r in free]
    assert needle_set(ENGINE, high, None, ECC_MM).verdict == "not_the_seat"


def correlated(common: float, of_approach: dict[str, float], east_mm: float, north_mm: float):
    """Errors of the engine dial as the terms of the turn's uncertainty say they hang together."""

    def error(i: int, told_value: float, approach: str) -> float:
        at = np.radians(ENGINE.programme_angle_deg(told_value))
        shaft_deg = degrees((east_mm * np.sin(at) + north_mm * np.cos(at)) / 36.77)
        return common + of_approach[approach] + shaft_deg

    return error


def test_the_stated_uncertainty_of_the_turn_is_what_its_terms_make() -> None:
    """Errors drawn as the terms say they correlate: turn over u has mean square one."""
    rng = np.random.default_rng(3)
    scores = []
    for _ in range(400):
        common, east, north = rng.normal(0.0, (0.1, 0.15, 0.15))
        of_approach = dict(zip(("up", "down"), rng.normal(0.0, 0.15, 2), strict=True))
        error = correlated(common, of_approach, east, north)
        fit = fit_seat(ENGINE, seat_rows(ENGINE, made_rows(ENGINE, error, u_deg=0.1), ECC_MM))
        parts = turn_components_deg(ENGINE, fit.used, fit.weights, ECC_MM)
        scores.append(fit.seat_deg / np.hypot.reduce([u for _, u in parts]))
    # Chi-square of 400 scores: central 99 % of its mean is 0.823 to 1.190.
    assert 0.823 < np.mean(np.square(scores)) < 1.190


def test_a_stimulus_in_doubt_widens_rows_and_turn() -> None:
    rows = [
        replace(r, u_commanded=0.02 if r.commanded is not None else None) for r in made_rows(ENGINE)
    ]
    found = told(ENGINE, tuple(rows))
    stimulus_deg = 0.02 * 33.433
    assert dict(found.components_deg)["reading and stimulus"] == pytest.approx(
        np.hypot(0.06, stimulus_deg), rel=1e-3
    )
