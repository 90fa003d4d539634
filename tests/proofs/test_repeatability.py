"""Full tables out of runs, the analysis of variance against least squares, and views."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from needlewright.errors import RunError
from needlewright.proofs.repeatability.studies import analyse_variance, average_and_range
from needlewright.proofs.repeatability.table import Named, study_tables
from needlewright.proofs.repeatability.tolerance import narrowest_tolerance_deg
from needlewright.proofs.repeatability.views import View, view_spread
from needlewright.readings.runs import Run, RunRow
from readings.drawn_runs import FAMILY

SPEED = FAMILY.dial("speed")


def a_run(who: str, angles: dict[float, float], dial: str = "speed", **more: object) -> Named:
    rows = tuple(
        RunRow(who, dial, "km/h", "up", told, angle_deg=angle, u_angle_deg=0.05, **more)
        for told, angle in angles.items()
    )
    return Named(who, Run(who, rows))


def drawn(between: float, interaction: float, seed: int) -> np.ndarray:
    """Positions far apart, as needles are, with what people add."""
    rng = np.random.default_rng(seed)
    places = np.linspace(-120, 120, 8)[:, None, None]
    people = rng.normal(0, between, (1, 4, 1)) + rng.normal(0, interaction, (8, 4, 1))
    return places + people + rng.normal(0, 0.05, (8, 4, 3))


def residual_squares(columns: list[np.ndarray], y: np.ndarray) -> float:
    design = np.column_stack(columns)
    fitted = design @ np.linalg.lstsq(design, y, rcond=None)[0]
    return float(np.sum((y - fitted) ** 2))


@pytest.mark.parametrize(("interaction", "pooled"), [(0.0, True), (0.3, False)])
def test_the_anova_table_is_that_of_nested_least_squares(interaction: float, pooled: bool) -> None:
    """Sums of squares as differences of residuals of nested dummy regressions; F law: SciPy."""
    table = drawn(0.2, interaction, 5)
    n, k, r = table.shape
    i, j, _ = (index.ravel() for index in np.indices(table.shape))
    y = table.ravel()
    one = [np.ones(y.size)]
    positions = [(i == v).astype(float) for v in range(1, n)]
    people = [(j == v).astype(float) for v in range(1, k)]
    crossed = [a * b for a in positions for b in people]
    rss = [
        residual_squares(columns, y)
        for columns in (
            one,
            one + positions,
            one + positions + people,
            one + positions + people + crossed,
        )
    ]
    anova = analyse_variance(table)
    found = [row.sum_of_squares for row in anova.rows]
    expected = [rss[0] - rss[1], rss[1] - rss[2], rss[2] - rss[3], rss[3]]
    assert found == pytest.approx(expected, rel=1e-7)
    assert anova.pooled is pooled
    f = (expected[2] / ((n - 1) * (k - 1))) / (expected[3] / (n * k * (r - 1)))
    row = anova.rows[2]
    assert row.f == pytest.approx(f)
    assert row.p == pytest.approx(stats.f.sf(f, (n - 1) * (k - 1), n * k * (r - 1)), rel=1e-6)


def test_kept_and_pooled_give_back_what_was_drawn() -> None:
    """Mean variances over many tables: EV 0.05, between 0.2, interaction 0.15."""
    found = [analyse_variance(drawn(0.2, 0.15, seed)).spread for seed in range(200)]
    mean = {
        name: np.sqrt(np.mean([getattr(s, name) ** 2 for s in found]))
        for name in ("repeatability", "between", "interaction")
    }
    assert mean["repeatability"] == pytest.approx(0.05, rel=0.05)
    # four people a table: the standard deviation of the mean variance is about 6 %
    assert mean["between"] == pytest.approx(0.2, rel=0.1)
    assert mean["interaction"] == pytest.approx(0.15, rel=0.05)


def test_averages_and_ranges_are_right_on_average() -> None:
    found = [average_and_range(drawn(0.2, 0.0, seed)) for seed in range(300)]
    assert np.mean([s.repeatability for s in found]) == pytest.approx(0.05, rel=0.02)
    # a range of four means scatters by 43 %, so that of 300 by 2.5 %
    assert np.mean([s.between for s in found]) == pytest.approx(0.2, rel=0.075)


def test_equal_readings_have_no_bound() -> None:
    table = np.broadcast_to(np.array([0.0, 90.0, 180.0])[:, None, None], (3, 2, 2)).copy()
    for spread in (average_and_range(table), analyse_variance(table).spread):
        assert spread.grr == 0.0
        assert spread.ndc is None
        assert spread.positions > 80.0


def test_what_is_not_full_is_left_out_and_named() -> None:
    runs = [
        a_run("anna", {40: 1.0, 80: 41.0, 120: 81.0}),
        a_run("anna", {40: 1.1, 80: 41.1}),
        a_run("anna", {40: 1.2, 80: 41.2}),
        a_run("ben", {40: 1.3, 80: 41.3, 120: 81.3}),
        a_run("ben", {40: 1.4, 80: 41.4, 120: 81.4}),
    ]
    (table,) = study_tables(runs, "person")
    assert [p.words for p in table.positions] == ["40 up", "80 up"]
    assert table.angles_deg.shape == (2, 2, 2)
    assert table.angles_deg[0].tolist() == [[1.0, 1.1], [1.3, 1.4]]
    assert table.left_out == (
        "dial 'speed', 120 up: not read twice by all (anna 1)",
        "dial 'speed': the last 2 readings beyond 2 a cell",
    )


@pytest.mark.parametrize(
    ("runs", "said"),
    [
        ([], "no run was given"),
        ([a_run("anna", {40: 1.0}), a_run("anna", {40: 1.0})], "of the one person 'anna'"),
        ([a_run("anna", {}), a_run("ben", {})], "no row of these runs"),
        (
            [a_run("anna", {40: 1.0, 80: 2.0}), a_run("ben", {40: 1.0, 80: 2.0})],
            "'speed': one photo of each position by each",
        ),
        (
            [
                a_run("anna", {40: 1.0, 80: 2.0}),
                a_run("anna", {40: 1.0, 80: 2.0}),
                a_run("ben", {40: 1.0, 80: 2.0}, dial="fuel"),
                a_run("ben", {40: 1.0, 80: 2.0}, dial="fuel"),
            ],
            "'speed': not read at all by ben; 'fuel': not read at all by anna",
        ),
        (
            [a_run(who, {40: 1.0}) for who in ("anna", "anna", "ben", "ben")],
            "only one position that each of anna, ben read at least twice",
        ),
    ],
)
def test_what_cannot_be_judged_says_why(runs: list[Named], said: str) -> None:
    with pytest.raises(RunError, match=said):
        study_tables(runs, "person")


def test_positions_by_step_and_by_photo() -> None:
    runs = [
        a_run(who, {0.0: 1.0, 1.0: 2.0}, step=step, photo=f"{who}/{step}.jpg")
        for who in ("anna", "ben")
        for step in (1, 2)
    ]
    (table,) = study_tables(runs, "camera", "step")
    assert [p.words for p in table.positions] == ["step 1", "step 2"]
    (table,) = study_tables(runs, "camera", "photo")
    assert [p.words for p in table.positions] == ["1.jpg", "2.jpg"]
    with pytest.raises(RunError, match="has no 'step'"):
        study_tables([a_run("anna", {1.0: 1.0}), a_run("ben", {1.0: 1.0})], "person", "step")


def test_the_tightest_tolerance_in_needle_angle() -> None:
    """UN R39 allows 0.1 V + 4 km/h above the true speed: least at the lowest position."""
    runs = [a_run(who, {40: -60.0, 160: 90.0}) for who in ("anna", "anna", "ben", "ben")]
    (table,) = study_tables(runs, "person")
    slope = abs(SPEED.scale.slope_at(-60.0))
    found = narrowest_tolerance_deg(SPEED, table.positions)
    assert found == pytest.approx(8.0 / slope)
    assert narrowest_tolerance_deg(replace(SPEED, rule=None), table.positions) is None


def drawn_views(rng: np.random.Generator, s_deg: float) -> list[list[View]]:
    stated = rng.uniform(0.02, 0.08, (3, 10))
    angles = rng.normal(0, np.hypot(stated, s_deg))
    return [
        [View(a, u) for a, u in zip(*one, strict=True)] for one in zip(angles, stated, strict=True)
    ]


@pytest.mark.parametrize("s_deg", [0.0, 0.1])
def test_the_view_dependent_part_comes_back_and_its_interval_holds(s_deg: float) -> None:
    rng = np.random.default_rng(5)
    found = [view_spread(drawn_views(rng, s_deg)) for _ in range(300)]
    # three standard deviations of the mean of 300 with 27 degrees of freedom each
    assert np.mean([f.u_view_deg**2 for f in found]) == pytest.approx(s_deg**2, abs=6e-4)
    held = np.mean([f.low_deg <= s_deg <= f.high_deg for f in found])
    # central 99.9 % of a binomial of 300 at 0.95, from SciPy
    assert stats.binom.ppf(0.0005, 300, 0.95) / 300 <= held <= 1.0


def test_views_without_stated_uncertainty_have_their_plain_deviation() -> None:
    angles = [0.0, 0.1, 0.4, -0.2]
    spread = view_spread([[View(a, 0.0) for a in angles]])
    assert spread.u_view_deg == pytest.approx(np.std(angles, ddof=1))
    assert spread.freedom == 3
    with pytest.raises(ValueError, match="three views"):
        view_spread([[View(0.0, 0.1), View(0.1, 0.1)]])


def test_views_that_all_agree_add_nothing() -> None:
    assert view_spread([[View(1.0, 0.0)] * 5]).u_view_deg == 0.0
