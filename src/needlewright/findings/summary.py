"""A needle's sweep in a few figures."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.families.model import Dial
from needlewright.findings.commanded import followed
from needlewright.findings.motion import Motion, motion_of
from needlewright.findings.play import play_of
from needlewright.findings.standing import stands
from needlewright.findings.sweep_events import Command, find_events
from needlewright.readings.track import DialTrack

FloatArray = NDArray[np.float64]

_END_S: Final = 0.2
_RATE_S: Final = 0.1
_LEAST_PASS_DEG: Final = 10.0
_SAMPLES_HZ: Final = 100.0
_CUT_HZ: Final = 10.0
_FLOOR: Final = 0.05
_PADDING: Final = 4


@dataclass(frozen=True, slots=True)
class Summary:
    """What one needle did; None where the video does not say.

    Parameters
    ----------
    swept_deg
        Highest minus lowest direction.
    peak_deg_s
        Fastest turn, over a tenth of a second, 0 or more.
    start_deg
        Direction in the first fifth of a second, clockwise from 12 o'clock.
    end_deg
        Direction in the last one.
    backlash_deg
        Falling minus rising at the same command, positive for play; None without a command or
        where the needle went one way only.
    stuck_s
        How long the needle was held in events that hold it: dragging, blocked, stalled.
    smoothness
        Spectral arc length of the speed, see `spectral_arc_length`; the mean over its passes by
        their length. About -1.5 for one smooth pass, less where it halts and jerks.
    """

    swept_deg: float | None
    peak_deg_s: float | None
    start_deg: float | None
    end_deg: float | None
    backlash_deg: float | None
    stuck_s: float | None
    smoothness: float | None


def summarise(track: DialTrack, dial: Dial, command: Command | None = None) -> Summary:
    """Put a needle's sweep into a few figures.

    Parameters
    ----------
    track
        The needle through the video.
    dial
        Its dial.
    command
        Where it was asked to be, if known.

    Returns
    -------
    Summary
        All None when the needle was never seen.
    """
    motion = motion_of(track, dial)
    t_s, angle_deg = motion.t_s, motion.angle_deg
    if not len(t_s):
        return Summary(None, None, None, None, None, None, None)
    return Summary(
        swept_deg=float(np.ptp(angle_deg)),
        peak_deg_s=_peak(t_s, angle_deg),
        start_deg=motion.clockwise(float(np.median(angle_deg[t_s <= t_s[0] + _END_S]))),
        end_deg=motion.clockwise(float(np.median(angle_deg[t_s >= t_s[-1] - _END_S]))),
        backlash_deg=_backlash(motion, command),
        stuck_s=_stuck(track, motion, command),
        smoothness=_smoothness(motion),
    )


def _peak(t_s: FloatArray, angle_deg: FloatArray) -> float | None:
    """Largest slope of a line over a tenth of a second, at least three frames."""
    rates = []
    for first in range(len(t_s) - 2):
        last = max(first + 3, int(np.searchsorted(t_s, t_s[first] + _RATE_S, "right")))
        if last > len(t_s) or t_s[last - 1] - t_s[first] > 3 * _RATE_S:
            continue
        near = t_s[first:last] - t_s[first:last].mean()
        rates.append(abs(float(near @ angle_deg[first:last] / (near @ near))))
    return max(rates) if rates else None


def _backlash(motion: Motion, command: Command | None) -> float | None:
    if command is None or len(motion.t_s) < 8:
        return None
    dial = motion.dial
    above = dial.scale.sense * (np.asarray(command[1], np.float64) - dial.stop_angle_deg)
    beside = followed(motion, np.asarray(command[0], np.float64), above)
    level = np.zeros(len(motion.t_s))
    play = play_of(motion, beside, level, level > 0)
    return None if play is None else play.play_deg


def _stuck(track: DialTrack, motion: Motion, command: Command | None) -> float:
    """Time of the stands in which a holding event lies."""
    held = [
        event
        for event in find_events(track, motion.dial, command)
        if event.fault in ("dragging", "blocked", "stalled")
    ]
    if any(event.fault == "stalled" for event in held):
        return float(motion.t_s[-1] - motion.t_s[0])
    total = 0.0
    for stand in stands(motion):
        begin, end = float(motion.t_s[stand.first]), float(motion.t_s[stand.last])
        if any(begin - 0.1 <= event.t_s <= end + 0.1 for event in held):
            total += end - begin
    return total


def _smoothness(motion: Motion) -> float | None:
    """Mean spectral arc length over the passes between stands, by their length."""
    t_s, angle_deg = motion.t_s, motion.angle_deg
    turns = [0, *(f for stand in stands(motion) for f in (stand.first, stand.last))]
    turns.append(len(t_s) - 1)
    lengths, arcs = [], []
    for first, last in zip(turns[::2], turns[1::2], strict=True):
        way = abs(float(angle_deg[last] - angle_deg[first]))
        if last - first < 4 or way < _LEAST_PASS_DEG:
            continue
        lengths.append(way)
        arcs.append(spectral_arc_length(t_s[first : last + 1], angle_deg[first : last + 1]))
    return float(np.average(arcs, weights=lengths)) if lengths else None


def spectral_arc_length(t_s: FloatArray, angle_deg: FloatArray) -> float:
    """How smooth one movement is: minus the length of its speed's normalised spectrum.

    The magnitude of the speed's Fourier transform, over its value at zero, is followed from zero
    up to the highest frequency at which it is still above 0.05, at most 10 Hz; frequency is
    counted in units of that range. Halts and jerks put humps into the spectrum and lengthen it.

    Parameters
    ----------
    t_s
        Times of one movement, rising.
    angle_deg
        Angles.

    Returns
    -------
    float
        Below 0; nearer to 0 is smoother. It depends neither on the size of the movement nor, within
        the range of frequencies, on how long it takes.

    **Source**: S. Balasubramanian, A. Melendez-Calderon, E. Burdet, IEEE Transactions on Biomedical
    Engineering 59 (2012) 2126, "spectral arc length", with the adaptive cut-off of their article in
    Journal of NeuroEngineering and Rehabilitation 12 (2015) 112; from memory.
    """
    even = np.arange(t_s[0], t_s[-1], 1 / _SAMPLES_HZ)
    speed = np.abs(np.gradient(np.interp(even, t_s, angle_deg), 1 / _SAMPLES_HZ))
    size = 2 ** (int(np.ceil(np.log2(len(speed)))) + _PADDING)
    spectrum = np.abs(np.fft.rfft(speed, size))
    spectrum /= spectrum[0]
    hz = np.fft.rfftfreq(size, 1 / _SAMPLES_HZ)
    inside = hz <= _CUT_HZ
    above = np.flatnonzero(inside & (spectrum >= _FLOOR))
    stop = int(above[-1]) + 1
    rise = np.diff(spectrum[:stop])
    run = np.diff(hz[:stop]) / hz[stop - 1]
    return -float(np.sum(np.hypot(rise, run)))
