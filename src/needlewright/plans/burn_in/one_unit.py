"""What a run shows by itself: an upper bound of how often its unit fails, and what a batch needs.

Nothing known beforehand goes in here; what is to be expected beforehand stands in `early`.
"""

from dataclasses import dataclass
from math import ceil, expm1, isfinite, isinf, log, log1p
from typing import Final

from needlewright.amounts import figure
from needlewright.errors import PlanError

CONFIDENCE: Final = 0.95
"""Of what is said of one unit where nothing else is asked for (common practice, no source)."""
_ROUNDING: Final = 1e-9


@dataclass(frozen=True, slots=True)
class Shown:
    """What a run shows by itself, if failures come at one rate.

    Parameters
    ----------
    lived
        Hours or sweeps of the run.
    failures
        That came in it.
    confidence
        One-sided, 0 to 1.
    rate
        Upper bound of failures for each hour or sweep.
    mean
        Lower bound of the mean between failures.
    """

    lived: float
    failures: int
    confidence: float
    rate: float
    mean: float

    def within(self, ahead: float) -> float:
        """Upper bound of the probability of a failure in a time ahead.

        Parameters
        ----------
        ahead
            Hours or sweeps, as the run is counted.

        Returns
        -------
        float
            1 - exp(-rate x ahead).
        """
        return -expm1(-self.rate * ahead)


def shown_by(lived: float, failures: int = 0, confidence: float = CONFIDENCE) -> Shown:
    """What a run shows by itself.

    Parameters
    ----------
    lived
        Hours or sweeps it lasted; it ended for another reason than a failure.
    failures
        In it.
    confidence
        One-sided.

    Returns
    -------
    Shown
        Upper bound chi2(confidence; 2 (failures + 1)) / (2 lived).

    Raises
    ------
    PlanError
        If nothing has run, or a number cannot be.

    Notes
    -----
    **Source**: NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.5.1.
    """
    if not (isfinite(lived) and lived > 0):
        raise PlanError(f"the run: {figure(lived)} cannot be shown anything from; let it run first")
    _refuse(confidence, failures)
    rate = _upper(failures, confidence) / lived
    return Shown(lived, failures, confidence, rate, 1 / rate)


def mean_between(lived: float, failures: int, confidence: float) -> tuple[float, float]:
    """Two-sided limits of the mean time between failures of a test of fixed length.

    Parameters
    ----------
    lived
        Hours of all units together.
    failures
        In them.
    confidence
        Two-sided.

    Returns
    -------
    tuple of float
        Lower and upper limit, hours; the upper one is infinite without a failure.

    Raises
    ------
    PlanError
        If a number cannot be.

    Notes
    -----
    **Source**: NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.5.1.
    """
    if not (isfinite(lived) and lived > 0):
        raise PlanError(f"the test: {figure(lived)} h cannot be; give more than 0")
    _refuse(confidence, failures)
    tail = (1 - confidence) / 2
    low = lived / _upper(failures, 1 - tail)
    if failures == 0:
        return low, float("inf")
    from scipy.special import chdtri  # noqa: PLC0415 (half a second that few plans wait for)

    return low, 2 * lived / float(chdtri(2 * failures, 1 - tail))


def zero_failure_hours(mean: float, confidence: float = CONFIDENCE) -> float:
    """Hours of all units together, none of which may fail, that show a mean between failures.

    Parameters
    ----------
    mean
        Hours between failures that are to be shown.
    confidence
        One-sided.

    Returns
    -------
    float
        -ln(1 - confidence) x mean.

    Raises
    ------
    PlanError
        If a number cannot be.

    Notes
    -----
    **Source**: NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.5.1, with no failure.
    """
    if not (isfinite(mean) and mean > 0):
        raise PlanError(
            f"mean between failures: must be above 0 h, found {figure(mean)}; correct it"
        )
    _refuse(confidence, 0)
    return -log1p(-confidence) * mean


def success_run(reliability: float, confidence: float = CONFIDENCE) -> int:
    """Units, none of which may fail, that show a share of units which come through.

    Parameters
    ----------
    reliability
        The share, between 0 and 1.
    confidence
        One-sided.

    Returns
    -------
    int
        The least n with reliability^n no more than 1 - confidence.

    Raises
    ------
    PlanError
        If a number cannot be.

    Notes
    -----
    **Source**: the binomial distribution with no failure; called success run in quality handbooks
    (from memory).
    """
    if not (isfinite(reliability) and 0 < reliability < 1):
        raise PlanError(
            f"reliability: must be between 0 and 1, found {figure(reliability)}; correct it"
        )
    _refuse(confidence, 0)
    return ceil(log1p(-confidence) / log(reliability) - _ROUNDING)


def _upper(failures: int, confidence: float) -> float:
    """Half of chi-square's quantile with 2 (failures + 1) degrees of freedom."""
    if failures == 0:  # exact, and without the library
        return -log1p(-confidence)
    from scipy.special import chdtri  # noqa: PLC0415 (half a second that few plans wait for)

    return float(chdtri(2 * (failures + 1), 1 - confidence)) / 2


def _refuse(confidence: float, failures: int) -> None:
    if not 0 < confidence < 1 or isinf(confidence):
        raise PlanError(
            f"confidence: must be between 0 and 1, found {figure(confidence)}; 0.95 is usual"
        )
    if failures < 0:
        raise PlanError(f"failures: must be 0 or more, found {failures}; correct it")
