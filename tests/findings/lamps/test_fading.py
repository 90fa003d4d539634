"""A display's loss of light by a straight line, against a general statistics library."""

import numpy as np
import pytest
from scipy.stats import linregress, norm, t

from needlewright.errors import RunError
from needlewright.findings.lamps.evidence import fading_evidence
from needlewright.findings.lamps.fading import FadingPoint, fit_fading
from needlewright.findings.lamps.rates import MOST


def points(lights, u: float = 0.02, step: float = 5.0) -> list[FadingPoint]:
    return [
        FadingPoint(f"p{n}.png", n * step, float(light), u * float(light))
        for n, light in enumerate(lights)
    ]


def test_the_line_is_that_of_scipy() -> None:
    """scipy.stats.linregress on the logarithms: equal relative uncertainties weigh equally."""
    rng = np.random.default_rng(2)
    lights = 0.4 * np.exp(-0.012 * np.arange(8) * 5 + 0.05 * rng.standard_normal(8))
    theirs = linregress(np.arange(8) * 5.0, np.log(lights))
    mine = fit_fading(points(lights), "minutes")
    assert mine.slope == pytest.approx(theirs.slope)
    assert mine.scatter > 1  # scattered more than stated, so the line's own scatter counts
    assert mine.u_slope == pytest.approx(theirs.stderr)


def test_weights_are_those_of_numpy() -> None:
    """numpy.polyfit with weights 1 / u and the covariance as stated."""
    lights, at = np.exp(np.array([0.0, -0.1, -0.18, -0.33])), np.array([0.0, 5.0, 10.0, 15.0])
    relative = np.array([0.01, 0.1, 0.02, 0.1])
    given = [FadingPoint(str(a), a, y, r * y) for a, y, r in zip(at, lights, relative, strict=True)]
    fit, covariance = np.polyfit(at, np.log(lights), 1, w=1 / relative, cov="unscaled")
    mine = fit_fading(given, "minutes")
    assert mine.scatter < 1
    assert mine.slope == pytest.approx(fit[0])
    assert mine.u_slope == pytest.approx(np.sqrt(covariance[0, 0]))


def test_where_it_halves() -> None:
    mine = fit_fading(points(0.5 ** (np.arange(5) * 5 / 40.0)), "minutes")
    assert mine.halves_at == pytest.approx(40.0)
    assert mine.halves_from < 40.0 < mine.halves_to
    assert mine.lost == pytest.approx(1 - 0.5**0.5)
    assert mine.points[0].light == pytest.approx(1.0)
    assert mine.fades > 0.99
    (evidence,) = fading_evidence(mine, "series.csv")
    assert (evidence.finding, evidence.ratio) == ("display_check", MOST["fading"][0])
    assert evidence.size == pytest.approx(0.5**0.5)


def test_one_that_keeps_its_light_does_not_halve() -> None:
    mine = fit_fading(points([1.0, 1.01, 0.995, 1.005, 1.0], 0.01, 10.0), "minutes")
    assert mine.fades < 0.01
    (evidence,) = fading_evidence(mine, "series.csv", "vehicle")
    assert evidence.finding == "display_fades"
    assert evidence.ratio == pytest.approx(1 / MOST["fading"][1])


def test_a_short_series_never_says_that_a_display_keeps_its_light() -> None:
    mine = fit_fading(points([1.0, 1.0, 1.0, 1.0], 0.01, 1.0), "minutes")
    (evidence,) = fading_evidence(mine, "series.csv")
    assert evidence.ratio == 1.0


def test_the_slopes_uncertainty_covers_its_errors() -> None:
    rng = np.random.default_rng(7)
    at = np.arange(6) * 6.0
    off = []
    for _ in range(400):
        light = np.exp(-0.01 * at + 0.02 * rng.standard_normal(6))
        mine = fit_fading(points(light, 0.02, 6.0), "temperature_c")
        off.append((mine.slope + 0.01) / mine.u_slope)
    assert 0.93 < np.mean(np.abs(off) < 2.0) < 0.985


@pytest.mark.parametrize("count", [3, 4, 6])
@pytest.mark.parametrize("unsaid", [1.0, 2.0, 5.0])
def test_intervals_hold_where_photos_scatter_more_than_they_say(count: int, unsaid: float) -> None:
    """Three photos leave one degree of freedom; a normal law then holds in 0.7 of all series."""
    rng = np.random.default_rng(8)
    at = np.arange(count) * 10.0
    held = 0
    for _ in range(300):
        light = np.exp(-0.005 * at + unsaid * 0.02 * rng.standard_normal(count))
        mine = fit_fading(points(light, 0.02, 10.0), "minutes")
        held += abs(mine.slope + 0.005) <= mine.k * mine.u_slope
        low, high = mine.lost_within
        assert low <= mine.lost <= high
    assert held >= 276  # 95.45 % of 300 is 286; 275 or fewer in one of six hundred (binomial)


def test_three_scattered_photos_go_by_students_t() -> None:
    """scipy.stats.t with one degree of freedom, on the slope and error of linregress."""
    lights = np.exp([0.0, -0.3, -0.2])
    theirs = linregress([0.0, 5.0, 10.0], np.log(lights))
    mine = fit_fading(points(lights), "minutes")
    assert mine.k == pytest.approx(t.ppf(norm.cdf(2.0), 1))
    below = t.cdf((np.log(0.9) / 10 - theirs.slope) / theirs.stderr, 1)
    assert mine.fades == pytest.approx(below)
    assert mine.fades < 0.8


def test_photos_on_a_line_go_by_what_they_say_of_themselves() -> None:
    mine = fit_fading(points(np.exp([0.0, -0.1, -0.2])), "minutes")
    assert mine.k == 2.0
    assert mine.fades == pytest.approx(
        norm.cdf((np.log(0.9) / 10 - mine.slope) / mine.u_slope), abs=1e-9
    )


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (points([1.0, 0.9]), "a series of 2 photos says nothing of a trend"),
        (points([1.0, 0.9, 0.8], step=0.0), "have the same minutes, 0"),
        (points([1.0, 0.0, 0.8]), "p1.png: its light is 0 ± 0"),
    ],
)
def test_what_is_no_series_is_one_sentence(given: list[FadingPoint], words: str) -> None:
    with pytest.raises(RunError) as refused:
        fit_fading(given, "minutes")
    assert words in str(refused.value)
