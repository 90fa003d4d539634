"""A temperature series as JSON, and as a table."""

from collections.abc import Callable
from dataclasses import asdict
from typing import Any

from rich.table import Table

from needlewright.bench.series import KeptSeries
from needlewright.bench.series_state import StepTemperature
from needlewright.bench.soak import COVERAGE_K, Conditions, cautions, opened_after_s
from needlewright.bench.stays import Cooling
from needlewright.composing.cold_series import cold_document
from needlewright.composing.series_summary import TemperatureSummary
from needlewright.composing.sweeps import event_words
from needlewright.findings.cold.judged import ColdFinding
from needlewright.findings.event import Event

TrueDegc = Callable[[StepTemperature], float | None]


def conditions_document(conditions: Conditions) -> dict[str, Any]:
    """What is known of the cold beforehand."""
    tau = conditions.time_constant
    return {
        "way": conditions.way,
        "room_c": conditions.room.value,
        "u_room_c": conditions.room.u,
        "freezer_c": conditions.cold.value if conditions.way == "freezer-bag" else None,
        "u_cold_c": conditions.cold.u,
        "humidity": conditions.humidity,
        "dew_point_c": round(conditions.dew_point_degc, 2),
        "time_constant_min": round(tau.seconds.value / 60.0, 3),
        "u_time_constant_min": round(tau.seconds.u / 60.0, 3),
        "time_constant_source": tau.source,
        "u_place_c": conditions.place_u_degc,
        "within_c": conditions.within_degc,
        "cautions": list(cautions(conditions.way)),
    }


def protocol_document(cooling: Cooling) -> dict[str, Any]:
    """How a cluster is brought to one temperature."""
    conditions, there = cooling.conditions, cooling.stay.at(cooling.begins_s)
    bag = conditions.way == "freezer-bag"
    opened_s = opened_after_s(cooling.stay, conditions.dew_point_degc) if bag else None
    return {
        "at_c": cooling.degc,
        "soak_min": cooling.soak_min,
        "read_after_min": round(cooling.begins_s / 60.0, 2),
        "temperature_c": round(there.degc, 2),
        "u_temperature_c": round(there.u_degc, 2),
        "parts_c": {name: round(part, 2) + 0.0 for name, part in there.parts_degc},
        "warms_c_per_min": round(cooling.warms_degc_min, 3) if bag else 0.0,
        "opened_after_min": None if opened_s is None else round(opened_s / 60.0, 1),
        "words": cooling.words(),
    }


def protocol_table(coolings: list[Cooling]) -> Table:
    """One stay after the freezer, for people: when it is read, how warm it is by then."""
    table = Table(box=None, padding=(0, 2, 0, 0))
    for heading in ("asked, degC", "read after, min", "is, degC", "±", "warms, degC a minute"):
        table.add_column(heading, justify="right")
    for each in coolings:
        there = each.stay.at(each.begins_s)
        table.add_row(
            f"{each.degc:g}",
            f"{each.begins_s / 60:.1f}",
            f"{there.degc:.1f}",
            f"{COVERAGE_K * there.u_degc:.1f}",
            f"{each.warms_degc_min:.1f}",
        )
    return table


def series_document(
    kept: KeptSeries,
    summed: tuple[TemperatureSummary, ...],
    cold: tuple[ColdFinding, ...],
    true_degc: TrueDegc,
) -> dict[str, Any]:
    """Every temperature with its steps, and where the cold begins."""
    state = kept.state
    return {
        "folder": str(kept.folder),
        "family": state.family,
        "cluster": state.cluster,
        "which": state.which,
        "way": state.way,
        "time_constant_source": state.time_constant_source,
        "stays": [stay.model_dump() for stay in state.stays],
        "temperatures": [_temperature(one, true_degc) for one in summed],
        "cold": [cold_document(one) for one in cold],
    }


def _temperature(one: TemperatureSummary, true_degc: TrueDegc) -> dict[str, Any]:
    return {
        "at_c": one.at.at_c,
        "run": one.at.run,
        "state": one.at.state,
        "rows": one.rows,
        "coldest_c": one.coldest_c,
        "warmest_c": one.warmest_c,
        "u_temperature_c": one.u_c,
        "steps": [
            {"step": step, **each.model_dump(), "true_temperature_c": true_degc(each)}
            for step, each in sorted(one.at.steps.items())
        ],
        "largest_errors": [
            {
                "dial": each.dial,
                "read": each.read,
                "error_deg": None if each.error_deg is None else round(each.error_deg, 4),
                "commanded": each.commanded,
            }
            for each in one.errors
        ],
        "sweep_events": [asdict(event) for event in one.events],
    }


def series_table(summed: tuple[TemperatureSummary, ...]) -> Table:
    """For people: how warm each run was, and how far each needle was off at most."""
    dials = list(dict.fromkeys(each.dial for one in summed for each in one.errors))
    table = Table(box=None, padding=(0, 2, 0, 0))
    for heading in ("asked, degC", "was, degC", "±", "rows", *(f"{d}, deg" for d in dials)):
        table.add_column(heading, justify="right")
    for one in summed:
        errors = {each.dial: each.error_deg for each in one.errors}
        table.add_row(
            f"{one.at.at_c:g}",
            _span(one),
            "" if one.u_c is None else f"{COVERAGE_K * one.u_c:.1f}",
            str(one.rows) if one.at.state == "finished" else f"{one.rows}, {one.at.state}",
            *(_error(errors.get(dial)) for dial in dials),
        )
    return table


def event_lines(summed: tuple[TemperatureSummary, ...]) -> list[str]:
    """What went wrong in the sweeps, for people; nothing where none was taken."""
    return [
        f"sweep at {one.at.at_c:g} °C, {event.t_s:.2f} s  {event.dial}: "
        f"{event_words(Event(**asdict(event)))} (± {COVERAGE_K * event.u_size_deg:.2f}°, k = 2)"
        for one in summed
        for event in one.events
    ]


def cold_lines(cold: tuple[ColdFinding, ...]) -> list[str]:
    """Where the cold begins for each dial, for people, with the warnings of winter."""
    return [
        line
        for one in cold
        for line in (one.words, None if one.winter_words is None else f"WARNING {one.winter_words}")
        if line is not None
    ]


def _span(one: TemperatureSummary) -> str:
    if one.coldest_c is None or one.warmest_c is None:
        return ""
    return f"{one.coldest_c:.1f} to {one.warmest_c:.1f}"


def _error(error_deg: float | None) -> str:
    return "" if error_deg is None else f"{error_deg:+.2f}"
