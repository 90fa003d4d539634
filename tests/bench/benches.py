"""A small bench for tests: an invented cluster with few points, let loose."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path

import needlewright
from needlewright.bench.devices import Devices, Wishes
from needlewright.bench.keeping import KeptRun, begin
from needlewright.bench.run import BenchRun, Listeners, Progress
from needlewright.bench.steps import RunPlan, plan_run, with_checks
from needlewright.families.folder import load_family
from needlewright.families.model import Family
from needlewright.readings.runs import RunRow
from needlewright.rehearsal.cluster.faults import parse_fault
from needlewright.rehearsal.cluster.rehearsal import Rehearsal, Unit
from needlewright.signals.transports.transport import Transport

WHOLE = load_family(Path(needlewright.__file__).parent / "demo_data" / "family")
DIALS = ("engine", "speed")
FAMILY: Family = replace(WHOLE, dials=tuple(d for d in WHOLE.dials if d.id in DIALS))
SIZE_PX = (640, 426)
VALUES = {"engine": (1.0, 3.0, 5.0, 7.0), "speed": (20.0, 80.0, 140.0, 200.0)}


def short_plan(*, points: int = 2, key_ons: Sequence[int] = ()) -> RunPlan:
    """A few points each way."""
    return plan_run({dial: one[:points] for dial, one in VALUES.items()}, key_ons)


@dataclass
class Heard:
    """What a run told its listeners."""

    on_row: Callable[[], None] = lambda: None
    """Called after each step that is kept."""
    progress: list[Progress] = field(default_factory=list)
    rows: list[tuple[RunRow, ...]] = field(default_factory=list)

    @property
    def listeners(self) -> Listeners:
        return Listeners(progress=self.progress.append, row=self._take)

    def _take(self, rows: tuple[RunRow, ...]) -> None:
        self.rows.append(rows)
        self.on_row()


@contextmanager
def rehearsal_of(*faults: str, seed: int = 5, **options: object) -> Iterator[Rehearsal]:
    unit = Unit(tuple(parse_fault(text, FAMILY) for text in faults), seed=seed)
    rehearsal = Rehearsal(FAMILY, unit, size_px=SIZE_PX, **options)  # type: ignore[arg-type]
    try:
        yield rehearsal
    finally:
        rehearsal.close()


def devices_of(rehearsal: Rehearsal, transport: Transport | None = None) -> Devices:
    return Devices(
        transport or rehearsal.transport,
        rehearsal.camera,
        rehearsal.key,
        rehearsal.pass_time,
        bus=lambda: rehearsal.bus.status,
    )


def kept_in(folder: Path, plan: RunPlan) -> KeptRun:
    return begin(folder / "as-found.csv", FAMILY, plan)


def run_of(
    kept: KeptRun,
    devices: Devices,
    heard: Heard | None = None,
    wishes: Wishes | None = None,
) -> BenchRun:
    return BenchRun(
        kept,
        devices,
        temperature_c=23.0,
        wishes=wishes,
        listeners=(heard or Heard()).listeners,
    )


def errors_deg(rows: Sequence[RunRow], dial_id: str) -> list[tuple[RunRow, float]]:
    """Angle less the programme's angle, of the rows that were read."""
    dial = FAMILY.dial(dial_id)
    assert dial is not None
    return [
        (row, row.angle_deg - dial.programme_angle_deg(row.commanded))
        for row in rows
        if row.dial == dial_id and row.commanded is not None and row.angle_deg is not None
    ]


def whole_devices_of(rehearsal: Rehearsal, transport: Transport | None = None) -> Devices:
    """With a supply that says what is drawn, a fast camera, a person at the lamps."""
    return replace(
        devices_of(rehearsal, transport),
        supply_v=rehearsal.supply_v,
        supply_a=rehearsal.supply_a,
        film=rehearsal.filming(25.0),
        darken=rehearsal.darken,
        light=rehearsal.light,
    )


def kept_after_looks(
    folder: Path, *, sweep: bool = True, lamps: bool = True, points: int = 1
) -> KeptRun:
    """A run whose looks are done, as if every needle had followed."""
    looks = short_plan(points=points)
    kept = begin(
        folder / "as-found.csv", FAMILY, with_checks(looks, FAMILY, sweep=sweep, lamps=lamps)
    )
    for step in looks.steps:
        rows = tuple(
            RunRow(
                "as-found",
                dial.id,
                dial.unit,
                step.approach,
                step.told[dial.id],
                angle_deg=dial.programme_angle_deg(step.told[dial.id]),
                u_angle_deg=0.05,
                step=step.number,
            )
            for dial in FAMILY.dials
        )
        kept.keep_step(rows, None, step.number + 1, 1)
    return kept
