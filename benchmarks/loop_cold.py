"""A cold stall in the whole loop: a temperature series, and the bracket it leaves.

The simulated cluster warms while it is read; how warm it truly is differs by chance from what the
series works out, as far as the series says it may. Between the warmest run that lost steps and the
coldest that did not lies the temperature looked for.
"""

import tempfile
import time
from dataclasses import dataclass
from math import hypot, sqrt
from pathlib import Path
from typing import Final

from needlewright.bench.series import KeptSeries, begin_series
from needlewright.bench.series_run import SeriesRun
from needlewright.bench.series_state import fresh_series
from needlewright.bench.soak import Conditions, TimeConstant, in_order
from needlewright.bench.steps import RunPlan
from needlewright.bench.warming import Known
from needlewright.composing.bench_devices import opened
from needlewright.composing.rehearsed_series import RehearsedAttendant
from needlewright.families.model import Dial
from needlewright.readings.run_csv import read_run
from needlewright.rehearsal.cluster.rehearsal import Unit
from needlewright.rehearsal.warming import WarmingRehearsal

BAG: Final = Conditions(
    way="freezer-bag",
    room=Known(21.0, 0.5),
    cold=Known(-25.0, 0.7),
    humidity=0.5,
    time_constant=TimeConstant(Known(900.0, 90.0), "stated"),
    place_u_degc=0.5,
    within_degc=3.0,
)
AT_DEGC: Final = (-17.0, -14.0, -11.0, -8.0, -5.0, -2.0)


@dataclass(frozen=True, slots=True)
class Bracket:
    """Where steps are lost and where they are not any more."""

    lost_c: float | None
    """Warmest temperature of a run that lost steps; None: none did."""
    sound_c: float | None
    """Coldest temperature of one that did not; None: all did."""
    u_c: float
    """Standard uncertainty of the two temperatures."""

    @property
    def measured(self) -> tuple[float, float]:
        """The middle, and its standard uncertainty: anywhere between is as probable."""
        if self.lost_c is None or self.sound_c is None or self.lost_c > self.sound_c:
            raise SystemExit(f"the series leaves no bracket: {self}")
        half = (self.sound_c - self.lost_c) / 2.0
        return self.lost_c + half, hypot(half / sqrt(3.0), self.u_c)


def take_series(dial: Dial, plan: RunPlan, unit: Unit, rehearsal: WarmingRehearsal) -> Bracket:
    """A series on a rehearsed cluster, and what it leaves of a dial."""
    with tempfile.TemporaryDirectory() as folder, opened(rehearsal) as devices:
        kept = begin_series(
            Path(folder) / "cold",
            fresh_series(
                family=rehearsal.family.name,
                cluster="rehearsed",
                which="as-found",
                way=BAG.way,
                at=in_order(AT_DEGC, BAG.way),
                time_constant_source=BAG.time_constant.source,
                clock_s=0.0,
            ),
        )
        series = SeriesRun(
            kept,
            rehearsal.family,
            lambda place: plan,
            conditions=BAG,
            devices=devices,
            attendant=RehearsedAttendant(rehearsal, unit.seed, reads=True),
        )
        ended = series.go()
        if ended.state != "finished":
            raise SystemExit(f"{unit.injected}: {ended.state}: {ended.words}")
        return bracket_of(kept, dial)


def bracket_of(kept: KeptSeries, dial: Dial) -> Bracket:
    """Sort a series' runs by whether the dial lost steps in them."""
    lost: list[float] = []
    sound: list[float] = []
    u_c = 0.0
    for place, at in enumerate(kept.state.temperatures):
        rows = read_run(kept.run_path(place)).of_dial(dial.id)
        worst = max(
            rows,
            key=lambda row: abs(
                (row.angle_deg or 0.0) - dial.programme_angle_deg(row.commanded or 0.0)
            ),
        )
        off_deg = (worst.angle_deg or 0.0) - dial.programme_angle_deg(worst.commanded or 0.0)
        (lost if abs(off_deg) > dial.movement.cycle_deg / 2 else sound).append(
            worst.temperature_c or 0.0
        )
        u_c = max(u_c, *(one.u_temperature_c for one in at.steps.values()))
    return Bracket(max(lost, default=None), min(sound, default=None), u_c)


def timed_series(
    dial: Dial, plan: RunPlan, unit: Unit, rehearsal: WarmingRehearsal
) -> tuple[float, float, float]:
    """The size a series measures, its standard uncertainty, and how long it took, seconds."""
    began_s = time.perf_counter()
    size, u = take_series(dial, plan, unit, rehearsal).measured
    return size, u, time.perf_counter() - began_s
