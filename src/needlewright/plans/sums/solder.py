"""Which solder goes on which, and what the joint sees in the vehicle."""

from dataclasses import dataclass
from typing import Final, Literal

from scipy.constants import zero_Celsius

from needlewright.errors import SumError

AlloyName = Literal["Sn63Pb37", "Sn60Pb40", "SAC305"]
OldAlloy = AlloyName | Literal["unknown"]

CREEPS_FROM: Final = 0.5
"""Share of the melting temperature, in kelvins, above which a metal creeps (common knowledge of
materials, no source)."""
MIXED_SOLIDUS_C: Final = 179.0
"""Of the eutectic of tin, lead and silver, where leaded and lead-free solder meet. **Source**: a
public table of solder alloys (seen) has 179/179 for Sn62.5Pb36.1Ag1.4."""
BOARD_PPM_K: Final = 15.0
CERAMIC_PPM_K: Final = 6.5
"""How a board of glass and epoxy, in its plane, and a ceramic part grow, 1e-6 by K. **Source**:
Hollomon, Surface-Mount Technology for PC Board Design, as the public archive of IPC's forum quotes
it (27 March 1996, seen); IEC TR 62380, coefficients of packages, as open code of it has them
(seen)."""
WORK_ABOVE_K: Final = (20.0, 40.0)
"""What a joint is heated to above the liquidus (common practice, no source)."""
LEAST_MARGIN_K: Final = 30.0
"""That a joint should keep below its solidus (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Alloy:
    """A solder."""

    name: AlloyName
    solidus_c: float
    """Below it all is solid."""
    liquidus_c: float
    """Above it all is molten."""
    leaded: bool


ALLOYS: Final[dict[AlloyName, Alloy]] = {
    one.name: one
    for one in (
        Alloy("Sn63Pb37", 183.0, 183.0, leaded=True),
        Alloy("Sn60Pb40", 183.0, 190.0, leaded=True),
        Alloy("SAC305", 217.0, 220.0, leaded=False),
    )
}
"""**Source**: a public table of solder alloys (seen): 183/183, 183/191, 217/220; tables give the
liquidus of Sn60Pb40 as 188 to 191 degC. NIST: the eutectic of tin, silver and copper melts at 217.2
degC, U 0.2 K (Moon and Boettinger, JOM 56, 2004, abstract seen)."""


@dataclass(frozen=True, slots=True)
class SolderChoice:
    """A joint that is soldered anew, in its vehicle."""

    new: Alloy
    old: Alloy | None
    """None: not known."""
    hottest_c: float
    coldest_c: float
    half_length_mm: float

    @property
    def mixes(self) -> bool | None:
        """Whether lead and lead-free meet; None: not known."""
        return None if self.old is None else self.old.leaded != self.new.leaded

    @property
    def solidus_c(self) -> float:
        """Where the joint, or the first of it, melts."""
        if self.mixes is None and not self.new.leaded:
            return MIXED_SOLIDUS_C
        return MIXED_SOLIDUS_C if self.mixes else self.new.solidus_c

    @property
    def margin_k(self) -> float:
        """From the hottest in the vehicle to the solidus."""
        return self.solidus_c - self.hottest_c

    @property
    def homologous(self) -> float:
        """The hottest as a share of the solidus, both in kelvins."""
        return (self.hottest_c + zero_Celsius) / (self.solidus_c + zero_Celsius)

    @property
    def swing_k(self) -> float:
        """From coldest to hottest."""
        return self.hottest_c - self.coldest_c

    @property
    def shear_um(self) -> float:
        """By how much board and a ceramic part grow apart at its end over that swing, um."""
        return (BOARD_PPM_K - CERAMIC_PPM_K) * 1e-3 * self.swing_k * self.half_length_mm

    @property
    def work_c(self) -> tuple[float, float]:
        """What the joint is heated to when it is soldered."""
        low, high = WORK_ABOVE_K
        return self.new.liquidus_c + low, self.new.liquidus_c + high


def choose_solder(
    new: AlloyName,
    old: OldAlloy,
    *,
    coldest_c: float,
    hottest_c: float,
    part_mm: float,
) -> SolderChoice:
    """What becomes of a joint that is soldered with one alloy upon another.

    Parameters
    ----------
    new
        What is put on.
    old
        What is there.
    coldest_c
        In the vehicle, degC.
    hottest_c
        In the vehicle, degC.
    part_mm
        Length of the part between its joints, mm.

    Returns
    -------
    SolderChoice
        With what the joint sees.

    Raises
    ------
    SumError
        If the hottest is not above the coldest.

    Notes
    -----
    **Source**: solidus and liquidus, the eutectic of a mixture, and the growth of board and part
    as the constants name them; the shear is a derivation: difference in growth x swing x half
    length.
    """
    if hottest_c <= coldest_c:
        raise SumError(
            f"Hottest in the vehicle: {hottest_c:g} °C is not above the coldest, {coldest_c:g} °C; "
            "correct one of the two"
        )
    there = None if old == "unknown" else ALLOYS[old]
    return SolderChoice(ALLOYS[new], there, hottest_c, coldest_c, part_mm / 2)
