"""Faults named from runs: the arithmetic against general libraries, the answers against truth."""

import tracemalloc
from dataclasses import replace
from importlib.resources import files
from itertools import combinations

import numpy as np
import pytest
from scipy import stats

from needlewright.errors import KnowledgeError
from needlewright.findings.signatures import slipping
from needlewright.findings.signatures.explain import Explanation, explain_dial
from needlewright.findings.signatures.knowledge import CODES, parse_knowledge, shipped_knowledge
from needlewright.findings.signatures.noise import Noise, log_marginal, log_normal, log_on_stop
from needlewright.findings.signatures.rows import dial_rows
from needlewright.findings.signatures.scattered import _log_between, _more_than, independent
from needlewright.findings.signatures.slipping import lost_steps
from needlewright.findings.signatures.standing import _above_the_caught
from needlewright.findings.signatures.weighed import log_normal_density
from needlewright.findings.signatures.weighing import Weigher
from needlewright.findings.signatures.words import reason_of
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.readings.complete import complete_run
from needlewright.readings.runs import Run, RunRow
from readings.drawn_runs import FAMILY, drawn_run

KNOWN = shipped_knowledge()
SPEED = FAMILY.dial("speed")
TOLD = (20, 60, 100, 140, 180, 160, 120, 80, 40)


def run_of(errors: dict[int, float] | list[float], u: float = 0.1, dial=SPEED) -> tuple:
    """Rows at TOLD, up to 180 and down again, that read high by `errors` degrees."""
    rows = []
    for i, told in enumerate(TOLD):
        error = errors[i] if isinstance(errors, list) else errors.get(i, 0.0)
        angle = dial.programme_angle_deg(told) + dial.scale.sense * error
        way = "up" if i < 5 else "down"
        rows.append(RunRow("r", dial.id, dial.unit, way, told, angle_deg=angle, u_angle_deg=u))
    return tuple(rows)


def noisy(errors: list[float], seed: int = 1) -> list[float]:
    rng = np.random.default_rng(seed)
    return [e + float(rng.normal(0, 0.15)) for e in errors]


def explained(rows, dial=SPEED) -> Explanation:
    found = explain_dial(dial, rows)
    assert found is not None
    return found


# -- the arithmetic ------------------------------------------------------------------------------


def a_law(count: int = 9, stopped: int = 0) -> Noise:
    rng = np.random.default_rng(3)
    half = rng.normal(size=(count, count))
    free = np.arange(count) >= stopped
    return Noise.of(half @ half.T / count + np.diag(rng.uniform(0.1, 0.5, count)), free)


def test_the_normal_density_is_scipys() -> None:
    law = a_law()
    residuals = np.random.default_rng(4).normal(size=(5, 9))
    expected = stats.multivariate_normal(np.zeros(9), law.covariance).logpdf(residuals)
    assert log_normal(law, residuals) == pytest.approx(expected, rel=1e-9)


def test_a_wild_row_is_left_out_exactly() -> None:
    """The mixture over every row that may be wild, each by a density of the others (SciPy)."""
    law, wild = a_law(), KNOWN.wild
    residuals = np.random.default_rng(5).normal(size=(3, 9))
    residuals[0, 2] = 25.0
    expected = []
    for r in residuals:
        parts = [
            np.log(1 - wild.share_of_runs)
            + stats.multivariate_normal(np.zeros(9), law.covariance).logpdf(r)
        ]
        for i in range(9):
            keep = np.arange(9) != i
            rest = stats.multivariate_normal(np.zeros(8), law.covariance[np.ix_(keep, keep)])
            parts.append(
                np.log(wild.share_of_runs / 9) + rest.logpdf(r[keep]) - np.log(wild.within_deg)
            )
        expected.append(np.logaddexp.reduce(parts))
    found, row = log_marginal(law, residuals, wild)
    assert found == pytest.approx(expected, rel=1e-9)
    assert row[0] == 2


def test_two_wild_rows_of_twenty() -> None:
    """Against all pairs by SciPy: the pairs without the likeliest wild row hold next to nothing."""
    law, wild, count = a_law(20), KNOWN.wild, 20
    residuals = np.random.default_rng(6).normal(size=20)
    residuals[[4, 11]] = 30.0, -22.0
    parts = []
    for i, j in combinations(range(count), 2):
        keep = ~np.isin(np.arange(count), (i, j))
        rest = stats.multivariate_normal(np.zeros(18), law.covariance[np.ix_(keep, keep)])
        share = np.log(wild.share_of_runs_two / count**2)
        parts.append(share + rest.logpdf(residuals[keep]) - 2 * np.log(wild.within_deg))
    found, row = log_marginal(law, residuals[np.newaxis], wild)
    assert found[0] == pytest.approx(np.logaddexp.reduce(parts), abs=0.01)
    assert row[0] in (4, 11)


def test_a_row_on_a_stop_is_a_chance() -> None:
    """Chance of the conditional normal law, from the joint covariance by hand (any textbook)."""
    law = a_law(6, stopped=1)
    residuals = np.random.default_rng(7).normal(size=(4, 5))
    k = law.covariance
    solved = np.linalg.solve(k[1:, 1:], k[1:, 0])
    mean, variance = residuals @ solved, k[0, 0] - k[0, 1:] @ solved
    at = np.full((4, 1), 0.4)
    chance = stats.norm.cdf((0.4 + 0.3 - mean) / np.sqrt(variance))
    found = log_on_stop(law, residuals, at, np.full(4, -1))
    assert found == pytest.approx(np.log(chance + 0.005), rel=1e-9)


def test_zooming_integrates_what_the_covariance_integrates_exactly() -> None:
    """A seat of any size, once as a parameter on places and once inside the covariance."""
    weigher = Weigher(dial_rows(SPEED, run_of(noisy([3.0] * 9))), KNOWN)
    width = KNOWN.sizes.offset_deg
    zoomed = weigher.zoom(
        lambda seats: np.repeat(seats[:, None], 9, axis=1),
        np.linspace(-15, 15, 61),
        lambda seats: log_normal_density(seats, width),
    )
    exact = weigher.evidence(np.zeros((1, 9)), "offset")[0]
    assert zoomed.log_evidence == pytest.approx(exact, abs=0.05)
    seat, u_seat = weigher.linear(np.zeros(9), "offset", "offset")
    design = np.concatenate([np.full(9, 1.0) / weigher.row_u_deg, [1 / width]])
    errors = np.concatenate([weigher.error_deg / weigher.row_u_deg, [0.0]])
    ridge = float(np.linalg.lstsq(design[:, None], errors, rcond=None)[0][0])
    assert seat[0] == pytest.approx(ridge, abs=0.02)
    assert zoomed.size().size == pytest.approx(ridge, abs=0.02)
    assert u_seat[0] == pytest.approx(1 / np.linalg.norm(design), abs=0.01)


def test_long_runs_agree_with_the_schwarz_criterion() -> None:
    """Twice the log evidence ratio is chi-square less log n, but for a constant (Schwarz 1978)."""
    ratios = []
    for count in (20, 80, 320):
        error = 0.8 + np.random.default_rng(count).normal(0, 0.2, (1, count))
        plain = Noise.of(0.04 * np.eye(count), np.ones(count, bool))
        wide = Noise.of(plain.covariance + KNOWN.sizes.offset_deg**2, plain.free)
        gain = log_normal(wide, error)[0] - log_normal(plain, error)[0]
        ratios.append(2 * gain - (count * np.mean(error) ** 2 / 0.04 - np.log(count)))
    assert np.ptp(ratios) < 0.3


def test_chances_of_many_rows_are_the_binomial() -> None:
    chances = np.full((1, 12), 0.3)
    assert _more_than(chances, 2)[0] == pytest.approx(stats.binom.sf(2, 12, 0.3))


def test_the_normal_chance_between_two_places_holds_in_the_tails() -> None:
    low, high = np.array([-3.0, 8.0, -1.0, -40.0]), np.array([1.0, 9.0, 30.0, -38.0])
    tail = np.where(low > 0, stats.norm.logcdf(-low), stats.norm.logcdf(high))
    other = np.where(low > 0, stats.norm.logcdf(-high), stats.norm.logcdf(low))
    assert _log_between(low, high) == pytest.approx(tail + np.log1p(-np.exp(other - tail)))


def test_rows_of_their_own_with_one_wild() -> None:
    densities = np.log(np.array([[0.5, 0.4, 1e-12, 0.6]]))
    wild = KNOWN.wild
    p = np.exp(densities[0])
    one = sum(np.prod(np.delete(p, i)) / wild.within_deg for i in range(4))
    expected = (1 - wild.share_of_runs) * np.prod(p) + wild.share_of_runs / 4 * one
    assert independent(densities, wild)[0] == pytest.approx(np.log(expected))


# -- the answers ---------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", [None, 1])
@pytest.mark.parametrize(
    ("dial", "fault", "size", "within"),
    [
        ("speed", "lost_steps", -3.0, 0.01),
        ("engine", "needle_offset", -3.4, 0.15),
        ("fuel", "backlash", 2.8, 0.3),
        ("temp", "sound", None, None),
    ],
)
def test_the_drawn_job_as_found(seed, dial, fault, size, within) -> None:
    run = complete_run(drawn_run("as-found", 0.05, seed), FAMILY)
    found = explained(run.of_dial(dial), FAMILY.dial(dial))
    assert found.combined == (fault,)
    assert found.faults[0].fault == fault
    assert found.faults[0].probability > 0.9
    if size is None:
        assert found.faults[0].size is None
    else:
        assert found.faults[0].size == pytest.approx(size, abs=within)


@pytest.mark.parametrize("dial", ["speed", "engine", "fuel", "temp"])
def test_the_drawn_job_as_left_is_sound(dial) -> None:
    run = complete_run(drawn_run("as-left", 0.05, 2), FAMILY)
    assert explained(run.of_dial(dial), FAMILY.dial(dial)).combined == ("sound",)


SHAPED = [3.0 * np.sin(v / 60.0) for v in TOLD]
LAGS = (0.3, 2.1, 1.0, 2.7, 0.6, 1.9, 0.2, 2.4, 1.1)
SCATTER = [2.2, -3.1, 0.4, 4.0, -1.5, -2.9, 3.3, -0.7, 1.8]


@pytest.mark.parametrize(
    ("errors", "fault", "size", "within"),
    [
        ([0.0] * 9, "sound", None, None),
        ([2.5] * 9, "needle_offset", 2.5, 0.2),
        ([0.0] * 3 + [-4.0] * 6, "lost_steps", -2.0, 0.05),
        ([-1.2] * 5 + [1.2] * 4, "backlash", 2.4, 0.4),
        ([(-1 if i < 5 else 1) * lag for i, lag in enumerate(LAGS)], "dragging", 2.7, 0.8),
        (SHAPED, "wrong_face", max(map(abs, SHAPED)), 0.5),
        (SCATTER, "erratic", float(np.std(SCATTER)), 1.2),
    ],
)
def test_each_fault_by_its_rows(errors, fault, size, within) -> None:
    found = explained(run_of(noisy(errors)))
    assert found.faults[0].fault == fault, [(f.fault, f.probability) for f in found.faults[:3]]
    assert sum(f.probability for f in found.faults) == pytest.approx(1.0, abs=1e-12)
    assert {f.fault for f in found.faults} == set(CODES)
    if size is not None:
        assert found.faults[0].size == pytest.approx(size, abs=within)


def test_standing_and_blocked_and_miles() -> None:
    sense = SPEED.scale.sense
    path = [sense * SPEED.programme_angle_deg(v) for v in TOLD]
    stands = path[2] + 0.7
    still = explained(run_of(noisy([stands - at for at in path])))
    assert still.faults[0].fault == "stalled"
    assert still.faults[0].size == pytest.approx(sense * stands, abs=0.3)
    held = explained(run_of(noisy([min(stands - at, 0.0) for at in path])))
    assert held.faults[0].fault == "blocked"
    assert held.faults[0].size == pytest.approx(sense * stands, abs=0.3)
    shown = [SPEED.programme.shown_at(v) / 1.609344 for v in TOLD]
    miles = [sense * SPEED.scale.angle_at(v) - at for v, at in zip(shown, path, strict=True)]
    found = explained(run_of(noisy(miles)))
    assert found.faults[0].fault == "scale_factor"
    assert found.faults[0].size == pytest.approx(1 / 1.609344, abs=0.003)
    assert "miles are counted under a face or programme of kilometres" in reason_of(found)


def test_a_pair_counts_for_its_larger_member() -> None:
    found = explained(run_of(noisy([6.0] * 4 + [2.0] * 5)))
    assert set(found.combined) == {"needle_offset", "lost_steps"}
    assert found.faults[0].fault == "needle_offset"
    assert "Beside that: the movement slipped 2 cycles" in reason_of(found)


def test_one_wild_row_is_never_a_fault() -> None:
    for place in range(9):
        found = explained(run_of({**dict(enumerate(noisy([0.0] * 9))), place: 12.0}))
        assert found.faults[0].fault == "sound", place
        assert found.winner.wild == place
    assert "was left aside; take it again" in reason_of(found)


def test_a_mirrored_dial_gives_the_same_with_other_signs() -> None:
    scale = replace(SPEED.scale, angles_deg=tuple(-a for a in SPEED.scale.angles_deg))
    other = replace(SPEED, scale=scale, direction="ccw", rest_angle_deg=-SPEED.rest_angle_deg)
    errors = noisy([0.0] * 3 + [-4.0] * 6)
    one, two = explained(run_of(errors)), explained(run_of(errors, dial=other), other)
    assert one.faults[0].size == pytest.approx(-(two.faults[0].size or 0.0))
    assert one.faults[0].probability == pytest.approx(two.faults[0].probability, rel=1e-6)


def test_a_homing_ends_a_slip() -> None:
    """Back to zero after a rest: the same rows without it are no slip that stays."""
    rows = list(run_of(noisy([0.0, 0.0, -4.0, -4.0, -4.0, 0.0, 0.0, 0.0, 0.0])))
    rest = RunRow("r", "speed", "km/h", "rest", angle_deg=SPEED.rest_angle_deg, u_angle_deg=0.1)
    found = explained((*rows[:5], rest, *rows[5:]))
    assert found.faults[0].fault == "lost_steps"
    assert found.faults[0].size == pytest.approx(-2.0)
    assert found.faults[0].probability > 0.95


def test_what_a_technician_types_is_enough() -> None:
    rows = [
        RunRow("r", "speed", "km/h", way, told, indicated=SPEED.programme.shown_at(told) - 9)
        for told, way in ((40, "up"), (80, "up"), (120, "up"), (160, "up"), (120, "down"))
    ]
    run = complete_run(Run("r", tuple(rows)), FAMILY)
    found = explained(run.of_dial("speed"))
    assert found.faults[0].fault == "needle_offset"
    assert "read by eye" in reason_of(found)


@pytest.mark.parametrize("turn", [60.0, 180.0, -175.0])
def test_a_needle_pressed_on_anyhow(turn) -> None:
    found = explained(run_of(noisy([turn] * 9)))
    assert found.faults[0].fault == "needle_offset"
    assert found.faults[0].probability > 0.95
    off = (found.faults[0].size or 0.0) - SPEED.scale.sense * turn
    assert abs((off + 180) % 360 - 180) < 0.3


def test_many_readings_make_no_fault_of_a_trifle() -> None:
    """A tenth of a degree, seen so often that it is certain, is still no fault."""
    shape = [0.1 * np.sin(v / 25.0) for v in TOLD]
    for errors in ([0.15] * 9, shape):
        rows = tuple(row for seed in range(8) for row in run_of(noisy(errors, seed)))
        assert explained(rows).faults[0].fault == "sound"


def test_too_little_says_so() -> None:
    assert explain_dial(SPEED, ()) is None
    one = explained(run_of([0.0] * 9)[:1])
    assert "rests on one row" in reason_of(one)
    zero = explained(tuple(replace(row, u_angle_deg=0.0) for row in run_of([0.0] * 9)))
    assert "uncertainty of 0" in reason_of(zero)
    assert zero.faults[0].fault == "sound"


def test_pairs_of_slips_of_a_long_run_are_weighed_in_blocks(monkeypatch) -> None:
    """All pairs of 150 rows at once would be a dozen arrays of 13 MB."""
    rng, rows = np.random.default_rng(8), []
    for i in range(150):
        told = 20.0 + abs(160.0 - 320.0 * i / 150)
        error = SPEED.movement.cycle_deg * (3 * (i >= 50) - 2 * (i >= 100)) + rng.normal(0, 0.15)
        angle = SPEED.programme_angle_deg(told) + SPEED.scale.sense * error
        way = "up" if i > 75 else "down"
        rows.append(RunRow("r", "speed", "km/h", way, told, angle_deg=angle, u_angle_deg=0.1))
    weigher = Weigher(dial_rows(SPEED, tuple(rows)), KNOWN)
    weigher.law()
    tracemalloc.start()
    found = lost_steps(weigher)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert found is not None
    assert peak < 40e6
    assert found.sizes["lost_steps"].size == 1
    expected = SPEED.movement.cycle_deg * np.repeat([0.0, 3.0, 1.0], 50)
    assert np.abs(found.model_deg - expected).max() < 1e-9
    monkeypatch.setattr(slipping, "_BLOCK", 2**15)
    finer = lost_steps(weigher)
    assert finer is not None
    assert finer.log_evidence == pytest.approx(found.log_evidence, rel=1e-12)


@pytest.mark.parametrize("dial", FAMILY.dials, ids=lambda dial: dial.id)
def test_one_row_is_weighed_wherever_its_needle_stands(dial) -> None:
    """Also where that row itself is most probably wild: no other is left to go by."""
    told = dial.scale.values[0] + 0.5 * dial.scale.span
    for angle in range(-180, 181, 30):
        row = RunRow("r", dial.id, dial.unit, "up", told, angle_deg=float(angle), u_angle_deg=0.05)
        found = explained((row,), dial)
        assert sum(fault.probability for fault in found.faults) == pytest.approx(1.0)
        still = next(fault for fault in found.faults if fault.fault == "stalled")
        assert still.size is None or (still.size - angle) % 360 == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda t: t.replace("sound = 55\n", "sound = -1.0\n"), "run.dials.sound: "),
        (lambda t: t.replace("sound = 55\n", ""), "run.dials.sound: is missing"),
        (lambda t: t.replace("{ backlash = 0.2,", "{ backlas = 0.2,"), "'backlas' is no fault"),
        (lambda t: t.replace('"needle_offset+backlash"', '"needle_offset+play"'), "joined by '+'"),
        (lambda t: t.replace('"blocked+lost_steps"', '"backlash+backlash"'), "joined by '+'"),
        (lambda t: t.replace('"blocked+lost_steps"', '"lost_steps+backlash"'), "there as 'backl"),
        (lambda t: t.replace("met]\n", 'met]\n"sound+stalled" = 1\n'), "joined by '+'"),
        (lambda t: t.replace("[cause.wrong_face]", "[cause.other_face]"), "no cause 'wrong_face'"),
        (lambda t: t.replace("55\nsource", "55\nsauce"), "run.dials.sauce: there is no such key"),
        (lambda t: t.replace("ratio_factor = 1.35", "ratio_factor = 0.9"), "sizes.ratio_factor"),
        (lambda t: t.replace("offset_deg = 5.0", "offset_deg = inf"), "sizes.offset_deg: "),
        (lambda t: t[: t.index("\n[run.dials]")], "has no [run], so a run cannot be weighed"),
        (lambda t: t + "[", "is no TOML"),
    ],
)
def test_a_knowledge_file_that_does_not_fit_is_one_sentence(change, said) -> None:
    text = (files("needlewright.findings") / "knowledge.toml").read_text("utf-8")
    with pytest.raises(KnowledgeError, match=r"k\.toml: ") as refused:
        parse_knowledge(change(text), "k.toml")
    assert change(text) != text
    assert said in str(refused.value)
    assert "\n" not in str(refused.value)


def test_single_faults_are_met_in_the_proportion_of_their_priors() -> None:
    """Stated once, as the priors of a complaint; 100 dials with one fault together."""
    causes = load_knowledge().causes
    single = {code: KNOWN.weights[(code,)] for code in CODES[1:]}
    assert sum(single.values()) == pytest.approx(100.0)
    for code, weight in single.items():
        ratio = causes[code].prior / causes["needle_offset"].prior
        assert weight == pytest.approx(single["needle_offset"] * ratio)


# -- how sure, and how large ---------------------------------------------------------------------


def test_no_likelihood_is_trusted_wholly() -> None:
    """Coarsened posterior (Miller and Dunson 2019, section 2, from memory), worked out by hand."""
    found = explained(run_of(noisy([0.5] * 9)))
    weighed = [(KNOWN.prior(h.members, gears=True, both_ways=True), h) for _, h in found.hypotheses]
    plain = np.array([weight * np.exp(0.7 * h.log_evidence) for weight, h in weighed])
    said = [probability for probability, _ in found.hypotheses]
    assert said == pytest.approx(plain / plain.sum(), rel=1e-9)


def test_a_block_lies_above_the_rotors_it_caught() -> None:
    """A rotor driven on against a block stands anywhere below it, two cycles at the most."""
    rng = np.random.default_rng(12)
    held = []
    for _ in range(40):
        at = float(rng.uniform(60, 120))
        rows = dial_rows(SPEED, run_of([0.0] * 9))
        caught = at - 4.0 * rng.uniform(0, 1, 5) * rng.choice([0.5, 1.0], 5)
        seen = np.concatenate([rows.told_deg[:4], caught + rng.normal(0, 0.1, 5)])
        told = np.concatenate([rows.told_deg[:4], np.full(5, at + 40.0)])
        size = _above_the_caught(replace(rows, seen_deg=seen, told_deg=told), at - 1.0, 2.0)
        assert size is not None
        held.append(abs(size.size - at) <= 2 * size.u_size)
    assert np.mean(held) >= 0.9


def test_rows_of_one_place_do_not_take_the_readings_own_error_away() -> None:
    stands = SPEED.programme_angle_deg(60)
    rows = [replace(row, angle_deg=stands) for row in run_of([0.0] * 9, u=0.4)]
    top = explained(rows).faults[0]
    assert top.fault == "stalled"
    assert top.u_size == pytest.approx(np.hypot(0.4 / 3, 0.2), rel=0.05)


def test_a_wild_row_does_not_make_scatter_larger() -> None:
    errors = [1.6, -1.2, 2.1, -1.9, 0.9, -1.4, 1.7, -2.2, 1.3]
    calm, wild = explained(run_of(errors)), explained(run_of([*errors[:8], 40.0]))
    sizes = [next(f for f in one.faults if f.fault == "erratic") for one in (calm, wild)]
    assert [one.faults[0].fault for one in (calm, wild)] == ["erratic", "erratic"]
    assert sizes[1].size == pytest.approx(sizes[0].size, rel=0.35)


def test_the_largest_lag_is_found_between_the_places_tried_first() -> None:
    """Drags drawn evenly up to their largest: U (k = 2) holds it about as often as it says."""
    rng = np.random.default_rng(21)
    held = []
    for _ in range(40):
        lag = float(rng.uniform(2, 6))
        behind = lag * rng.uniform(0, 1, 9) * np.where(np.arange(9) < 5, -1, 1)
        drag = next(f for f in explained(run_of(list(behind))).faults if f.fault == "dragging")
        held.append(abs(drag.size - np.abs(behind).max()) <= 2 * drag.u_size)
    assert np.mean(held) >= 0.85


def test_an_unsure_stimulus_hides_no_difference_of_rising_and_falling() -> None:
    """A value that is only known to 5 km/h is the same one on the way up and on the way down."""
    errors = noisy([-1.2] * 5 + [1.2] * 4)
    told = (40, 80, 120, 160, 180, 160, 120, 80, 40)
    rows = [
        replace(row, commanded=at, u_commanded=5.0, angle_deg=SPEED.programme_angle_deg(at) + error)
        for row, at, error in zip(run_of([0.0] * 9), told, errors, strict=True)
    ]
    top = explained(rows).faults[0]
    assert top.fault == "backlash"
    assert top.size == pytest.approx(2.4, abs=2 * top.u_size)
    shared = dial_rows(SPEED, rows).told_covariance
    assert shared[1, 7] == pytest.approx(shared[1, 1])
    assert shared[1, 2] == 0.0
