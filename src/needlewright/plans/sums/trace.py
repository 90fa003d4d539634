"""A broken track of a board: what it carries, and the wire that may bridge it."""

from dataclasses import dataclass
from math import pi
from typing import Final, Literal

from needlewright.errors import SumError
from needlewright.plans.sums.coil_resistance import REFERENCE_C, copper_at

Side = Literal["outside", "inside"]

FACTOR: Final[dict[Side, float]] = {"outside": 0.048, "inside": 0.024}
RISE_EXPONENT: Final = 0.44
AREA_EXPONENT: Final = 0.725
RISE_LIMITS_K: Final = (10.0, 100.0)
"""What the curves behind the formula were drawn for (from memory)."""
SECTION_2152: Final = (117.555, -0.913, 1.15)
POWER_2152: Final = (0.84, -0.108, 1.159)
"""Of a fit to the charts of IPC-2152, A = (a dT^b + c) I^(d dT^e + f) in square mil, the same for
outside and inside. **Source**: as public calculators have it (seen second-hand)."""
COPPER_OHM_M: Final = 1.7241e-8
"""Resistivity of annealed copper at 20 degC (IEC 60028: 1/58 ohm mm2/m)."""
CURRENT_LIMITS_A: Final[dict[Side, float]] = {"outside": 35.0, "inside": 17.5}
COPPER_LIMITS_UM: Final = (17.0, 105.0)
"""Half an ounce to three; both what the curves were drawn for (from memory)."""
MIL_MM: Final = 0.0254
GAUGES: Final = tuple(range(10, 42, 2))
WIRE_A_PER_MM2: Final = 10.0
"""A thin insulated wire lying on a board. **Source**: the table of wires of the Handbook of
Electronic Tables and Formulas, as quoted (seen), has 17 A/mm2 inside a chassis (3.5 A for gauge
24, 0.86 A for gauge 30) and 2.8 A/mm2 for long leads (700 circular mil an ampere); this lies
between."""


@dataclass(frozen=True, slots=True)
class Wire:
    """A round copper wire."""

    gauge: int
    """AWG."""
    diameter_mm: float
    ohm_per_m: float
    """At 20 degC."""

    @property
    def area_mm2(self) -> float:
        """Of its section."""
        return pi / 4 * self.diameter_mm**2


@dataclass(frozen=True, slots=True)
class Trace:
    """A track of a board at its current."""

    amps: float
    width_mm: float
    copper_um: float
    side: Side
    length_mm: float
    allowed_k: float
    around_c: float
    rise_k: float | None
    """None: more than `RISE_LIMITS_K` goes to, where the formula says nothing."""
    needed_mm: float
    """Width that warms by no more than is allowed."""
    needed_2152_mm: float
    """The same by the newer charts, which were measured."""
    carries_a: float
    """Current at which it warms by what is allowed."""
    board_ohm: float
    """Of its length, as warm as the board."""
    ohm: float | None
    """Of its length, as warm as it is; None: nobody knows how warm."""
    wire: Wire | None
    """The thinnest that may bridge it; None: none of those listed."""
    most_drop_v: float | None = None
    """What may be lost along the wire; None: nobody said."""

    @property
    def area_mm2(self) -> float:
        """Of its section."""
        return self.width_mm * self.copper_um / 1000.0

    @property
    def drop_v(self) -> float | None:
        """Along its length."""
        return None if self.ohm is None else self.ohm * self.amps

    @property
    def is_too_warm(self) -> bool:
        """Whether it warms by more than it may."""
        return self.rise_k is None or self.rise_k > self.allowed_k * (1 + 1e-9)

    @property
    def is_beyond_curves(self) -> bool:
        """Whether current or copper are none that the curves were drawn for."""
        least, most = COPPER_LIMITS_UM
        return not (self.amps <= CURRENT_LIMITS_A[self.side] and least <= self.copper_um <= most)

    @property
    def wire_ohm(self) -> float | None:
        """Of the wire, as long, as warm as the board."""
        if self.wire is None:
            return None
        return _wire_ohm(self.wire, self.length_mm, self.around_c)

    @property
    def wire_drop_v(self) -> float | None:
        """Along the wire."""
        return None if self.wire_ohm is None else self.wire_ohm * self.amps


def trace_current(rise_k: float, area_mil2: float, side: Side) -> float:
    """What a track carries when it is warmer than the board by so much.

    Parameters
    ----------
    rise_k
        K.
    area_mil2
        Of its section, square mil.
    side
        On the outside of the board or inside.

    Returns
    -------
    float
        A.

    Notes
    -----
    **Source**: IPC-2221, I = k dT^0.44 A^0.725, k 0.048 outside and 0.024 inside.
    """
    return float(FACTOR[side] * rise_k**RISE_EXPONENT * area_mil2**AREA_EXPONENT)


def trace_rise(amps: float, area_mil2: float, side: Side) -> float:
    """The same solved for the rise, K."""
    return float((amps / (FACTOR[side] * area_mil2**AREA_EXPONENT)) ** (1 / RISE_EXPONENT))


def trace_area(amps: float, rise_k: float, side: Side) -> float:
    """The same solved for the section, square mil."""
    return float((amps / (FACTOR[side] * rise_k**RISE_EXPONENT)) ** (1 / AREA_EXPONENT))


def trace_area_2152(amps: float, rise_k: float) -> float:
    """The section by charts that were measured, of boards without planes of copper.

    Parameters
    ----------
    amps
        A.
    rise_k
        K.

    Returns
    -------
    float
        Square mil.

    Notes
    -----
    **Source**: a fit to the charts of IPC-2152, as `SECTION_2152`.
    """
    a, b, c = SECTION_2152
    d, e, f = POWER_2152
    return float((a * rise_k**b + c) * amps ** (d * rise_k**e + f))


def wire_of(gauge: int) -> Wire:
    """A solid copper wire of the American gauge.

    Parameters
    ----------
    gauge
        AWG.

    Returns
    -------
    Wire
        Its diameter and resistance.

    Notes
    -----
    **Source**: ASTM B258, d = 0.005 in x 92^((36 - n) / 39); copper at 20 degC as IEC 60028.
    """
    diameter = 25.4 * 0.005 * 92 ** ((36 - gauge) / 39)
    return Wire(gauge, diameter, COPPER_OHM_M / (pi / 4 * diameter**2 * 1e-6))


def broken_trace(
    amps: float,
    width_mm: float,
    copper_um: float,
    side: Side,
    *,
    length_mm: float,
    allowed_k: float,
    around_c: float,
    most_drop_v: float | None = None,
) -> Trace:
    """A track at its current, and the wire that may bridge its break.

    Parameters
    ----------
    amps
        A.
    width_mm
        Of the track.
    copper_um
        Its thickness.
    side
        Outside or inside the board.
    length_mm
        Of the track, or of what is bridged.
    allowed_k
        By how much it may be warmer than the board.
    around_c
        Of the board, degC.
    most_drop_v
        What may be lost along the wire, V; None: no limit.

    Returns
    -------
    Trace
        The wire is the thinnest whose section is not less than the track's, whose current is not
        more than `WIRE_A_PER_MM2` allows, and that loses no more than it may.

    Raises
    ------
    SumError
        If the section is none of a track.

    Notes
    -----
    **Source**: IPC-2221 for current and rise, IEC 60028 for copper, ASTM B258 for the wire; the
    wire's current by its section as `WIRE_A_PER_MM2`.
    """
    area_mil2 = width_mm / MIL_MM * copper_um / 1000.0 / MIL_MM
    if not 1.0 <= area_mil2 <= 2000.0:
        raise SumError(
            f"Width and copper: a section of {area_mil2:.3g} square mil is out of the 1 to 2000 "
            "the formula is used for; check both, and their units"
        )
    rise = trace_rise(amps, area_mil2, side)
    is_known = rise <= RISE_LIMITS_K[1] * (1 + 1e-9)
    cold_ohm = COPPER_OHM_M * length_mm * 1e-3 / (width_mm * copper_um * 1e-9)
    thickness_mil = copper_um / 1000.0 / MIL_MM
    area_mm2 = width_mm * copper_um / 1000.0
    return Trace(
        amps, width_mm, copper_um, side, length_mm, allowed_k, around_c,
        rise_k=rise if is_known else None,
        needed_mm=trace_area(amps, allowed_k, side) / thickness_mil * MIL_MM,
        needed_2152_mm=trace_area_2152(amps, allowed_k) / thickness_mil * MIL_MM,
        carries_a=trace_current(allowed_k, area_mil2, side),
        board_ohm=copper_at(cold_ohm, REFERENCE_C, around_c),
        ohm=copper_at(cold_ohm, REFERENCE_C, around_c + rise) if is_known else None,
        wire=_bridge(area_mm2, amps, length_mm, around_c, most_drop_v),
        most_drop_v=most_drop_v,
    )  # fmt: skip


def _bridge(
    area_mm2: float, amps: float, length_mm: float, around_c: float, most_drop_v: float | None
) -> Wire | None:
    wanted = max(area_mm2, amps / WIRE_A_PER_MM2)
    most = float("inf") if most_drop_v is None else most_drop_v
    thinnest_first = (wire_of(gauge) for gauge in reversed(GAUGES))
    return next(
        (
            wire
            for wire in thinnest_first
            if wire.area_mm2 >= wanted and _wire_ohm(wire, length_mm, around_c) * amps <= most
        ),
        None,
    )


def _wire_ohm(wire: Wire, length_mm: float, around_c: float) -> float:
    return copper_at(wire.ohm_per_m * length_mm / 1000, REFERENCE_C, around_c)
