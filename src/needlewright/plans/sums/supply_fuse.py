"""The current limit and the fuse for a cluster on the bench, from what is on it."""

from dataclasses import dataclass
from math import ceil
from typing import Final, Literal

from needlewright.errors import SumError
from needlewright.plans.sums.trace import WIRE_A_PER_MM2

FUSES_A: Final = (
    0.032, 0.04, 0.05, 0.063, 0.08, 0.1, 0.125, 0.16, 0.2, 0.25, 0.315, 0.4, 0.5, 0.63, 0.8,
    1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0, 5.0, 6.3, 8.0, 10.0,
)  # fmt: skip
"""Rated currents of miniature fuse-links. **Source**: IEC 60127-9, standard sheet 1 (seen, all but
the 40 mA), a rounded R10 series."""
LIMIT_OVER_LOAD: Final = 1.25
"""Common practice, no source."""
LOAD_OF_FUSE: Final = 0.75
"""**Source**: L. Lundy, the fuse-selection checklist, EDN, 26 September 1996 (seen)."""
LIMIT_STEP_A: Final = 0.05
SLOW_FROM: Final = 2.0
"""Inrush over a fuse's rating from which a slow one is taken (common practice, no source)."""
Speed = Literal["T", "F"]
Switchings = Literal["100", "1000", "10000", "100000"]
PULSE_SHARE: Final[dict[Switchings, float]] = {
    "100": 0.48, "1000": 0.38, "10000": 0.29, "100000": 0.22,
}  # fmt: skip
"""What one pulse may have of the I2t that melts a fuse, by how often it comes. **Source**: a fuse
maker's guide of 2017 (seen)."""


@dataclass(frozen=True, slots=True)
class SupplyFuse:
    """Currents on the bench's lead, A."""

    running_a: float
    lamp_check_a: float
    """The most that flows steadily."""
    inrush_a: float
    """For some milliseconds, while the filaments are cold."""
    limit_a: float
    """To set on the supply."""
    fuse_a: float
    speed: Speed
    """T: slow, F: quick."""
    lead_a: float
    """What the lead bears."""
    bears_share: float = 1.0
    """Of its rating, what the fuse bears where it is."""
    inrush_a2s: float = 0.0
    """I2t of one inrush above what flows then, where nothing limits it."""
    wanted_a2s: float = 0.0
    """I2t at which the fuse may melt at the least, to live through so many."""
    melts_a2s: float | None = None
    """I2t at which it does; None: nobody said."""

    @property
    def lives(self) -> bool | None:
        """Whether it lives through the inrushes; None: not known."""
        return None if self.melts_a2s is None else self.melts_a2s >= self.wanted_a2s

    @property
    def lead_is_guarded(self) -> bool:
        """Whether the fuse goes before the lead does."""
        return self.fuse_a <= self.lead_a


def supply_fuse(
    volts: float,
    electronics_a: float,
    movements_a: float,
    *,
    backlight_w: float,
    tell_tales_w: float,
    cold_factor: float,
    lead_mm2: float,
    bears_share: float = 1.0,
    inrush_s: float = 0.02,
    switchings: Switchings = "10000",
    melts_a2s: float | None = None,
) -> SupplyFuse:
    """What the supply is limited to, and the fuse behind it.

    Parameters
    ----------
    volts
        Of the supply, V.
    electronics_a
        Of the cluster with its lamps off, A.
    movements_a
        While the needles are driven, A.
    backlight_w
        Of all backlight lamps, W.
    tell_tales_w
        Of all tell-tales that the lamp check lights, W.
    cold_factor
        Current of a cold lamp over that of a hot one.
    lead_mm2
        Section of the lead's copper, square mm.
    bears_share
        Of its rating, what the fuse bears at the temperature where it is, from its data.
    inrush_s
        In which the inrush falls to 1/e of what is above the steady current.
    switchings
        How often the fuse is to live through it.
    melts_a2s
        The fuse's nominal melting I2t, from its data, A2 s; None: not known.

    Returns
    -------
    SupplyFuse
        Limit rounded up to `LIMIT_STEP_A`, the lowest fuse of the series that is loaded to at most
        `LOAD_OF_FUSE`.

    Raises
    ------
    SumError
        If the fuses listed end below.

    Notes
    -----
    **Source**: sum of the loads, I = P / U; fuses as `FUSES_A` and `LOAD_OF_FUSE`; the margin of
    the limit is common practice, no source, the lead's current as `WIRE_A_PER_MM2`. Cold lamps take
    10 to 15 times their current (guides of electrical installation, seen). An inrush that falls as
    exp(-t / tau) has, above the steady current, I2t = tau (D^2 / 2 + 2 D I), D the difference of
    the two (integral; without a steady current the tau Ip^2 / 2 of a fuse maker's guide of 2017,
    seen, which has `PULSE_SHARE` too). That 75 % and the share at the temperature multiply is of
    the same guides.
    """
    lamps_a = (backlight_w + tell_tales_w) / volts
    running = electronics_a + movements_a + backlight_w / volts
    check = electronics_a + movements_a + lamps_a
    wanted = check / (LOAD_OF_FUSE * bears_share)
    fuse = next((one for one in FUSES_A if one >= wanted * (1 - 1e-12)), None)
    if fuse is None:
        raise SumError(
            f"Loads: {check:.3g} A asks for a fuse of {wanted:.3g} A, and those listed end at "
            f"{FUSES_A[-1]:g} A; check the loads, or feed them by two leads"
        )
    inrush = electronics_a + movements_a + lamps_a * cold_factor
    pulse = pulse_a2s(inrush, check, inrush_s)
    return SupplyFuse(
        running,
        check,
        inrush,
        limit_a=ceil(check * LIMIT_OVER_LOAD / LIMIT_STEP_A - 1e-9) * LIMIT_STEP_A,
        fuse_a=fuse,
        speed="T" if inrush > SLOW_FROM * fuse else "F",
        lead_a=lead_mm2 * WIRE_A_PER_MM2,
        bears_share=bears_share,
        inrush_a2s=pulse,
        wanted_a2s=pulse / PULSE_SHARE[switchings],
        melts_a2s=melts_a2s,
    )


def pulse_a2s(peak_a: float, steady_a: float, falls_s: float) -> float:
    """I2t of a current that falls to a steady one as exp(-t / tau), above that.

    Parameters
    ----------
    peak_a
        At the first, A.
    steady_a
        At last, A.
    falls_s
        Tau, s.

    Returns
    -------
    float
        A2 s.
    """
    above = peak_a - steady_a
    return falls_s * (above**2 / 2 + 2 * above * steady_a)
