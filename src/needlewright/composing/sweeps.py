"""A sweep put together for a person: what happened, the document of it, and its charts."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

import numpy as np

from needlewright.composing.told_sweeps import Placed, place_told
from needlewright.families.model import Family
from needlewright.findings.event import Event, EventFault
from needlewright.findings.evidence import Evidence
from needlewright.findings.evidence_file import evidence_documents
from needlewright.findings.summary import Summary, summarise
from needlewright.findings.supply import Together, fails_together, together_evidence
from needlewright.findings.sweep_events import Command, find_events
from needlewright.findings.sweep_parts import SweepFinding, judge_sweep, sweep_evidence
from needlewright.papers.sweep_chart_data import ChartMark, SweepChart
from needlewright.readings.sweep import follow_video
from needlewright.readings.told_sweep import ToldSweep
from needlewright.readings.track import DialTrack, Track, track_of_angles
from needlewright.rules.decision import COVERAGE_K

SEEN_IN: Final = "the sweep"
FAULT_WORDS: Final[Mapping[EventFault, str]] = {
    "lost_steps": "lost steps",
    "dragging": "drags",
    "stalled": "stalled",
    "blocked": "blocked",
    "backlash": "backlash",
}


@dataclass(frozen=True, slots=True)
class Followed:
    """A video that was followed, and what was found in it."""

    track: Track
    events: tuple[Event, ...]
    summaries: Mapping[str, Summary]
    damaged: str | None
    """The sentence where the file broke off."""
    placed: Placed | None = None
    """What the dials were told, where that is known."""
    findings: tuple[SweepFinding, ...] = ()
    """Which part each dial's events point at."""

    def document(self, *, knocked: bool = False) -> dict[str, Any]:
        """The JSON document of `needlewright sweep --json`.

        Parameters
        ----------
        knocked
            Whether the cluster was knocked and flexed in the video.

        Returns
        -------
        dict
            As docs/json/sweep.schema.json has it.
        """
        return {
            "frames": [
                {
                    "t_s": _rounded(t_s),
                    "dials": {name: _seen(dial, i) for name, dial in self.track.dials.items()},
                }
                for i, t_s in enumerate(self.track.t_s)
            ],
            "events": [
                {name: _rounded(value) for name, value in asdict(event).items()}
                for event in self.events
            ],
            "summary": {
                dial: {name: _rounded(value) for name, value in asdict(summary).items()}
                for dial, summary in self.summaries.items()
            },
            "told": None
            if self.placed is None
            else {name: _rounded(value) for name, value in self.placed.document().items()},
            "findings": [finding_document(one) for one in self.findings],
            "evidence": evidence_documents(self._evidence(knocked)),
        }

    def together(self) -> Together:
        """What failed in the same instant."""
        whole_s = float(self.track.t_s[-1]) if self.track.frames else 0.0
        return fails_together(self.events, whole_s)

    def _evidence(self, knocked: bool) -> Iterator[Evidence]:
        for one in self.findings:
            yield from sweep_evidence(one, SEEN_IN)
        yield from together_evidence(self.together(), len(self.findings), SEEN_IN, knocked=knocked)


def follow_sweep(
    family: Family,
    video: Path,
    on_progress: Callable[[int, int], None] | None = None,
    told: ToldSweep | None = None,
) -> Followed:
    """Follow every needle through a video and find what went wrong.

    Parameters
    ----------
    family
        The cluster design.
    video
        The video file.
    on_progress
        Called with the frames read so far and of all, which may be an estimate.
    told
        What the dials were told, if known, on a clock of its own.

    Returns
    -------
    Followed
        Events in time order.

    Raises
    ------
    PictureError
        If the file holds no frame that can be decoded, or the family's face is in none.
    FamilyError
        If the face's picture cannot be used.
    RunError
        If what was told does not fit the video.
    """
    track, damaged = follow_video(family, video, on_progress)
    placed = None if told is None else place_told(told, track)
    commands = {} if placed is None else placed.commands
    events = events_of(family, track, commands)
    return Followed(
        track,
        events,
        {
            dial.id: summarise(track.dials[dial.id], dial, commands.get(dial.id))
            for dial in family.dials
        },
        damaged,
        placed,
        judge_sweep(family.dials, track.dials, events, frozenset(commands)),
    )


def events_of(
    family: Family, track: Track, commands: Mapping[str, Command] = MappingProxyType({})
) -> tuple[Event, ...]:
    """What happened to the needles of a track.

    Parameters
    ----------
    family
        The cluster design.
    track
        Its needles through a video.
    commands
        Where they were asked to be, by dial, on the video's clock; of those for which it is known.

    Returns
    -------
    tuple of Event
        In time order.
    """
    found = [
        event
        for dial in family.dials
        for event in find_events(track.dials[dial.id], dial, commands.get(dial.id))
    ]
    return tuple(sorted(found, key=lambda event: event.t_s))


def finding_document(one: SweepFinding) -> dict[str, Any]:
    """What a sweep says of one dial, as JSON."""
    return {
        "dial": one.dial,
        "cause": one.cause,
        "parts": [{"part": part, "probability": _rounded(share)} for part, share in one.parts],
        "size_deg": _rounded(one.size_deg),
        "u_size_deg": _rounded(one.u_size_deg),
        "at_deg": _rounded(one.at_deg),
        "passes": one.passes,
        "passes_with_it": one.seen,
        "with_others": one.together,
        "kinds": list(one.kinds),
        "words": one.words,
    }


def charts_of(track: Track, events: tuple[Event, ...]) -> list[SweepChart]:
    """What the chart of every needle is drawn from, its events in words."""
    return [
        _chart(dial, tuple(ChartMark(e.t_s, event_words(e)) for e in events if e.dial == name))
        for name, dial in track.dials.items()
    ]


def charts_of_document(document: Mapping[str, Any]) -> list[SweepChart]:
    """What the charts of a stored sweep are drawn from, its events by their number.

    Parameters
    ----------
    document
        As `Followed.document` gives it.

    Returns
    -------
    list of SweepChart
        In the family's order; events are counted from 1 through all needles.
    """
    frames = document["frames"]
    t_s = np.array([frame["t_s"] for frame in frames], np.float64)
    charts = []
    for name in frames[0]["dials"]:
        seen = [frame["dials"][name] for frame in frames]
        angle = np.array([np.nan if one is None else one["angle_deg"] for one in seen])
        marks = tuple(
            ChartMark(event["t_s"], str(number))
            for number, event in enumerate(document["events"], start=1)
            if event["dial"] == name
        )
        charts.append(_chart(track_of_angles(name, t_s, angle, 0.0, 0.0), marks))
    return charts


def events_of_document(document: Mapping[str, Any]) -> tuple[Event, ...]:
    """The events of a stored sweep, in time order."""
    return tuple(Event(**event) for event in document["events"])


def event_words(event: Event) -> str:
    """An event in few words with its size."""
    if event.fault == "lost_steps":
        way = "clockwise" if event.size_deg > 0 else "anticlockwise"
        return f"{FAULT_WORDS[event.fault]}, {abs(event.size_deg):.1f}° too far {way} since"
    where = "at " if event.fault in ("stalled", "blocked") else ""
    size = f"{event.size_deg:.1f}".replace("-", "−")
    return f"{FAULT_WORDS[event.fault]} {where}{size}°"


def event_doubt(event: Event) -> str:
    """What the size of an event may be off by: U, k = 2."""
    return f"± {COVERAGE_K * event.u_size_deg:.2f}°"


def _chart(dial: DialTrack, marks: tuple[ChartMark, ...]) -> SweepChart:
    return SweepChart(dial.dial, dial.t_s, dial.angle_deg, dial.speeds_deg_s(), marks)


def _seen(dial: DialTrack, i: int) -> dict[str, float | None] | None:
    if not dial.seen[i]:
        return None
    return {
        "angle_deg": _rounded(float(dial.angle_deg[i])),
        "u_angle_deg": _rounded(float(dial.u_angle_deg[i])),
    }


def _rounded(value: Any) -> Any:
    return round(float(value), 6) if isinstance(value, float | np.floating) else value
