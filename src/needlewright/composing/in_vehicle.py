"""A check in the vehicle: photos of the dashboard and a log of its port, judged together."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from needlewright.composing.overlays import reason_words
from needlewright.errors import UsageError
from needlewright.families.model import Dial, Family
from needlewright.findings.evidence import Evidence
from needlewright.findings.in_vehicle import (
    SHARED,
    DialInVehicle,
    evidence_in_vehicle,
    judge_in_vehicle,
)
from needlewright.findings.port_and_photo import Look, PortRow
from needlewright.papers.in_vehicle_chart import InVehicleChart, PhotoMark
from needlewright.readings.batch import Outcome, PictureProblem
from needlewright.readings.model import PhotoReadings, Reading
from needlewright.readings.moment_in_log import CLOCK_DOUBT_S, MomentInLog, moments_in_log
from needlewright.readings.photo_moment import photo_moment
from needlewright.rules.decision import COVERAGE_K
from needlewright.signals.obd import PIDS
from needlewright.signals.port_log.answers import PortLog
from needlewright.signals.port_log.dial_pid import pid_of
from needlewright.signals.port_log.told import NothingSaid, PortValue, said_at, said_last
from needlewright.units import convert, unit_for_people

AROUND_S: Final = 20.0
"""How much of a log is drawn before the first photo and after the last."""


@dataclass(frozen=True, slots=True)
class CheckInVehicle:
    """A check in the vehicle, judged."""

    log: PortLog
    moments: tuple[MomentInLog, ...]
    dials: tuple[DialInVehicle, ...]
    """In the family's order."""
    steady_s: float | None
    """How long the log's end was taken for steady; None: photos have their moments."""

    @property
    def name(self) -> str:
        """For people and for evidence."""
        photos = ", ".join(Path(m.photo).name for m in self.moments)
        return f"{self.log.path.name} with {photos}" + (" (rehearsed)" if self.rehearsed else "")

    @property
    def rehearsed(self) -> bool:
        """Whether no real cluster was seen: the log, or a photo, says so."""
        return self.log.rehearsed or any(m.rehearsed for m in self.moments)


def moments_of(
    log: PortLog,
    photos: Sequence[str],
    *,
    at: str | None = None,
    clock_offset_s: float = 0.0,
    clock_doubt_s: float = CLOCK_DOUBT_S,
    steady_s: float | None = None,
) -> tuple[MomentInLog, ...]:
    """When every photo was taken, as the log counts; see `moments_in_log`.

    Parameters
    ----------
    log
        The log.
    photos
        Paths as given.
    at
        When the first was taken.
    clock_offset_s
        What the camera's clock is ahead of the log's.
    clock_doubt_s
        How far they may be apart beyond that.
    steady_s
        The last seconds of the log that were steady: no moment is asked for then.

    Returns
    -------
    tuple of MomentInLog
        In the order given.

    Raises
    ------
    PictureError, SignalError, UsageError
        As `moments_in_log`.
    """
    length_s = log.end_s - log.begin_s
    if steady_s is not None and steady_s > length_s:
        raise UsageError(
            f"the last {steady_s:g} s cannot be taken for steady: {log.path.name} is "
            f"{length_s:.0f} s long; name its last seconds that were steady, {length_s:.0f} at most"
        )
    taken = [photo_moment(photo) for photo in photos]
    if steady_s is not None:
        return tuple(MomentInLog(one.photo, None, 0.0, rehearsed=one.rehearsed) for one in taken)
    return moments_in_log(
        log, taken, at=at, clock_offset_s=clock_offset_s, clock_doubt_s=clock_doubt_s
    )


def check_in_vehicle(
    family: Family,
    log: PortLog,
    moments: Sequence[MomentInLog],
    outcomes: Sequence[Outcome],
    *,
    steady_s: float | None = None,
    max_speed: float | None = None,
) -> CheckInVehicle:
    """Hold what every needle shows against what the port said.

    Parameters
    ----------
    family
        The cluster design.
    log
        The log.
    moments
        When each photo was taken.
    outcomes
        What was read in each, in the same order.
    steady_s
        As in `moments_of`.
    max_speed
        The vehicle's maximum design speed in the speedometer's unit.

    Returns
    -------
    CheckInVehicle
        Every dial judged.

    Raises
    ------
    RuleError
        If a dial's rule does not fit it.
    """
    dials = []
    for dial in family.dials:
        looks = [
            Look(
                photo=moment.photo,
                reading=_reading(dial, outcome),
                said=_said(dial, log, moment, steady_s),
                why_unread=_why_unread(outcome),
            )
            for moment, outcome in zip(moments, outcomes, strict=True)
        ]
        dials.append(judge_in_vehicle(dial, looks, family.eccentricity_mm, max_speed=max_speed))
    return CheckInVehicle(log, tuple(moments), tuple(dials), steady_s)


def in_vehicle_evidence(check: CheckInVehicle) -> tuple[Evidence, ...]:
    """What a check in the vehicle says of causes, see `evidence_in_vehicle`."""
    return evidence_in_vehicle(check.dials, check.name)


def in_vehicle_document(family: Family, check: CheckInVehicle) -> dict[str, Any]:
    """A check as `needlewright in-vehicle --json` gives it."""
    log = check.log
    return {
        "family": family.name,
        "log": {
            "file": str(log.path),
            "clock": log.clock,
            "begin": log.moment_words(log.begin_s),
            "end": log.moment_words(log.end_s),
            "begin_s": round(log.begin_s, 6),
            "end_s": round(log.end_s, 6),
            "answers": {f"{pid:02X}": len(log.of_pid(pid)) for pid in PIDS if log.of_pid(pid)},
            "remarks": list(log.remarks),
        },
        "photos": [
            {
                "photo": one.photo,
                "at": None if one.at_s is None else log.moment_words(one.at_s),
                "at_s": _six(one.at_s),
                "doubt_s": _six(one.doubt_s),
                "remark": one.remark,
            }
            for one in check.moments
        ],
        "steady_s": check.steady_s,
        "rehearsed": check.rehearsed,
        "dials": [_dial_document(one) for one in check.dials],
        "evidence": [
            {
                "finding": one.finding,
                "dial": one.dial,
                "ratio": _six(one.ratio),
                "words": one.words,
                "seen_in": one.seen_in,
                "size": _six(one.size),
                "u_size": _six(one.u_size),
                "unit": one.unit,
            }
            for one in in_vehicle_evidence(check)
        ],
        "limit": SHARED,
    }


def in_vehicle_charts(family: Family, check: CheckInVehicle) -> tuple[InVehicleChart, ...]:
    """A chart for each dial the port has answers for.

    Parameters
    ----------
    family
        The cluster design.
    check
        Of it.

    Returns
    -------
    tuple of InVehicleChart
        Times in seconds from the log's beginning; told values as a sound unit shows them.
    """
    drawn = []
    for dial, one in zip(family.dials, check.dials, strict=True):
        pid = pid_of(dial)
        said = () if pid is None else check.log.of_pid(pid.number)
        if pid is None or not said:
            continue
        marks = tuple(
            mark
            for moment, row in zip(check.moments, one.rows, strict=True)
            if (mark := _mark(check, moment, row)) is not None
        )
        edges = [edge for mark in marks for edge in mark.window_s]
        begin = min(edges, default=0.0) - AROUND_S
        end = max(edges, default=check.log.end_s - check.log.begin_s) + AROUND_S
        curve = []
        for answer in said:
            t_s = answer.time_s - check.log.begin_s
            if begin <= t_s <= end:
                told = convert(answer.value, pid.unit, dial.unit)
                curve.append((t_s, told, dial.programme.shown_at(told)))
        drawn.append(
            InVehicleChart(
                title=dial.id,
                words=one.words,
                unit=unit_for_people(dial.unit),
                curve=tuple(curve),
                photos=marks,
                coverage_k=COVERAGE_K,
            )
        )
    return tuple(drawn)


def _mark(check: CheckInVehicle, moment: MomentInLog, row: PortRow) -> PhotoMark | None:
    log = check.log
    if row.shown is None or row.u_shown is None:
        return None
    if moment.at_s is None:
        window = (log.end_s - (check.steady_s or 0.0) - log.begin_s, log.end_s - log.begin_s)
        at_s = (window[0] + window[1]) / 2
    else:
        at_s = moment.at_s - log.begin_s
        window = (at_s - moment.doubt_s, at_s + moment.doubt_s)
    return PhotoMark(
        photo=Path(moment.photo).name,
        at_s=at_s,
        window_s=window,
        shown=row.shown,
        expanded=COVERAGE_K * row.u_shown,
        sound=None if row.lowest is None or row.highest is None else (row.lowest, row.highest),
        compared=row.comparable,
    )


def _reading(dial: Dial, outcome: Outcome) -> Reading | None:
    if isinstance(outcome, PhotoReadings) and outcome.found:
        return next((one for one in outcome.readings if one.dial == dial.id), None)
    return None


def _why_unread(outcome: Outcome) -> str:
    if isinstance(outcome, PictureProblem):
        return "the photo cannot be used"
    return "" if outcome.found else reason_words(outcome.reason)


def _said(
    dial: Dial, log: PortLog, moment: MomentInLog, steady_s: float | None
) -> PortValue | NothingSaid:
    pid = pid_of(dial)
    if pid is None:
        return NothingSaid("the port has no number for it")
    if steady_s is not None or moment.at_s is None:
        return said_last(log, pid, steady_s or 0.0)
    return said_at(log, pid, moment.at_s, moment.doubt_s)


def _dial_document(one: DialInVehicle) -> dict[str, Any]:
    return {
        "dial": one.dial,
        "unit": one.unit,
        "pid": None if one.pid is None else f"{one.pid:02X}",
        "fed_by": one.fed_by,
        "verdict": one.verdict,
        "probability": _six(one.probability),
        "ratio": _six(one.ratio),
        "words": one.words,
        "size_deg": _six(one.size_deg),
        "u_size_deg": _six(one.u_size_deg),
        "photos": [_row_document(row) for row in one.rows],
    }


def _row_document(row: PortRow) -> Mapping[str, Any]:
    return {
        "photo": row.photo,
        "comparable": row.comparable,
        "why_not": row.why_not,
        "told": _six(row.told),
        "u_told": _six(row.u_told),
        "expected": _six(row.expected),
        "lowest": _six(row.lowest),
        "highest": _six(row.highest),
        "shown": _six(row.shown),
        "u_shown": _six(row.u_shown),
        "error_deg": _six(row.error_deg),
        "u_error_deg": _six(row.u_error_deg),
    }


def _six(number: float | None) -> float | None:
    return None if number is None else round(number, 6)
