"""Gauge repeatability and reproducibility against published studies."""

import numpy as np
import pytest

from needlewright.proofs.repeatability.range_factors import (
    printed_factor,
    range_moments,
    range_to_sigma,
)
from needlewright.proofs.repeatability.studies import (
    analyse_variance,
    average_and_range,
    pooled_deviation,
)

AIAG = """
.29 -.56 1.34 .47 -.80 .02 .59 -.31 2.26 -1.36
.41 -.68 1.17 .50 -.92 -.11 .75 -.20 1.99 -1.25
.64 -.58 1.27 .64 -.84 -.21 .66 -.17 2.01 -1.31
.08 -.47 1.19 .01 -.56 -.20 .47 -.63 1.80 -1.68
.25 -1.22 .94 1.03 -1.20 .22 .55 .08 2.12 -1.62
.07 -.68 1.34 .20 -1.28 .06 .83 -.34 2.19 -1.50
.04 -1.38 .88 .14 -1.46 -.29 .02 -.46 1.77 -1.49
-.11 -1.13 1.09 .20 -1.07 -.67 .01 -.56 1.45 -1.77
-.15 -.96 .67 .11 -1.45 -.49 .21 -.49 1.87 -2.16
"""
"""AIAG, Measurement Systems Analysis, 4th edition: three appraisers' three trials of ten parts."""


def aiag() -> np.ndarray:
    lines = np.array([[float(x) for x in line.split()] for line in AIAG.strip().splitlines()])
    return lines.reshape(3, 3, 10).transpose(2, 0, 1)


def test_average_and_range_of_the_aiag_data() -> None:
    """AIAG MSA 4th edition, chapter III, the worked report: every printed digit (cross-read)."""
    spread = average_and_range(aiag())
    found = (spread.repeatability, spread.between, spread.grr, spread.positions, spread.total)
    assert [f"{x:.4f}" for x in found] == ["0.2019", "0.2297", "0.3058", "1.1046", "1.1461"]
    assert f"{100 * spread.grr_share:.2f}" == "26.68"
    assert spread.ndc == 5


def test_analysis_of_variance_of_the_aiag_data() -> None:
    """The same book, ANOVA with the interaction pooled: variances .0914 of 1.1779 (cross-read)."""
    anova = analyse_variance(aiag())
    assert anova.pooled
    assert f"{anova.spread.grr**2:.4f}" == "0.0914"
    assert f"{anova.spread.total**2:.4f}" == "1.1779"
    assert anova.spread.ndc == 4
    interaction = anova.rows[2]
    assert f"{interaction.f:.3f}" == "0.434"  # from memory
    assert [row.freedom for row in anova.rows] == [9, 2, 18, 60]


def test_pooled_deviation_of_the_nist_study() -> None:
    """NIST/SEMATECH e-Handbook 2.4.4.4: level-1 standard deviation of five probes."""
    squares = (0.48115, 0.69209, 0.48483, 1.21752, 0.30076)
    assert f"{pooled_deviation(squares, (60,) * 5):.5f}" == "0.10290"


@pytest.mark.parametrize(
    ("count", "d2", "d3"),
    [(2, 1.128, 0.853), (3, 1.693, 0.888), (5, 2.326, 0.864), (10, 3.078, 0.797)],
)
def test_range_moments_are_the_control_chart_constants(count: int, d2: float, d3: float) -> None:
    """d2 and d3 of any table of control charts, ASTM E2587 among them (from memory)."""
    found = range_moments(count)
    assert found == pytest.approx((d2, d3), abs=5.1e-4)


def test_printed_factors_are_the_aiag_ones() -> None:
    """AIAG MSA 4th edition, report form: K1 for 2 and 3 trials, K2, K3 (cross-read)."""
    assert [printed_factor(n, 30) for n in (2, 3)] == [0.8862, 0.5908]
    assert [printed_factor(n, 1) for n in (2, 3)] == [0.7071, 0.5231]
    assert [printed_factor(n, 1) for n in (5, 8, 10)] == [0.4030, 0.3375, 0.3146]


def test_a_mean_of_few_ranges_takes_d2_star() -> None:
    """d2* of 3 values and 5 samples is 1.74 (appendix C of the same book; from memory)."""
    assert 1 / range_to_sigma(3, 5) == pytest.approx(1.74, abs=0.005)
