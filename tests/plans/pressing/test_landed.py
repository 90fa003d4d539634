"""What a pressed needle has come to: drawn hands, closed forms, slips, pins and too few rows."""

from dataclasses import replace
from math import hypot
from typing import Final

import numpy as np
import pytest
from scipy.stats import norm
from statsmodels.stats.meta_analysis import combine_effects

from needlewright.families.model import Dial
from needlewright.plans.pressing.expected import expected_check, own_of, pull_variance
from needlewright.plans.pressing.hand import HandSpread
from needlewright.plans.pressing.landed import WORTH, chance_of_all, landed
from needlewright.plans.pressing.press import Press, plan_press
from needlewright.plans.pressing.windows import Window
from needlewright.plans.seat import fit_seat, seat_rows
from needlewright.proofs.verdicts import rule_of
from needlewright.readings.runs import RunRow
from needlewright.readings.stops import ON_STOP
from plans.made_runs import made_rows
from readings.drawn_runs import FAMILY

DIALS: Final = {dial.id: dial for dial in FAMILY.dials}
ECC_MM: Final = FAMILY.eccentricity_mm
HAND: Final = HandSpread(0.3, 0.0, 0.0, 100)
U_DEG: Final = 0.2


def planned(dial: Dial, rows=None, hand: HandSpread = HAND) -> Press:
    rows = made_rows(dial, seat_deg=3.0) if rows is None else rows
    return plan_press(dial, rows, rule_of(dial), ECC_MM, hand)


def ruled(name: str, of_span: float = 0.02) -> Dial:
    return replace(DIALS[name], rule={"house": {"of_span": of_span}})


@pytest.mark.parametrize("name", ["engine", "temp"])
def test_the_chance_after_pressing_is_the_share_of_drawn_needles_that_looked_so(name):
    """Bayes by brute force: hands drawn, those kept whose reading came out alike, then checked."""
    dial = ruled(name)
    press = planned(dial)
    at, rng, trials = press.reference, np.random.default_rng(41), 2_000_000
    hand = rng.normal(0.0, at.hand_deg, trials)
    read = hand + rng.normal(0.0, U_DEG, trials)
    for off in (0.0, at.hand_deg, -1.5 * at.hand_deg):
        alike = np.abs(read - off) < 0.02
        shift = hand[alike] + rng.normal(0.0, at.seen_deg, int(alike.sum()))
        good = np.ones(shift.size, bool)
        for one in press.judged:
            place = press.rise_deg + shift + rng.normal(0.0, one.stray_deg, shift.size)
            good &= (place >= one.low_deg) & (place <= one.high_deg)
        share = good.mean()
        u_share = max(np.sqrt(share * (1 - share) / good.size), 1 / good.size)
        found = landed(press, dial, at.press_deg + dial.scale.sense * off, U_DEG)
        assert found.pass_probability == pytest.approx(share, abs=4 * u_share)
        assert found.trialled.probability == pytest.approx(
            found.pass_probability, abs=5 * found.trialled.u_probability
        )


def test_one_row_is_the_closed_form_of_the_posterior():
    """JCGM 106:2012, 7.4, with the posterior of a normal prior and a normal reading (its A.4)."""
    dial = ruled("engine")
    window = Window("only", 1.0, 2.4, 0.25, 0.1)
    press = replace(planned(dial), judged=(window,), rise_deg=1.8)
    at, off = press.reference, 0.35
    found = landed(press, dial, at.press_deg + off, U_DEG)
    weight = at.hand_deg**-2 / (at.hand_deg**-2 + U_DEG**-2)
    mean = 1.8 + (1 - weight) * off
    u = hypot((at.hand_deg**-2 + U_DEG**-2) ** -0.5, at.seen_deg, 0.25)
    assert found.spread_deg == pytest.approx((u**2 - 0.25**2) ** 0.5, rel=1e-9)
    expected = norm.cdf((2.4 - mean) / u) - norm.cdf((1.0 - mean) / u)
    assert found.pass_probability == pytest.approx(expected, abs=1e-6)


def test_a_needle_that_slipped_is_believed_as_it_was_read():
    dial = ruled("engine")
    press = planned(dial)
    far = 4 * hypot(press.reference.hand_deg, U_DEG)
    found = landed(press, dial, press.reference.press_deg + far + 360.0, U_DEG)
    assert found.slipped
    assert found.off_deg == pytest.approx(far, abs=1e-9)
    assert found.believed_deg == pytest.approx(far, abs=1e-9)
    assert found.advice == "again"
    near = landed(press, dial, press.reference.press_deg + 0.1, U_DEG)
    assert not near.slipped
    assert 0 < near.believed_deg < 0.1


def test_a_good_press_stays_and_tells_more_than_the_plan_did():
    dial = ruled("temp")
    press = planned(dial)
    found = landed(press, dial, press.reference.press_deg, 0.08)
    assert found.spread_deg < press.reference.spread_deg
    assert found.pass_probability > press.pass_probability
    assert found.advice == "stays"
    # Pressed off by what just loses more than a new pressing is worth.
    offs = np.linspace(0.0, 2.0, 41)
    told = [landed(press, dial, press.reference.press_deg + off, 0.08) for off in offs]
    for one in told:
        worse = one.pass_probability < press.pass_probability - WORTH
        assert (one.advice == "again") is worse
    assert {one.advice for one in told} == {"stays", "again"}


def test_a_reading_wider_than_the_room_lets_no_needle_stay():
    dial = ruled("temp")
    press = planned(dial)
    room = min(press.room_deg)
    at_aim = press.reference.press_deg
    wide = landed(press, dial, at_aim, max(0.51 * room, 2.01 * press.reference.hand_deg))
    assert wide.advice == "read_again"
    assert landed(press, dial, at_aim, 1.99 * press.reference.hand_deg).advice == "stays"


def test_a_speedometer_that_now_reads_low_is_pressed_again():
    dial = DIALS["speed"]
    press = planned(dial)
    assert press.low_probability is not None
    assert press.low_probability < 0.2
    low = min(one.low_deg for one in press.low)
    down = dial.scale.sense * (low - press.rise_deg - 3.0)
    found = landed(press, dial, press.reference.press_deg + down, 0.08)
    assert found.low_probability is not None
    assert found.low_probability > 0.99
    assert found.advice == "again_low"


def test_a_mirrored_dial_comes_to_the_same():
    dial = ruled("temp")
    press = planned(dial)
    up, down = (
        landed(press, dial, press.reference.press_deg + dial.scale.sense * way * 0.4, U_DEG)
        for way in (1, -1)
    )
    assert up.off_deg == pytest.approx(0.4)
    assert down.off_deg == pytest.approx(-0.4)


def test_all_dials_pass_by_the_product():
    assert chance_of_all([0.9, 0.8, 0.5]) == pytest.approx(0.36)
    assert chance_of_all([]) == 1.0


# -- pins, rest and too few rows -------------------------------------------------------------


def test_rows_on_the_pin_are_expected_where_the_programme_puts_them():
    dial = replace(DIALS["fuel"], rule={"house": {"of_span": 0.05}})
    assert dial.rest_pin
    free = planned(dial, made_rows(dial, seat_deg=-2.0 * dial.scale.sense))
    rows = made_rows(dial, seat_deg=-40.0 * dial.scale.sense)
    pinned = sum(ON_STOP in row.flags and row.commanded is not None for row in rows)
    assert pinned > 2
    found = planned(dial, rows)
    assert len(found.judged) == len(free.judged)
    assert any(f"in {pinned} rows the run's needle lay on the pin" in one for one in found.doubts)
    assert found.pass_probability == pytest.approx(free.pass_probability, abs=0.05)
    assert any("homes against the pin" in one for one in found.doubts)


def test_a_run_with_too_few_rows_says_so():
    dial = ruled("engine")
    rows = made_rows(dial, seat_deg=3.0)
    few = (*rows[:1], *rows[4:6])
    assert any("only 2 rows of the run stand free" in one for one in planned(dial, few).doubts)


@pytest.mark.parametrize("kind", ["air_core", "thermal"])
def test_a_movement_that_does_not_home_needs_no_row_at_rest(kind):
    dial = ruled("engine")
    dial = replace(dial, movement=replace(dial.movement, kind=kind))
    rows = made_rows(dial, seat_deg=3.0, rest=False)
    said = planned(dial, rows).doubts
    assert any("rests wherever it is left" in one for one in said)
    with_rest = planned(dial, made_rows(dial, seat_deg=3.0))
    assert not any("rests wherever it is left" in one for one in with_rest.doubts)
    assert len(with_rest.judged) > len(planned(dial, rows).judged)


# -- what of a row's scatter comes again -------------------------------------------------------


@pytest.mark.parametrize("scatter_deg", [0.0, 0.2, 0.6])
def test_the_movements_own_pull_is_the_variance_between_that_a_reference_library_finds(scatter_deg):
    """DerSimonian and Laird's variance between, as statsmodels' combine_effects works it out."""
    dial, rng = ruled("engine"), np.random.default_rng(7)
    u_deg = rng.uniform(0.05, 0.3, 40)

    def stray(i: int, told: float, approach: str) -> float:
        return float(rng.normal(0.0, np.hypot(u_deg[i], scatter_deg)))

    rows = [
        replace(row, u_angle_deg=float(u_deg[i])) for i, row in enumerate(made_rows(dial, stray))
    ]
    errors = seat_rows(dial, rows, ECC_MM)
    fit = fit_seat(dial, errors)
    assert fit is not None
    free = [row for row in fit.used if not row.on_stop]
    found = combine_effects(
        np.array([row.error_deg for row in free]),
        np.array([own_of(row) ** 2 for row in free]),
        method_re="dl",
    )
    assert pull_variance(fit) == pytest.approx(max(found.tau2, 0.0), rel=1e-9, abs=1e-15)


def test_rows_are_expected_between_where_they_stood_and_the_rigid_turn():
    dial, rng = ruled("engine"), np.random.default_rng(5)
    rows = made_rows(dial, lambda i, told, way: float(rng.normal(0.0, 0.5)), seat_deg=2.0)
    errors = seat_rows(dial, rows, ECC_MM)
    fit = fit_seat(dial, errors)
    assert fit is not None
    found = expected_check(dial, rows, errors, fit)
    shares = set()
    for before, after in zip(errors, found.errors, strict=True):
        share = found.kept.get(id(after), 1.0)
        shares.add(round(share, 6))
        kept = after.error_deg - fit.seat_deg
        assert kept == pytest.approx(share * (before.error_deg - fit.seat_deg), abs=1e-9)
        assert after.angle_deg - before.angle_deg == pytest.approx(
            after.error_deg - before.error_deg, abs=1e-9
        )
    variance = pull_variance(fit)
    assert variance > 0
    free = next(row for row in errors if not row.on_stop)
    assert round(variance / (variance + own_of(free) ** 2), 6) in shares
    exact = made_rows(dial, seat_deg=2.0)
    fit = fit_seat(dial, seat_rows(dial, exact, ECC_MM))
    assert fit is not None
    assert pull_variance(fit) == 0.0


def rest_of(dial: Dial, off_deg: float) -> RunRow:
    """A row at rest that stands off where the run's rigid turn puts it."""
    angle_deg = dial.rest_angle_deg + 2.0 + off_deg
    return RunRow("made", dial.id, dial.unit, "rest", None, None, angle_deg, 0.06)


@pytest.mark.parametrize("off_deg", [0.0, 0.1, 0.15, 0.4, -1.5])
def test_a_rest_is_its_own_only_where_it_lies_further_off_than_its_reading_says(off_deg):
    """The positive-part estimate of one residual: James and Stein (1961), from memory."""
    dial = ruled("engine")
    rows = (rest_of(dial, off_deg), *made_rows(dial, seat_deg=2.0))
    errors = seat_rows(dial, rows, ECC_MM)
    fit = fit_seat(dial, errors)
    assert fit is not None
    found = expected_check(dial, rows, errors, fit)
    own = 0.15**2 + 0.06**2 / 2
    share = max(0.0, 1 - own / off_deg**2) if off_deg else 0.0
    assert found.kept[id(found.rows[0])] == pytest.approx(share, abs=1e-9)
    assert found.rows[0].angle_deg == pytest.approx(
        dial.rest_angle_deg + 2.0 + share * off_deg, abs=1e-9
    )


def test_a_needle_is_pressed_where_the_whole_run_expects_its_movement_not_where_one_row_stood():
    """A tenth of a degree in the row pressed at is misread, not the movement's own."""
    dial = replace(DIALS["engine"], rule={"house": {"of_span": 0.2}})
    told = sorted({row.commanded for row in made_rows(dial) if row.commanded is not None})

    def misread(i: int, value: float, approach: str) -> float:
        return 0.1 if (value, approach) == (told[len(told) // 2], "up") else 0.0

    for at in told[1:-1]:
        press = plan_press(dial, made_rows(dial, misread), rule_of(dial), ECC_MM, HAND, at=at)
        assert press.reference.press_deg == pytest.approx(dial.programme_angle_deg(at), abs=1e-9)
