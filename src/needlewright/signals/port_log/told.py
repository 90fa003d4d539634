"""What the port said at one moment, with what the moment's doubt makes of it."""

from dataclasses import dataclass
from math import hypot, sqrt
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.signals.obd import Pid
from needlewright.signals.port_log.answers import PortLog

Times = NDArray[np.float64]
LAG_S: Final = 0.5
"""A needle may show what was told up to this long before (common practice, no source)."""
OLDEST_S: Final = 2.0
"""No answer nearer than this: the value at the moment is not known."""
FEWEST_STEADY: Final = 3


@dataclass(frozen=True, slots=True)
class PortValue:
    """What the port said at a moment, in the number's own unit (`PIDS`)."""

    pid: Pid
    value: float
    low: float
    """Lowest and highest that was said while the moment may have been."""
    high: float
    u: float
    """Standard uncertainty (k = 1): resolution, and change while the moment may have been."""
    at_s: float | None
    """When, as the log counts; None: of a steady end of the log."""
    window_s: tuple[float, float]
    """From when to when the moment may have been, with what a needle lags behind."""
    source: str
    """Who answered."""


@dataclass(frozen=True, slots=True)
class NothingSaid:
    """The port said nothing that holds at the moment, and why."""

    reason: str


def said_at(
    log: PortLog, pid: Pid, at_s: float, doubt_s: float, *, oldest_s: float = OLDEST_S
) -> PortValue | NothingSaid:
    """What the port said at a moment.

    Parameters
    ----------
    log
        The log.
    pid
        Which number.
    at_s
        The moment, as the log counts.
    doubt_s
        How far before or after it may have been, 0 or more.
    oldest_s
        How far the nearest answer may be from any time within the doubt.

    Returns
    -------
    PortValue or NothingSaid
        Linear between answers.

    Notes
    -----
    u^2 = (resolution / sqrt 3)^2 + (reach / sqrt 3)^2. The first, because a control unit may
    round or cut off; reach is the largest distance from the value to any that was said while the
    moment may have been, `LAG_S` before it included. Both rectangular. **Source** JCGM 100:2008,
    4.3.7.
    """
    said = log.of_pid(pid.number)
    if not said:
        return NothingSaid(_none_of(log, pid))
    times = np.array([one.time_s for one in said])
    values = np.array([one.value for one in said])
    window = (at_s - doubt_s - LAG_S, at_s + doubt_s)
    away_s = _furthest_s(times, window)
    if away_s > oldest_s:
        return NothingSaid(
            f"no answer of {pid.name} within {oldest_s:g} s of the photo's moment (up to "
            f"{away_s:.1f} s away)"
        )
    held = values[(times >= window[0]) & (times <= window[1])]
    ends = np.interp(window, times, values)
    around = np.concatenate((held, ends))
    value = float(np.interp(at_s - LAG_S / 2, times, values))
    return _value(log, pid, value, around, at_s=at_s, window_s=window)


def said_last(log: PortLog, pid: Pid, seconds: float) -> PortValue | NothingSaid:
    """What the port said over the last seconds of a log, for photos taken while nothing changed.

    Parameters
    ----------
    log
        The log.
    pid
        Which number.
    seconds
        How long before its end, above 0.

    Returns
    -------
    PortValue or NothingSaid
        The middle of what was said; `u` as `said_at`.
    """
    said = [one for one in log.of_pid(pid.number) if one.time_s >= log.end_s - seconds]
    if not log.of_pid(pid.number):
        return NothingSaid(_none_of(log, pid))
    if len(said) < FEWEST_STEADY:
        return NothingSaid(
            f"{len(said)} answers of {pid.name} in the last {seconds:g} s of the log; at least "
            f"{FEWEST_STEADY} show whether it was steady"
        )
    values = np.array([one.value for one in said])
    window = (log.end_s - seconds, log.end_s)
    return _value(log, pid, float(np.median(values)), values, at_s=None, window_s=window)


def _none_of(log: PortLog, pid: Pid) -> str:
    there = ", ".join(f"{number:02X}" for number in sorted({one.pid for one in log.answers}))
    return f"the log has no answer of {pid.name} (number {pid.number:02X}); it has {there}"


def _furthest_s(times: Times, window_s: tuple[float, float]) -> float:
    """The longest way to the nearest answer from anywhere in a window.

    It is longest at an end of the window, or half way between two answers.
    """
    middles = (times[1:] + times[:-1]) / 2
    inside = middles[(middles > window_s[0]) & (middles < window_s[1])]
    return max(float(np.min(np.abs(times - at))) for at in (*window_s, *inside))


def _value(
    log: PortLog,
    pid: Pid,
    value: float,
    around: Times,
    *,
    at_s: float | None,
    window_s: tuple[float, float],
) -> PortValue:
    low, high = min(float(around.min()), value), max(float(around.max()), value)
    u = hypot(log.step_of(pid), max(high - value, value - low)) / sqrt(3)
    source = log.of_pid(pid.number)[0].source
    return PortValue(pid, value, low, high, u, at_s, window_s, source)
