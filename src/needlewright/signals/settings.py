"""The bench's settings file: adapters and instruments, in TOML."""

import tomllib
from pathlib import Path
from typing import Annotated, Any, Final, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from needlewright.errors import SignalError
from needlewright.settings_trouble import first_wrong
from needlewright.signals.instruments import Accuracy, Instrument, Instruments

Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0, allow_inf_nan=False)]
MOST_BYTES: Final = 100_000


class _Closed(BaseModel):
    """A table of the file; a misspelt setting must not pass for a default."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class AccuracySettings(_Closed):
    """What the maker states: a share of the setting plus a constant."""

    of_setting: NotNegative = 0.0
    constant: NotNegative = 0.0
    coverage_k: Positive | None = None


class InstrumentSettings(_Closed):
    """One instrument of the bench."""

    step: NotNegative = 0.0
    lowest: float | None = None
    highest: float | None = None
    accuracy: AccuracySettings | None = None

    def instrument(self) -> Instrument:
        """As signals use it."""
        stated = self.accuracy
        accuracy = None
        if stated is not None:
            accuracy = Accuracy(stated.of_setting, stated.constant, stated.coverage_k)
        return Instrument(self.step, self.lowest, self.highest, accuracy)


class BusSettings(_Closed):
    """The adapter, by the names python-can has for it."""

    interface: str = Field(min_length=1)
    channel: str | int | None = None
    bitrate: Annotated[int, Field(gt=0)] | None = None
    where: Literal["bench", "vehicle"] = "bench"
    """What the adapter is plugged into."""
    options: dict[str, Any] = Field(default_factory=dict)
    """More that the adapter's driver wants."""


class SupplySettings(_Closed):
    """The bench supply, by its VISA resource name."""

    resource: str = Field(min_length=1)
    library: str = "@py"
    u_v: NotNegative | None = None
    """Standard uncertainty of its voltage, k = 1."""


class BenchSettings(_Closed):
    """The whole file; every table is optional."""

    bus: BusSettings | None = None
    supply: SupplySettings | None = None
    generator: InstrumentSettings | None = None
    decade_box: InstrumentSettings | None = None
    voltage_source: InstrumentSettings | None = None

    def instruments(self) -> Instruments:
        """What makes the stimuli."""
        return Instruments(
            None if self.generator is None else self.generator.instrument(),
            None if self.decade_box is None else self.decade_box.instrument(),
            None if self.voltage_source is None else self.voltage_source.instrument(),
        )


def load_settings(path: Path) -> BenchSettings:
    """Read a settings file.

    Parameters
    ----------
    path
        Of TOML.

    Returns
    -------
    BenchSettings
        Checked.

    Raises
    ------
    SignalError
        If it cannot be read, or a setting is unknown or out of range.
    """
    try:
        content = path.read_bytes()
    except OSError as error:
        raise SignalError(f"{path}: cannot be opened: {error.strerror or error}") from error
    if len(content) > MOST_BYTES:
        raise SignalError(f"{path}: {len(content)} bytes are no settings file of a bench")
    try:
        return BenchSettings.model_validate(tomllib.loads(content.decode("utf-8")))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise SignalError(f"{path}: is no TOML: {error}") from error
    except ValidationError as error:
        raise SignalError(f"{path}: {first_wrong(error, 'setting')}") from error
