"""One look of a run: what was told, the needles' readings, and the rows of both."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from typing import Final

from needlewright.bench.devices import Devices
from needlewright.bench.fallen import Fallen
from needlewright.bench.keeping import KeptRun
from needlewright.bench.settling import Settled
from needlewright.bench.steps import RunStep, step_words
from needlewright.errors import UnusableInput
from needlewright.readings.commands import Command as ToldDial
from needlewright.readings.join import join_run
from needlewright.readings.live import LiveReader
from needlewright.readings.model import PhotoReadings
from needlewright.readings.runs import RunRow
from needlewright.signals.model import Command

NOT_SETTLED: Final = "not_settled"
"""Flag of a needle that never came to stand at a step; such a row has no reading."""
Temperature = float | Callable[[], float] | None
"""Of the cluster; None: not known. What changes is asked for when a step is taken."""


class Looking:
    """Takes looks.

    Parameters
    ----------
    kept
        The run.
    devices
        Of the bench.
    reader
        Of the live picture.
    fallen
        Knows which needles followed before.
    temperature_c
        Of the cluster.
    """

    def __init__(
        self,
        kept: KeptRun,
        devices: Devices,
        reader: LiveReader,
        fallen: Fallen,
        temperature_c: Temperature,
    ) -> None:
        self._kept, self._devices, self._reader = kept, devices, reader
        self._fallen, self._temperature_c = fallen, temperature_c

    def take(
        self, step: RunStep, commands: list[Command], settled: Settled, key_ons: int
    ) -> tuple[tuple[RunRow, ...], PhotoReadings]:
        """Read the needles of a step, which stand.

        Parameters
        ----------
        step
            The step.
        commands
            What its dials are told.
        settled
            Which needles stand.
        key_ons
            Key-ons so far.

        Returns
        -------
        tuple
            The step's rows; and what was read, with its components.

        Raises
        ------
        UnusableInput
            If no needle came to stand.
        TransportError
            If the needles hear nothing any more.
        """
        words = step_words(step, self._kept.family)
        if not settled.standing:
            dials = ", ".join(sorted(settled.hunting))
            raise UnusableInput(
                f"no needle comes to stand ({dials}) at {words}: look at the cluster and its "
                "supply, then go on from the same check point"
            )
        path = self._kept.photo_path(step)
        taken = self._reader.take(settled.standing, str(path))
        photo = _without(taken.photo, settled.hunting)
        self._kept.keep_photo(step, taken.frame.pixels)
        told = self._told(step, commands, str(path), key_ons)
        rows = join_run(
            self._kept.state.run,
            self._kept.family,
            told,
            {str(path): photo},
            self._kept.path.parent,
        ).run.rows
        return self._fallen.judge(rows, words), photo

    def _told(
        self, step: RunStep, commands: list[Command], photo: str, key_ons: int
    ) -> list[ToldDial]:
        by_dial = {command.dial: command for command in commands}
        dials = [d for d in self._kept.family.dials if d.id in step.told or not step.told]
        told_c = self._temperature_c
        degc = told_c() if callable(told_c) else told_c
        now, supply_v = datetime.now(UTC).isoformat(timespec="seconds"), self._devices.supply_v()
        return [
            ToldDial(
                photo=photo,
                dial=dial.id,
                unit=dial.unit,
                approach=step.approach,
                step=step.number,
                commanded=by_dial[dial.id].value if step.told else None,
                temperature_c=degc,
                u_commanded=by_dial[dial.id].u_value if step.told else None,
                key_cycle=key_ons,
                supply_v=supply_v,
                time=now,
            )
            for dial in dials
        ]


def _without(photo: PhotoReadings, hunting: frozenset[str]) -> PhotoReadings:
    """A needle that hunts is not read, whatever one frame shows of it."""
    readings = tuple(
        replace(
            one,
            status="refused",
            reason=NOT_SETTLED,
            angle_deg=None,
            u_angle_deg=None,
            value=None,
            u_value=None,
            flags=(),
            components_deg=(),
        )
        if one.dial in hunting
        else one
        for one in photo.readings
    )
    return replace(photo, readings=readings)
