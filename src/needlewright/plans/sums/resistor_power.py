"""What a resistor may turn into heat where it stands, and what it does."""

from dataclasses import dataclass
from typing import Final

from needlewright.errors import SumError

RATINGS_W: Final = (0.063, 0.1, 0.125, 0.25, 0.5, 0.6, 1.0, 2.0, 3.0, 5.0, 10.0, 25.0, 50.0)
"""Usual ones (common practice, no source)."""
SHARE_OF_RATING: Final = 0.5
"""A resistor is loaded to half of what it may take, so that it stays cool enough for its board and
its neighbours. **Source**: SD-18 of the US Navy, resistors, derating (seen): to 50 to 70 %."""


@dataclass(frozen=True, slots=True)
class ResistorHeat:
    """A resistor at its load and place; powers in W, temperatures in degC."""

    ohm: float
    volts: float | None
    amps: float | None
    rated_w: float
    full_to_c: float
    none_at_c: float
    around_c: float
    heat_w: float
    allowed_w: float

    @property
    def allowed_share(self) -> float:
        """Of the rated power, 0 to 1."""
        return self.allowed_w / self.rated_w

    @property
    def load_share(self) -> float | None:
        """Of what is allowed; None where nothing is."""
        return self.heat_w / self.allowed_w if self.allowed_w > 0 else None

    @property
    def hottest_c(self) -> float | None:
        """Where the load is just allowed; None where it never is."""
        if self.heat_w > self.rated_w:
            return None
        span = self.none_at_c - self.full_to_c
        return self.none_at_c - span * self.heat_w / self.rated_w


def allowed_power(rated_w: float, full_to_c: float, none_at_c: float, around_c: float) -> float:
    """What a resistor may take at a temperature around it.

    Parameters
    ----------
    rated_w
        W.
    full_to_c
        Up to here it may take all of that, degC.
    none_at_c
        Here it may take nothing, degC.
    around_c
        Of the air around it, degC.

    Returns
    -------
    float
        W.

    Raises
    ------
    SumError
        If it may take nothing before it may no longer take all.

    Notes
    -----
    **Source**: SD-18 of the US Navy, resistors, derating (seen): all of it up to one temperature,
    then straight down to nothing at another; recomputed against printed examples.
    """
    if none_at_c <= full_to_c:
        raise SumError(
            f"Bears nothing from: {none_at_c:g} °C is not above the {full_to_c:g} °C up to which "
            "all of it may be taken; take both from the resistor's data"
        )
    return rated_w * min(max((none_at_c - around_c) / (none_at_c - full_to_c), 0.0), 1.0)


def resistor_heat(
    ohm: float,
    volts: float | None,
    amps: float | None,
    *,
    rated_w: float,
    full_to_c: float,
    none_at_c: float,
    around_c: float,
) -> ResistorHeat:
    """What a resistor turns into heat, beside what it may where it stands.

    Parameters
    ----------
    ohm
        Its resistance.
    volts
        Across it, V; or None.
    amps
        Through it, A; or None. One of the two is given.
    rated_w
        As for `allowed_power`, as are the others.
    full_to_c
        degC.
    none_at_c
        degC.
    around_c
        degC.

    Returns
    -------
    ResistorHeat
        Both powers.

    Raises
    ------
    SumError
        If both or neither of voltage and current are given, or the temperatures do not fit.

    Notes
    -----
    **Source**: Joule's law, P = U^2 / R = I^2 R; derating as `allowed_power`.
    """
    if (volts is None) == (amps is None):
        raise SumError(
            "Voltage and current: exactly one of the two is needed, found "
            f"{'neither' if volts is None else 'both'}; fill in one and leave the other empty"
        )
    heat = volts**2 / ohm if volts is not None else (amps or 0.0) ** 2 * ohm
    allowed = allowed_power(rated_w, full_to_c, none_at_c, around_c)
    return ResistorHeat(ohm, volts, amps, rated_w, full_to_c, none_at_c, around_c, heat, allowed)


def rating_for(heat_w: float) -> float:
    """The lowest usual rating of which a heat is at most half; past the last one, twice the heat.

    Parameters
    ----------
    heat_w
        W.

    Returns
    -------
    float
        W.
    """
    wanted = heat_w / SHARE_OF_RATING
    return next((one for one in RATINGS_W if one >= wanted * (1 - 1e-12)), wanted)
