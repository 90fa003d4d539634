"""The work a rehearsed burn-in is, told before it is begun."""

import pytest

from needlewright.bench.burn_in.plan import BurnInPlan
from needlewright.composing import burn_in_bench
from needlewright.composing.burn_in_bench import (
    DWELL_BLURS,
    LOOK_BLURS,
    SECOND_BLURS,
    STEP_BLURS,
    SWEEP_BLURS,
    blur_s,
    rehearsal_work,
)

DAY = BurnInPlan(
    hours=24.0,
    dwell_s=280.0,
    sweeps_each=1,
    check_every_h=1.0,
    points={"speed": (40.0, 100.0, 160.0)},
)


def test_the_work_of_a_day_is_that_of_its_parts():
    # 24 h of turns of 300 s, each a sweep of 20 s and a dwell of 280 s looked at 40 times; visits
    # at the beginning, at each hour and at the end, of three points
    turn = SWEEP_BLURS + 40 * LOOK_BLURS + DWELL_BLURS + 300 * SECOND_BLURS
    blurs = 288 * turn + 26 * 3 * STEP_BLURS
    work = rehearsal_work(DAY, 4, each_blur_s=0.002)
    assert work.whole_s == pytest.approx(0.002 * blurs, rel=1e-12)
    assert work.per_hour_s == pytest.approx(work.whole_s / 24, rel=1e-12)
    # a face of eleven dials is twice the reading and the drawing, and no more of anything else
    more = 288 * (turn - 300 * SECOND_BLURS) + 26 * 3 * STEP_BLURS
    eleven = rehearsal_work(DAY, 11, each_blur_s=0.002)
    assert eleven.whole_s - work.whole_s == pytest.approx(0.002 * more, rel=1e-12)


def test_a_dwell_is_looked_at_every_second_while_it_is_short():
    plan = DAY.model_copy(update={"dwell_s": 20.0, "hours": 1.0})
    turn = SWEEP_BLURS + 20 * LOOK_BLURS + DWELL_BLURS + 40 * SECOND_BLURS
    work = rehearsal_work(plan, 4, each_blur_s=1.0)
    assert work.whole_s == pytest.approx(90 * turn + 3 * 3 * STEP_BLURS, rel=1e-12)


def test_the_unit_is_measured_where_it_is_not_given(monkeypatch: pytest.MonkeyPatch):
    assert 0.0 < blur_s() < 10.0
    monkeypatch.setattr(burn_in_bench, "blur_s", lambda: 0.004)
    assert rehearsal_work(DAY, 4) == rehearsal_work(DAY, 4, each_blur_s=0.004)
