"""What is known of a temperature series: its stays, its temperatures, how warm each step was."""

from typing import Annotated, Final, Literal

from pydantic import BaseModel, ConfigDict, Field

from needlewright.bench.soak import Way
from needlewright.bench.thermometer import Reading, corrected
from needlewright.bench.warming import Known, Temperature, Warming

Finite = Annotated[float, Field(allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0, allow_inf_nan=False)]
Which = Literal["as-found", "as-left"]
PLACES: Final = 2
"""Decimals a temperature is kept with; none is known to a hundredth of a degree."""


class _Closed(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Stated(_Closed):
    """A value with its standard uncertainty, k = 1."""

    value: Finite
    u: NotNegative

    @property
    def known(self) -> Known:
        """As the warming curve takes it."""
        return Known(self.value, self.u)


class TypedReading(_Closed):
    """What somebody read off a thermometer."""

    seconds: NotNegative
    """Since the stay began."""
    degc: Finite
    u_degc: Annotated[float, Field(gt=0, allow_inf_nan=False)]


class Stay(_Closed):
    """A stretch of time in the same surroundings: out of the freezer, or in the chamber."""

    started_s: Finite
    """By the series' clock."""
    start_c: Stated
    surroundings_c: Stated
    time_constant_s: Stated
    place_u_c: NotNegative
    readings: tuple[TypedReading, ...] = ()

    @property
    def stated(self) -> Warming:
        """Its curve as it was known beforehand."""
        return Warming(
            self.start_c.known,
            self.surroundings_c.known,
            self.time_constant_s.known,
            self.place_u_c,
        )

    @property
    def warming(self) -> Warming:
        """Its curve as the thermometer readings leave it."""
        return corrected(
            self.stated, [Reading(one.seconds, one.degc, one.u_degc) for one in self.readings]
        )


class StepTemperature(_Closed):
    """How warm the movements were at a step."""

    stay: Annotated[int, Field(ge=0)]
    """Which of the series' stays."""
    seconds: NotNegative
    """Since that began."""
    temperature_c: Finite
    u_temperature_c: NotNegative
    """Standard uncertainty, k = 1."""
    parts_c: dict[str, Finite]
    """What adds to it, signed, k = 1: start, surroundings, time constant, thermometer."""


class AtTemperature(_Closed):
    """One temperature of a series."""

    at_c: Finite
    """Asked for."""
    run: str
    """File name of the run."""
    state: Literal["waiting", "begun", "finished"] = "waiting"
    steps: dict[int, StepTemperature] = Field(default_factory=dict)


class SeriesState(_Closed):
    """Where a series stands, and how warm every step of it was."""

    family: str
    cluster: str
    """What stood on the bench: `bench`, or how it was rehearsed."""
    which: Which
    way: Way
    time_constant_source: str
    clock_s: Finite
    """Of the last step that was kept."""
    temperatures: tuple[AtTemperature, ...]
    """In the order they are taken in."""
    stays: tuple[Stay, ...] = ()

    def temperature_of(self, stay: int, seconds: float) -> StepTemperature:
        """How warm the movements were, by what is known now.

        Parameters
        ----------
        stay
            Which.
        seconds
            Since it began.

        Returns
        -------
        StepTemperature
            For a row.
        """
        return _as_step(stay, seconds, self.stays[stay].warming.at(seconds))

    def corrected(self) -> "SeriesState":
        """The same with every step's temperature worked out anew from all thermometer readings.

        Returns
        -------
        SeriesState
            Unchanged where no reading was typed since.

        Raises
        ------
        RunError
            If a reading cannot be.
        """
        curves = [stay.warming for stay in self.stays]
        return self.model_copy(
            update={
                "temperatures": tuple(
                    at.model_copy(
                        update={
                            "steps": {
                                step: _as_step(
                                    one.stay, one.seconds, curves[one.stay].at(one.seconds)
                                )
                                for step, one in at.steps.items()
                            }
                        }
                    )
                    for at in self.temperatures
                )
            }
        )


def run_file(degc: float) -> str:
    """File name of the run at a temperature.

    Parameters
    ----------
    degc
        Asked for.

    Returns
    -------
    str
        Like `at-minus-20.csv`.
    """
    return f"at-{'minus-' if degc < 0 else ''}{abs(degc):g}.csv"


def fresh_series(
    *,
    family: str,
    cluster: str,
    which: Which,
    way: Way,
    at: tuple[float, ...],
    time_constant_source: str,
    clock_s: float,
) -> SeriesState:
    """A series of which nothing is done.

    Parameters
    ----------
    family
        Name of the cluster design.
    cluster
        What stands on the bench.
    which
        Run of the job.
    way
        How it is cooled.
    at
        Temperatures, degC, in the order they are taken in.
    time_constant_source
        Where the time constant comes from.
    clock_s
        Now.

    Returns
    -------
    SeriesState
        To be kept.
    """
    return SeriesState(
        family=family,
        cluster=cluster,
        which=which,
        way=way,
        time_constant_source=time_constant_source,
        clock_s=clock_s,
        temperatures=tuple(AtTemperature(at_c=degc, run=run_file(degc)) for degc in at),
    )


def _as_step(stay: int, seconds: float, temperature: Temperature) -> StepTemperature:
    return StepTemperature(
        stay=stay,
        seconds=seconds,
        temperature_c=round(temperature.degc, PLACES) + 0.0,
        u_temperature_c=round(temperature.u_degc, PLACES),
        parts_c={name: round(part, PLACES) + 0.0 for name, part in temperature.parts_degc},
    )
