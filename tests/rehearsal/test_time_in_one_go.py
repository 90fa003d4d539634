"""Time that passes in one go leaves a simulated cluster as slice by slice does, to the bit."""

from collections.abc import Callable
from pathlib import Path

import can
import numpy as np
import pytest

import needlewright
from needlewright.bench.lamp_check import lamp_commands
from needlewright.families.folder import load_family
from needlewright.families.lamps import lamp_groups
from needlewright.rehearsal.cluster.faults import parse_fault
from needlewright.rehearsal.cluster.rehearsal import Rehearsal, Unit
from needlewright.rehearsal.movement.faults import SOUND, MovementFaults
from needlewright.rehearsal.movement.injected import fault_of
from needlewright.rehearsal.movement.stepper import Stepper
from needlewright.rehearsal.warming import WarmingRehearsal
from needlewright.signals.settings import BusSettings
from needlewright.signals.transports.adapter import open_adapter
from needlewright.signals.wiring import signals_of

FAMILY = load_family(Path(needlewright.__file__).parent / "demo_data" / "family")


@pytest.mark.parametrize(
    "faults",
    [SOUND, fault_of("dragging", 0.4), fault_of("backlash", 1.2), fault_of("stalled", 20.0)],
    ids=("sound", "dragging", "backlash", "stalled"),
)
def test_a_movement_at_rest_is_carried_on_as_if_every_tick_were_worked_out(faults: MovementFaults):
    at_once, tick_by_tick = Stepper(faults=faults), Stepper(faults=faults)
    for one in (at_once, tick_by_tick):
        one.key_on()
    for target_deg, ticks in ((100.0, 900), (57.77, 600), (0.0, 500)):
        whole = at_once.follow(np.full(ticks, target_deg))
        # a call of one tick has no tick after it that could be left out
        each = [tick_by_tick.follow(np.full(1, target_deg)) for _ in range(ticks)]
        assert np.array_equal(whole.needle_deg, [run.needle_deg[0] for run in each])
        assert np.array_equal(whole.driver_deg, [run.driver_deg[0] for run in each])
        assert at_once.state.tobytes() == tick_by_tick.state.tobytes(), "energies too"


def lived_through(rehearsal: Rehearsal) -> list[object]:
    """What is seen of a cluster that is told, left alone, told in small steps and forgotten."""
    seen: list[object] = []

    def wait(*seconds: float) -> None:
        for one in seconds:
            rehearsal.pass_time(one)
            cluster, bus = rehearsal.cluster, rehearsal.bus.status
            angles = tuple(cluster.angles_deg().values())
            lit = tuple(cluster.lit().items())
            seen.append(
                (cluster.now_s, angles, lit, cluster.current_a(13.5), bus.sent, bus.received)
            )

    groups = lamp_groups((*FAMILY.lamps, *FAMILY.tell_tales))
    lamps = [command for group in groups for command in lamp_commands(group)]

    def told(share: float) -> list:
        signals = signals_of(rehearsal.family)
        return [
            signals[d.id].command(d.scale.values[0] + share * d.scale.span) for d in FAMILY.dials
        ]

    with rehearsal.transport as transport:
        rehearsal.key(on=True)
        wait(0.1, 1.0, 3.0)
        transport.apply(*told(0.55), *lamps)
        wait(0.04, 0.5, 1.23, 2.0)
        for step in range(6):
            transport.apply(*told(0.5 + 0.02 * step))
            wait(0.04)
        transport.stop()
        wait(0.95, 2.0, 5.5)
        rehearsal.key(on=False)
        wait(0.4, 1.0)
    return seen


def another_adapter(settings: BusSettings) -> can.BusABC:
    """One that may go down at any time, for all that is known, so each slice passes by itself."""
    return open_adapter(settings)


@pytest.mark.parametrize("degc_at", [None, lambda s: 23.0 - 2.0 * (s > 5.0)], ids=("room", "cold"))
def test_a_cluster_is_left_alone_in_one_go(degc_at: Callable[[float], float] | None):
    unit = Unit((parse_fault("engine:backlash=1.6", FAMILY),), seed=3)
    runs = []
    for opened_by in (open_adapter, another_adapter):
        rehearsal = WarmingRehearsal(FAMILY, unit, size_px=(48, 32), opened_by=opened_by)
        if degc_at is not None:
            rehearsal.warm_by(degc_at)
        try:
            runs.append(lived_through(rehearsal))
        finally:
            rehearsal.close()
    assert runs[0] == runs[1]
    assert max(angles[0] for _, angles, *_ in runs[0]) > min(a[0] for _, a, *_ in runs[0]) + 90.0
