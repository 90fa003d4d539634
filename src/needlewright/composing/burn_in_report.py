"""What a burn-in's journal says, as one document: counts, events, drift, and both statements."""

from collections.abc import Mapping
from typing import Any, Final

from needlewright.bench.burn_in.acts import SWEEP_WORDS
from needlewright.bench.burn_in.journal import (
    Ended,
    GoneOn,
    Happened,
    Journal,
    Looked,
)
from needlewright.composing.burn_in_first import differing_points, first_rows, points_off
from needlewright.composing.burn_in_lamps import lamps_document
from needlewright.composing.burn_in_statements import (
    REHEARSED,
    Beforehand,
    beforehand_document,
    is_too_short,
    shown_document,
)
from needlewright.families.model import Family
from needlewright.findings.drift import Drift, LookAgain, drift_of, fewest_looks
from needlewright.papers.drift_lines import DriftChart, DriftLine
from needlewright.papers.wording import count_words, hours_words, id_words
from needlewright.plans.burn_in.early import Clock
from needlewright.rules.decision import COVERAGE_K
from needlewright.units import unit_for_people

FAILURES: Final[Mapping[str, Clock]] = {
    "reset": "hours",
    "lamp_out": "hours",
    "lamp_flickers": "hours",
    "over_current": "hours",
    "needle_moved": "sweeps",
    "not_settled": "sweeps",
    **dict.fromkeys(SWEEP_WORDS, "sweeps"),
}
"""Events that are failures of a part, by the clock it fails by; the others are remarks."""
NAMES: Final[Mapping[str, str]] = {
    "lost_steps": "slip",
    "stalled": "stall",
    "blocked": "stuck",
    "dragging": "drag",
    "backlash": "play",
    "needle_moved": "needle moved",
    "not_settled": "needle hunts",
    "reset": "reset",
    "lamp_out": "lamp out",
    "lamp_flickers": "lamp flickers",
    "over_current": "over-current",
    "shifted": "reads otherwise",
    "current_jump": "current jump",
    "device": "a device ended the run",
    "not_followed": "sweep not followed",
    "not_read": "check point not read",
}


def report_document(journal: Journal, family: Family, known: Beforehand) -> dict[str, Any]:
    """Everything a burn-in gave.

    Parameters
    ----------
    journal
        Of the burn-in.
    family
        The cluster design.
    known
        What was known beforehand.

    Returns
    -------
    dict
        As `docs/json/burn-in-report.schema.json` has it.
    """
    begun, counts = journal.begun, journal.counts
    events = [one for one in journal.lines if isinstance(one, Happened)]
    tallies = _tallies(events)
    failures: dict[Clock, int] = {"hours": 0, "sweeps": 0}
    for one in tallies:
        clock = FAILURES.get(one["what"])
        if clock is not None:
            failures[clock] += 1
    document: dict[str, Any] = {
        "family": begun.family,
        "unit": begun.unit,
        "cluster": begun.cluster,
        "rehearsed": journal.is_rehearsed,
        **_ending(journal),
        "hours": counts.hours,
        "of_hours": begun.plan.hours,
        "sweeps": counts.sweeps,
        "key_ons": counts.key_ons,
        "gone_on": sum(isinstance(one, GoneOn) for one in journal.lines),
        "lines_cut_off": sum(isinstance(one, GoneOn) and one.cut_off for one in journal.lines),
        "events": [_event(number, one) for number, one in enumerate(events, start=1)],
        "counts": tallies,
        "failures": failures,
        "first_failures": _first_failures(events),
        **lamps_document(journal, family),
        "left_run": None if known.left is None else {"name": known.left.name, "at": known.left.at},
        "from_start": first_rows(journal, family, known.left),
        "drift": drift_rows(journal, family),
        "beforehand": beforehand_document(known, counts, came_through=not any(failures.values())),
        "shown": shown_document(known, counts, failures, rehearsed=journal.is_rehearsed),
        "caution": REHEARSED if journal.is_rehearsed else "",
    }
    document["says_something"] = says_something(document)
    return {**document, "result": result_words(document)}


def says_something(document: Mapping[str, Any]) -> bool:
    """Whether a run without a failure says anything of its cluster.

    Parameters
    ----------
    document
        With `rehearsed` and `shown`.

    Returns
    -------
    bool
        False of a rehearsed one, and of one too short to bound how often it fails.
    """
    shown = next((one for one in document["shown"]["parts"] if one["clock"] == "hours"), None)
    if document["rehearsed"] or shown is None:
        return False
    return not is_too_short("hours", shown["least_mean_between"])


def result_words(document: Mapping[str, Any]) -> str:
    """What a burn-in gave, in one line.

    Parameters
    ----------
    document
        As `report_document` gives it.

    Returns
    -------
    str
        Such as `24 h, 288 sweeps, no event; at 95% it runs 8.01 h or more between failures`.
    """
    hours, of_hours = document["hours"], document["of_hours"]
    lived = hours_words(hours)
    if hours < of_hours:
        lived = f"{lived} of {hours_words(of_hours)}"
    events = len(document["events"])
    said = count_words(events, "event") if events else "no event"
    failures = sum(document["failures"].values())
    if failures:
        said += f", {count_words(failures, 'failure')}"
    drifting = sum(bool(row["drifts"]) for row in document["drift"])
    if drifting:
        said += f", {count_words(drifting, 'check point')} drifting"
    if differing := _dials_of(differing_points(document["from_start"])):
        said += f", {differing} otherwise from above than from below"
    if off := _dials_of(points_off(document["from_start"])):
        said += f", {off} off from the first look on"
    words = f"{lived}, {count_words(document['sweeps'], 'sweep')}, {said}"
    shown = next((one for one in document["shown"]["parts"] if one["clock"] == "hours"), None)
    if shown is None:
        return words
    mean = shown["least_mean_between"]
    if is_too_short("hours", mean):
        return f"{words}; too short to say how often it fails"
    confidence = document["shown"]["confidence"]
    return f"{words}; at {confidence:.0%} it runs {hours_words(mean)} or more between failures"


def _ending(journal: Journal) -> dict[str, Any]:
    last = journal.lines[-1]
    state, words = "under_way", "under way, or cut off; the same command goes on with it"
    if isinstance(last, Ended):
        state, words = str(last.state), last.words
    return {"state": state, "words": words, "begun": journal.begun.at, "last": last.at}


def _event(number: int, one: Happened) -> dict[str, Any]:
    return {
        "number": number,
        "at": one.at,
        "hours": one.counts.hours,
        "sweeps": one.counts.sweeps,
        "what": one.what,
        "where": one.where,
        "words": one.words,
        "size": one.size,
        "temperature_c": one.temperature_c,
        "pictures": list(one.pictures),
        "picture_s": list(one.picture_s),
    }


def _tallies(events: list[Happened]) -> list[dict[str, Any]]:
    """Events of one kind at one place are one failure, however often it shows."""
    found: dict[tuple[str, str], dict[str, Any]] = {}
    for one in events:
        tally = found.setdefault(
            (one.what, one.where),
            {
                "what": one.what,
                "name": NAMES.get(one.what, one.what),
                "where": one.where,
                "times": 0,
                "first_hours": one.counts.hours,
                "is_failure": one.what in FAILURES,
            },
        )
        tally["times"] += 1
        tally["last_hours"] = one.counts.hours
    return list(found.values())


def _first_failures(events: list[Happened]) -> dict[Clock, float]:
    """When the first failure of each clock came, on that clock; at least one sweep was begun."""
    found: dict[Clock, float] = {}
    for one in events:
        clock = FAILURES.get(one.what)
        if clock is not None and clock not in found:
            found[clock] = one.counts.hours if clock == "hours" else float(one.counts.sweeps or 1)
    return found


def looks_by_point(journal: Journal) -> dict[tuple[str, float], list[LookAgain]]:
    """The readings of each check point in time, of one way only: none is come to from above."""
    plan = journal.begun.plan
    above = plan.steps_from_above
    found: dict[tuple[str, float], list[LookAgain]] = {}
    for dial, values in plan.points.items():
        for value in values:
            found[dial, value] = []
    seen: set[tuple[str, float, int]] = set()
    for one in journal.lines:
        if isinstance(one, Looked) and one.angle_deg is not None:
            if (one.dial, one.step) in above:
                continue
            # a dial that waits at its last point is read there again, which is no look more
            place = (one.dial, one.value, one.visit)
            if place not in seen and place[:2] in found:
                look = LookAgain(one.counts.hours, one.angle_deg, one.temperature_c)
                found[place[:2]].append(look)
            seen.add(place)
    return found


def drift_rows(journal: Journal, family: Family) -> list[dict[str, Any]]:
    """The drift of every check point, for the document."""
    by_point = looks_by_point(journal)
    rows = []
    for (dial_id, value), looks in by_point.items():
        drift = drift_of(looks, len(by_point)) if looks else Drift(0, 0, 0.0)
        dial = family.dial(dial_id)
        unit = "" if dial is None else unit_for_people(dial.unit)
        rows.append(
            {
                "dial": dial_id,
                "value": value,
                "unit": unit,
                "looks": drift.looks,
                "left_out": drift.left_out,
                "hours": drift.hours,
                "rate_deg_h": drift.rate_deg_h,
                "u_rate_deg_h": drift.u_rate_deg_h,
                "change_deg": drift.change_deg,
                "u_change_deg": drift.u_change_deg,
                "scatter_deg": drift.scatter_deg,
                "p": drift.p,
                "drifts": drift.drifts,
                "words": _drift_words(drift, len(by_point)),
            }
        )
    return rows


def _dials_of(rows: list[dict[str, Any]]) -> str:
    return " and ".join(id_words(dial) for dial in dict.fromkeys(row["dial"] for row in rows))


def _drift_words(drift: Drift, points: int) -> str:
    if drift.change_deg is None or drift.u_change_deg is None:
        return f"{count_words(drift.looks, 'look')}: too few for a drift"
    expanded = COVERAGE_K * drift.u_change_deg
    by = f"{drift.change_deg:+z.3f} ± {expanded:.3f} deg in {hours_words(drift.hours)}"
    if drift.drifts is None:
        return f"{by}; a trend is told from {fewest_looks(points)} looks on, here are {drift.looks}"
    return f"{by}; {'DRIFTS' if drift.drifts else 'no trend'} (p {drift.p:.2g})"


def drift_charts(
    journal: Journal, family: Family, document: Mapping[str, Any]
) -> tuple[DriftChart, ...]:
    """The drift drawn, dial by dial.

    Parameters
    ----------
    journal
        Of the burn-in.
    family
        The cluster design.
    document
        As `report_document` gives it.

    Returns
    -------
    tuple of DriftChart
        Dials that were read.
    """
    by_point = looks_by_point(journal)
    rows = {(row["dial"], row["value"]): row for row in document["drift"]}
    charts = []
    for dial in family.dials:
        lines = tuple(
            DriftLine(
                f"{value:g} {unit_for_people(dial.unit)}",
                tuple((one.hours, one.angle_deg - looks[0].angle_deg) for one in looks),
            )
            for (dial_id, value), looks in by_point.items()
            if dial_id == dial.id and looks
        )
        if not lines:
            continue
        mine = [row for (dial_id, _), row in rows.items() if dial_id == dial.id]
        marks = tuple(
            (event["hours"], str(event["number"]))
            for event in document["events"]
            if event["where"] in (dial.id, "cluster")
        )
        charts.append(DriftChart(dial.id, _dial_words(mine), lines, marks))
    return tuple(charts)


def _dial_words(rows: list[dict[str, Any]]) -> str:
    drifting = [f"{row['value']:g}" for row in rows if row["drifts"]]
    if drifting:
        return f"drifts at {', '.join(drifting)}"
    if any(row["drifts"] is None for row in rows):
        return "too few looks to tell a trend"
    return "no trend at any check point"
