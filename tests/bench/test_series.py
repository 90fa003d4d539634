"""A temperature series on a rehearsed cluster that really warms while it is read."""

import json
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import pytest
from pydantic import TypeAdapter

from bench.benches import FAMILY as TWO_DIALS
from bench.benches import SIZE_PX
from bench.cold import BAG as COLD_BAG
from needlewright.bench.checks import Checks
from needlewright.bench.devices import Wishes
from needlewright.bench.keeping import outcome_path
from needlewright.bench.outcome import Outcome, Sweep, SweepEvent, SweepFound
from needlewright.bench.run import Listeners
from needlewright.bench.series import KeptSeries, begin_series, open_series
from needlewright.bench.series_run import SeriesEnded, SeriesRun, Told, keep_corrected
from needlewright.bench.series_state import TypedReading, fresh_series
from needlewright.bench.soak import Conditions, TimeConstant, in_order
from needlewright.bench.steps import plan_run, with_checks
from needlewright.bench.warming import Known
from needlewright.cli.temperature_documents import event_lines
from needlewright.composing.bench_devices import opened
from needlewright.composing.rehearsed_series import RehearsedAttendant
from needlewright.composing.series_summary import summaries
from needlewright.errors import RunError
from needlewright.readings.run_csv import read_run
from needlewright.rehearsal.cluster.faults import parse_fault
from needlewright.rehearsal.cluster.rehearsal import Unit
from needlewright.rehearsal.warming import WarmingRehearsal

FAMILY = replace(TWO_DIALS, dials=tuple(d for d in TWO_DIALS.dials if d.id == "engine"))
COLD = "engine:cold_stall=-8"
BAG = replace(COLD_BAG, place_u_degc=0.5)
COVERAGE_K = 3.0


def series_in(folder: Path, at: tuple[float, ...], conditions: Conditions = BAG) -> KeptSeries:
    return begin_series(
        folder,
        fresh_series(
            family=FAMILY.name,
            cluster="rehearsed",
            which="as-found",
            way=conditions.way,
            at=in_order(at, conditions.way),
            time_constant_source=conditions.time_constant.source,
            clock_s=0.0,
        ),
    )


class Bench:
    """A rehearsed bench, its attendant, and a series on it."""

    def __init__(self, rehearsal: WarmingRehearsal, attendant: RehearsedAttendant, devices) -> None:
        self.rehearsal, self.attendant, self.devices = rehearsal, attendant, devices
        self.degc: list[float] = []
        self.wishes = Wishes()

    def go(
        self,
        kept: KeptSeries,
        conditions: Conditions = BAG,
        *,
        values: tuple[float, ...] = (3.0,),
        key_ons: tuple[int, ...] = (),
        sweep: bool = False,
        on_row=lambda rows: None,
    ) -> SeriesEnded:
        series = SeriesRun(
            kept,
            FAMILY,
            lambda place: with_checks(
                plan_run({"engine": values}, key_ons), FAMILY, sweep=sweep, lamps=False
            ),
            conditions=conditions,
            devices=self.devices,
            attendant=self.attendant,
            wishes=self.wishes,
            told=Told(lambda place, degc, done, of: self.degc.append(degc), Listeners(row=on_row)),
        )
        return series.go()


@contextmanager
def bench_of(kept: KeptSeries, *faults: str, seed: int = 4, reads: bool = False) -> Iterator[Bench]:
    unit = Unit(tuple(parse_fault(text, FAMILY) for text in faults), seed=seed)
    rehearsal = WarmingRehearsal(FAMILY, unit, begun_s=kept.state.clock_s, size_px=SIZE_PX)
    with opened(rehearsal) as devices:
        yield Bench(rehearsal, RehearsedAttendant(rehearsal, seed, reads=reads), devices)


def test_a_cold_stall_shows_below_its_temperature_and_not_above(tmp_path: Path):
    kept = series_in(tmp_path / "cold", (-16.0, 0.0))
    with bench_of(kept, COLD, reads=True) as bench:
        ended = bench.go(kept, values=(6.5,))
        truth = {
            at.at_c: [
                (one, bench.attendant.true_degc(one.stay, one.seconds)) for one in at.steps.values()
            ]
            for at in kept.state.temperatures
        }
    assert (ended.state, ended.words) == ("finished", "every temperature was taken")
    engine = FAMILY.dial("engine")
    assert engine is not None
    off = {}
    for place, at in enumerate(kept.state.temperatures):
        run = read_run(kept.run_path(place))
        assert [row.temperature_c for row in run.rows] == [
            at.steps[row.step or 0].temperature_c for row in run.rows
        ]
        off[at.at_c] = max(
            abs((row.angle_deg or 0.0) - engine.programme_angle_deg(row.commanded or 0.0))
            for row in run.rows
        )
        assert at.state == "finished"
    assert off[-16.0] > engine.movement.cycle_deg / 2
    assert off[0.0] < 0.6
    # how warm it really was is within what the series says of it, and it warmed while it was read
    for ((said, true_degc),) in truth.values():
        assert abs(true_degc - said.temperature_c) < COVERAGE_K * said.u_temperature_c
        assert 0.5 < said.u_temperature_c < 2.5
    assert len(kept.state.stays) == 1
    assert len(kept.state.stays[0].readings) == 2
    assert bench.degc[0] == pytest.approx(-17.0, abs=0.3)  # begun a third of 3 degC below
    document = json.loads((tmp_path / "cold" / "series.json").read_text("utf-8"))
    assert [one["run"] for one in document["temperatures"]] == ["at-minus-16.csv", "at-0.csv"]


def test_it_goes_on_at_the_same_step_of_the_same_temperature(tmp_path: Path):
    kept = series_in(tmp_path / "cold", (-10.0,))
    with bench_of(kept) as bench:
        ended = bench.go(kept, key_ons=(1,), on_row=lambda rows: bench.wishes.want("stop"))
    assert ended.state == "stopped"
    assert ended.words == "stopped by the person at the bench (at -10 degC)"
    assert [one.state for one in kept.state.temperatures] == ["begun"]
    again = series_in(tmp_path / "cold", (-10.0,))
    assert again.state == kept.state
    with bench_of(again) as bench:
        assert bench.attendant.now_s() == again.state.clock_s
        ended = bench.go(again, key_ons=(1,))
    assert ended.state == "finished"
    run = read_run(again.run_path(0))
    assert [(row.step, row.approach) for row in run.rows] == [(0, "rest"), (1, "up")]
    # still the same stay: it had not warmed too far meanwhile
    assert len(again.state.stays) == 1
    first, second = (row.temperature_c or 0.0 for row in run.rows)
    assert -11.5 < first < second < -7.0  # it had gone on warming
    with pytest.raises(RunError, match="the series is finished; name another folder"):
        series_in(tmp_path / "cold", (-10.0,))


def test_ctrl_c_in_a_run_of_a_series_leaves_the_cluster_off(tmp_path: Path):
    kept = series_in(tmp_path / "cold", (23.0,))

    def ctrl_c(rows: object) -> None:
        raise KeyboardInterrupt

    with bench_of(kept) as bench:
        ended = bench.go(kept, on_row=ctrl_c)
        assert bench.rehearsal.cluster.key is False
        assert dict(bench.devices.transport.on_wires) == {}
    assert (ended.state, ended.words) == (
        "stopped",
        "stopped by the person at the bench (at 23 degC)",
    )


def test_a_cluster_that_warms_too_far_is_cooled_again_in_between(tmp_path: Path):
    quick = replace(BAG, time_constant=TimeConstant(Known(25.0, 1.0), "stated"))
    kept = series_in(tmp_path / "cold", (-20.0,), quick)
    with bench_of(kept) as bench:
        ended = bench.go(kept, quick, key_ons=(1,))
    assert ended.state == "finished"
    (at,) = kept.state.temperatures
    assert len(kept.state.stays) > 1
    assert sorted(at.steps) == [0, 1]
    assert len({one.stay for one in at.steps.values()}) > 1
    # begun within 3 degC of -20; while a needle settles it warms on, and the row says so
    assert min(one.temperature_c for one in at.steps.values()) > -24.0
    assert max(one.temperature_c for one in at.steps.values()) < -8.0


def test_a_chamber_is_waited_for_and_keeps_its_temperature(tmp_path: Path, monkeypatch):
    def swept(checks, step, done, told) -> str:
        del told
        checks._kept.keep_check(None, done, step.key_ons)
        return "settled"

    monkeypatch.setattr(Checks, "sweep", swept)  # the film itself is not what is tried here
    chamber = replace(BAG, way="chamber", cold=Known(-25.0, 0.5))
    kept = series_in(tmp_path / "cold", (-15.0,), chamber)
    with bench_of(kept) as bench:
        ended = bench.go(kept, chamber, sweep=True)
    assert ended.state == "finished"
    steps = kept.state.temperatures[0].steps
    assert sorted(steps) == [0, 1]  # the look, and the sweep at its beginning
    assert steps[1].seconds >= steps[0].seconds
    step = steps[0]
    assert step.temperature_c == pytest.approx(-15.0, abs=1.0)
    assert step.seconds >= 60.0 * chamber.soak_min(-15.0, chamber.room)
    assert step.u_temperature_c == pytest.approx(0.71, abs=0.15)


def test_what_went_wrong_in_the_sweeps_is_summed_up_by_temperature(tmp_path: Path):
    kept = series_in(tmp_path, (-10.0, 0.0))
    lost = SweepEvent(2.5, "engine", "lost_steps", -4.0, 0.1)
    found = Sweep("at-minus-10-sweep.mp4", 9.8, 246, ("engine",), (), SweepFound((lost,)))
    path = outcome_path(kept.run_path(0))
    path.write_bytes(TypeAdapter(Outcome).dump_json(Outcome(sweep=found)))
    cold, warm = summaries(kept, FAMILY)
    assert (cold.at.at_c, cold.rows, cold.events) == (-10.0, 0, (lost,))
    assert (warm.at.at_c, warm.events) == (0.0, ())
    assert event_lines((cold, warm)) == [
        "sweep at -10 °C, 2.50 s  engine: lost steps, 4.0° too far anticlockwise since "
        "(± 0.20°, k = 2)"
    ]
    path.write_text("{", encoding="utf-8")
    with pytest.raises(RunError, match=r"at-minus-10.outcome.json: cannot be read; the run"):
        summaries(kept, FAMILY)


def test_a_reading_typed_later_corrects_the_finished_runs(tmp_path: Path):
    kept = series_in(tmp_path / "cold", (0.0,))
    with bench_of(kept) as bench:
        assert bench.go(kept).state == "finished"
    kept = open_series(tmp_path / "cold")
    before = kept.state.temperatures[0].steps[0]
    reading = TypedReading(seconds=before.seconds, degc=before.temperature_c + 1.5, u_degc=0.5)
    (stay,) = kept.state.stays
    kept.keep(
        kept.state.model_copy(update={"stays": (stay.model_copy(update={"readings": (reading,)}),)})
    )
    assert keep_corrected(kept) == ("at-0.csv",)
    after = open_series(tmp_path / "cold").state.temperatures[0].steps[0]
    assert before.temperature_c + 1.0 < after.temperature_c < before.temperature_c + 1.5
    assert after.u_temperature_c < before.u_temperature_c
    (row,) = read_run(kept.run_path(0)).rows
    assert row.temperature_c == after.temperature_c
    assert keep_corrected(kept) == ()


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"cluster": "bench"}, r"a series of another cluster \('rehearsed', now 'bench'\)"),
        ({"way": "chamber"}, "a series of another way of cooling"),
        ({"at": (0.0, 5.0)}, r"other temperatures \('0 degC', now '0, 5 degC'\)"),
    ],
)
def test_another_series_is_not_gone_on_with(tmp_path: Path, change, words: str):
    asked = {"cluster": "rehearsed", "way": "freezer-bag", "at": (0.0,), **change}
    kept = series_in(tmp_path, (0.0,))
    kept.keep(kept.state)
    with pytest.raises(RunError, match=words):
        begin_series(
            tmp_path,
            fresh_series(
                family=FAMILY.name,
                which="as-found",
                time_constant_source="stated",
                clock_s=0.0,
                **asked,
            ),
        )


def test_a_damaged_series_and_a_full_folder_are_refused(tmp_path: Path):
    with pytest.raises(RunError, match=r"series.json: cannot be opened \(No such file"):
        open_series(tmp_path)
    (tmp_path / "series.json").write_text('{"family": "x"}', encoding="utf-8")
    with pytest.raises(RunError, match=r"series.json: is damaged; put it back from a backup"):
        open_series(tmp_path)
    (tmp_path / "series.json").rename(tmp_path / "other.txt")
    with pytest.raises(RunError, match="is no empty folder; name a new one"):
        series_in(tmp_path, (0.0,))
    with pytest.raises(RunError, match="there is no folder"):
        series_in(tmp_path / "no" / "where", (0.0,))
