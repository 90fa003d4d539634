"""The instruments of the bench that make a stimulus: what they can set, and how exactly."""

from dataclasses import dataclass
from math import isfinite, sqrt
from typing import Final, Literal

from needlewright.errors import SignalError

InstrumentKind = Literal["generator", "decade_box", "voltage_source"]

NAMES: Final = {
    "generator": "signal generator",
    "decade_box": "decade box",
    "voltage_source": "voltage source",
}
UNITS_SET: Final = {"generator": "Hz", "decade_box": "ohm", "voltage_source": "V"}


@dataclass(frozen=True, slots=True)
class Accuracy:
    """What the maker states: a share of the setting plus a constant, in the setting's unit."""

    of_setting: float = 0.0
    constant: float = 0.0
    coverage_k: float | None = None
    """None: the two are limits of error; a number: they are an expanded uncertainty with it."""

    def u_at(self, setting: float) -> float:
        """Standard uncertainty of a setting, k = 1.

        **Source**: limits without more said are a rectangular distribution, JCGM 100 clause 4.3.7;
        an expanded uncertainty is divided by its factor, clause 4.3.3.
        """
        half_width = self.of_setting * abs(setting) + self.constant
        return half_width / (sqrt(3.0) if self.coverage_k is None else self.coverage_k)


@dataclass(frozen=True, slots=True)
class Instrument:
    """One instrument: its steps, its range and its stated accuracy."""

    step: float = 0.0
    """Smallest change of the setting; 0: continuous."""
    lowest: float | None = None
    highest: float | None = None
    accuracy: Accuracy | None = None
    """None: not stated, so the stimulus has no known uncertainty."""

    def set_to(self, wanted: float, kind: InstrumentKind) -> float:
        """The setting nearest to what is wanted.

        Parameters
        ----------
        wanted
            In the unit of `kind`: Hz, ohm or V.
        kind
            For sentences.

        Returns
        -------
        float
            A whole number of steps.

        Raises
        ------
        SignalError
            If it lies outside the instrument's range.
        """
        setting = round(wanted / self.step) * self.step if self.step else wanted
        if not isfinite(setting):
            raise SignalError(f"the {NAMES[kind]} cannot be set to {wanted:g} {UNITS_SET[kind]}")
        slack = self.step * 1e-9
        below = self.lowest is not None and setting < self.lowest - slack
        above = self.highest is not None and setting > self.highest + slack
        if below or above:
            limit = f"at least {self.lowest:g}" if below else f"at most {self.highest:g}"
            raise SignalError(
                f"the {NAMES[kind]} can be set to {limit} {UNITS_SET[kind]}, and "
                f"{wanted:g} {UNITS_SET[kind]} is needed; use another one"
            )
        return setting


@dataclass(frozen=True, slots=True)
class Instruments:
    """What stands on the bench; None: nothing is known of it."""

    generator: Instrument | None = None
    decade_box: Instrument | None = None
    voltage_source: Instrument | None = None

    def of_kind(self, kind: InstrumentKind) -> Instrument:
        """The instrument of a kind; a continuous one of unstated accuracy where none is known."""
        found: Instrument | None = getattr(self, kind)
        return found or UNKNOWN


UNKNOWN: Final = Instrument()
NO_INSTRUMENTS: Final = Instruments()
