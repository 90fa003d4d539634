"""A reflow profile, recorded by thermocouples, held against stated limits."""

from collections.abc import Callable
from dataclasses import dataclass
from statistics import NormalDist
from typing import Final

import numpy as np

from needlewright.plans.sums.reflow_limits import (
    BEGINS_BELOW_C,
    CLASSES,
    ROOM_C,
    Alloys,
    Limit,
    ReflowLimits,
    Thermocouple,
    What,
    expanded_k,
)
from needlewright.plans.sums.reflow_measured import (
    Floats,
    Span,
    crossings,
    scatter_k,
    soak,
    steepest,
    stretches_above,
)
from needlewright.plans.sums.thermocouple_table import Track
from needlewright.rules.decision import COVERAGE_K, VerdictCode

SHIFTS: Final = (-1.0, -0.5, 0.0, 0.5, 1.0)
"""Of U, by which a thermocouple may read wrong all through a recording."""
NORMAL: Final = NormalDist()
LEAST_FALL_K: Final = 20.0
"""Below its peak, and to the liquidus, a fall is recorded before it is judged."""
WORST_FIRST: Final[tuple[VerdictCode, ...]] = (
    "fail", "conditional_fail", "not_read", "conditional_pass", "pass", "not_judged",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Held:
    """One limit held against one thermocouple."""

    what: What
    track: str
    value: float | None
    """K/s, s, or degC; None: the recording does not hold it."""
    low: float | None
    """What it may be, k = 2."""
    high: float | None
    limits: Limit
    code: VerdictCode
    spans: tuple[Span, ...]
    """Where it is in the recording: of a slope, what is steeper than the limit."""
    why: str = ""
    """Why it is not read, or what else is to be said."""

    @property
    def is_marked(self) -> bool:
        """Whether a drawing has to show it."""
        return self.code not in ("pass", "not_judged")


@dataclass(frozen=True, slots=True)
class Reflow:
    """A recording held against its limits."""

    tracks: tuple[Track, ...]
    limits: ReflowLimits
    window_s: float
    held: tuple[Held, ...]
    """In the order of the tracks."""
    expanded_k: float
    """U of a temperature at the liquidus, k = 2."""
    is_example: bool = False
    """Whether nobody gave a recording."""
    alloy: Alloys = "lead-free"
    """Whose limits of the standard stand where nobody states others."""

    @property
    def code(self) -> VerdictCode:
        """The worst of all."""
        return min((one.code for one in self.held), key=WORST_FIRST.index)


def hold_profile(
    tracks: tuple[Track, ...],
    limits: ReflowLimits,
    thermocouple: Thermocouple,
    logger_k: float,
    window_s: float,
) -> Reflow:
    """Hold a recorded profile against its limits, thermocouple by thermocouple.

    Parameters
    ----------
    tracks
        What each read.
    limits
        Of the profile.
    thermocouple
        Type and class of all.
    logger_k
        Limits of the logger's error, K.
    window_s
        Over which a slope is taken, s.

    Returns
    -------
    Reflow
        Every limit with every thermocouple.

    Notes
    -----
    **Source**: J-STD-020 for the limits a paste does not state; derivation: docs/decisions/0062
    for how each is measured and how the thermocouple's uncertainty enters.
    """
    held: list[Held] = []
    for track in tracks:
        one = _Recording(track, limits, thermocouple, logger_k, window_s)
        held += (one.ramp(), one.soak(), one.above(), one.peak(), one.rise(), one.cool())
    u = expanded_k(thermocouple, logger_k, limits.liquidus_c)
    return Reflow(tracks, limits, window_s, tuple(held), u)


def code_of(value: float, low: float, high: float, limits: Limit) -> VerdictCode:
    """The word for a value that may be anything from `low` to `high`.

    Parameters
    ----------
    value
        As measured.
    low
        What it may be at least, k = 2.
    high
        What it may be at most, k = 2.
    limits
        Lower and upper; None: not limited.

    Returns
    -------
    VerdictCode
        The same words as a guard band of U gives (ILAC-G8:09/2019, 4.2.3), also where the range
        is longer on one side.
    """
    if limits == (None, None):
        return "not_judged"
    lower = -float("inf") if limits[0] is None else limits[0]
    upper = float("inf") if limits[1] is None else limits[1]
    if lower <= value <= upper:
        return "pass" if lower <= low and high <= upper else "conditional_pass"
    return "conditional_fail" if low <= upper and high >= lower else "fail"


class _Recording:
    """One thermocouple with what its readings may be."""

    def __init__(
        self,
        track: Track,
        limits: ReflowLimits,
        thermocouple: Thermocouple,
        logger_k: float,
        window_s: float,
    ) -> None:
        self.name = track.name
        self.limits = limits
        self.window_s = window_s
        self.t_s: Floats = np.array(track.t_s)
        self.c: Floats = np.array(track.c)
        self.share = CLASSES[thermocouple][1]
        self.u_k = np.array([expanded_k(thermocouple, logger_k, c) for c in track.c])
        self.top = int(np.argmax(self.c))

    def ramp(self) -> Held:
        """The steepest climb before the peak."""
        return self._slope("ramp", slice(0, self.top + 1), self.limits.ramp_k_s, 1)

    def cool(self) -> Held:
        """The steepest fall after the peak, where the recording holds the fall."""
        held = self._slope("cool", slice(self.top, None), self.limits.cool_k_s, -1)
        peak, last = self.c[self.top], self.c[-1]
        solid_c = min(self.limits.liquidus_c, peak - LEAST_FALL_K)
        if last <= solid_c or held.code in ("fail", "conditional_fail"):
            return held
        why = f"the recording ends at {last:.0f} °C, {peak - last:.0f} K below its peak"
        return Held("cool", self.name, None, None, None, held.limits, "not_read", (), why)

    def soak(self) -> Held:
        """How long the climb through the soak window takes."""
        low, high = self.limits.soak_c
        if self.c[0] >= low:
            why = f"the recording begins at {self.c[0]:.0f} °C, above the soak's {low:g} °C"
            return Held(
                "soak", self.name, None, None, None, self.limits.soak_s, "not_read", (), why
            )
        seen = soak(self.t_s, self.c, (low, high))
        values = self._shifted(lambda c: _length(soak(self.t_s, c, (low, high))))
        code = code_of(values[0], values[1], values[2], self.limits.soak_s)
        why = "" if seen else f"{high:g} °C is never reached"
        spans = (seen,) if seen else (self._at_top(),)
        return Held("soak", self.name, *values, self.limits.soak_s, code, spans, why)

    def above(self) -> Held:
        """How long the solder is molten."""
        level, limits = self.limits.liquidus_c, self.limits.above_s
        most = float("inf") if limits[1] is None else limits[1]
        spans = stretches_above(self.t_s, self.c, level)
        values = self._shifted(
            lambda c: sum(last - first for first, last in stretches_above(self.t_s, c, level))
        )
        cut = self.c[0] >= level or self.c[-1] >= level
        if cut and values[0] <= most:
            why = f"the recording is cut off above the liquidus of {level:g} °C"
            return Held("above", self.name, None, None, None, limits, "not_read", spans, why)
        code = code_of(values[0], values[1], values[2], limits)
        why = "" if spans else f"the liquidus of {level:g} °C is never reached"
        return Held("above", self.name, *values, limits, code, spans or (self._at_top(),), why)

    def peak(self) -> Held:
        """The highest temperature."""
        limits = self.limits.peak_c
        values = self._shifted(lambda c: float(c.max()))
        code = code_of(values[0], values[1], values[2], limits)
        return Held("peak", self.name, *values, limits, code, (self._at_top(),))

    def rise(self) -> Held:
        """How long it takes from room temperature to the peak."""
        limits = (None, self.limits.rise_s)
        peak_s = float(self.t_s[self.top])

        def begins_s(c: Floats) -> float:
            ups = [t for t in crossings(self.t_s, c, ROOM_C)[0] if t <= peak_s]
            return ups[-1] if ups else float(self.t_s[0])

        values = self._shifted(lambda c: peak_s - begins_s(c))
        code = code_of(values[0], values[1], values[2], limits)
        span = (begins_s(self.c), peak_s)
        if self.c[0] > BEGINS_BELOW_C and code != "fail":
            why = f"the recording begins at {self.c[0]:.0f} °C, and not near {ROOM_C:g} °C"
            return Held("rise", self.name, None, None, None, limits, "not_read", (), why)
        return Held("rise", self.name, *values, limits, code, (span,))

    def _slope(self, what: What, part: slice, limit: float, sign: int) -> Held:
        limits = (None, limit)
        t_s, c = self.t_s[part], self.c[part]
        steep = steepest(t_s, c, self.window_s, limit, sign) if len(c) > 1 else None
        if steep is None:
            why = f"less than {self.window_s:g} s of it were recorded"
            return Held(what, self.name, None, None, None, limits, "not_read", (), why)
        low = max(steep.k_s - self._expanded_slope(steep.k_s, len(c)), min(steep.k_s, 0.0))
        high = steep.k_s + self._expanded_slope(steep.k_s, 1)
        code = code_of(steep.k_s, low, high, limits)
        return Held(
            what, self.name, steep.k_s, low, high, limits, code, steep.past or (steep.at_s,)
        )

    def _expanded_slope(self, k_s: float, picked_from: int) -> float:
        """U of a slope: what is wrong by a share stays, what is wrong all through drops out.

        The steepest of many windows is steep by chance too: its lower side is as far as the
        highest of so many scatters (Bonferroni).
        """
        by_share = COVERAGE_K * self.share * k_s / 3**0.5
        k = -NORMAL.inv_cdf(NORMAL.cdf(-COVERAGE_K) / picked_from)
        by_scatter = k * 2**0.5 * scatter_k(self.c) / self.window_s
        return float(np.hypot(by_share, by_scatter))

    def _shifted(self, measured: Callable[[Floats], float]) -> tuple[float, float, float]:
        """Value, least and most, when the thermocouple reads wrong by up to U all through."""
        values = [measured(self.c + shift * self.u_k) for shift in SHIFTS]
        return values[SHIFTS.index(0.0)], min(values), max(values)

    def _at_top(self) -> Span:
        at = float(self.t_s[self.top])
        return at, at


def _length(span: Span | None) -> float:
    return 0.0 if span is None else span[1] - span[0]
