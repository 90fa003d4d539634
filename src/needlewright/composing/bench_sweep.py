"""The sweep of a bench run looked through: its video followed, held against what was told."""

import json
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Final

import numpy as np

from needlewright.bench.keeping import write_whole
from needlewright.bench.outcome import Sweep, SweepEvent, SweepFound
from needlewright.bench.sweep_take import SweepFilm
from needlewright.composing.sweeps import Followed
from needlewright.errors import UnusableInput
from needlewright.families.model import Dial, Family
from needlewright.findings.event import Event
from needlewright.findings.summary import summarise
from needlewright.findings.sweep_events import Command, find_events
from needlewright.findings.sweep_parts import judge_sweep
from needlewright.readings.sweep import follow_video
from needlewright.readings.track import DialTrack

STALLED: Final = "stalled"
DRAGGING: Final = "dragging"
STEPS: Final = 2.0
"""A lag of no more than so many steps of the signal is taken for these."""
FAST: Final = 0.98
"""Share of the time a needle is slower than what is taken for its speed."""
KEEPS_UP: Final = 0.85
"""A needle that turns slower than this share of what it is told is not held against it."""
MOVES_DEG_S: Final = 5.0
LEAST_S: Final = 0.01


def looked_through(
    family: Family, on_progress: Callable[[int, int], None] | None = None
) -> Callable[[SweepFilm], SweepFound]:
    """What follows the sweep of a bench run.

    Parameters
    ----------
    family
        The cluster design.
    on_progress
        Called with the frames read so far and of all.

    Returns
    -------
    Callable
        Writes the needles frame by frame beside the video, as `needlewright sweep --json` gives
        them, and returns what went wrong. A video that cannot be followed ends no run: the
        sentence on it is kept.
    """

    def look_through(film: SweepFilm) -> SweepFound:
        try:
            followed = follow_told(family, film, on_progress)
            document = film.video.with_suffix(".json")
            text = json.dumps(followed.document(), allow_nan=False) + "\n"
            write_whole(document, text.encode())
        except UnusableInput as error:
            return SweepFound(problem=str(error))
        events = tuple(
            SweepEvent(e.t_s, e.dial, e.fault, e.size_deg, e.u_size_deg) for e in followed.events
        )
        return SweepFound(events, document.name, followed.damaged)

    return look_through


def follow_told(
    family: Family, film: SweepFilm, on_progress: Callable[[int, int], None] | None = None
) -> Followed:
    """Follow every needle through a sweep whose command is known.

    Parameters
    ----------
    family
        The cluster design.
    film
        As filmed, with what was told.
    on_progress
        Called with the frames read so far and of all.

    Returns
    -------
    Followed
        Events in time order. A dial told its ends at once, or that turns slower than it is told,
        went there as its firmware likes, so that only standing still is held against it.

    Raises
    ------
    PictureError
        If the video cannot be followed.
    """
    track, damaged = follow_video(family, film.video, on_progress)
    events = [event for dial in family.dials for event in _events(track.dials[dial.id], dial, film)]
    summaries = {
        dial.id: summarise(track.dials[dial.id], dial, _even(dial, film)) for dial in family.dials
    }
    events.sort(key=lambda event: event.t_s)
    told = frozenset(film.commands)
    return Followed(
        track,
        tuple(events),
        summaries,
        damaged,
        findings=judge_sweep(family.dials, track.dials, events, told),
    )


def read_document(folder: Path, sweep: Sweep) -> Mapping[str, Any] | None:
    """The needles of a sweep, frame by frame, as they are kept beside its video.

    Parameters
    ----------
    folder
        The CSV's.
    sweep
        Of the run's outcome.

    Returns
    -------
    Mapping or None
        None where nobody looked it through, or the file is gone.
    """
    if sweep.found is None or sweep.found.document is None:
        return None
    try:
        document: Mapping[str, Any] = json.loads((folder / sweep.found.document).read_bytes())
    except (OSError, ValueError):
        return None
    return document


def _events(track: DialTrack, dial: Dial, film: SweepFilm) -> tuple[Event, ...]:
    command = film.commands.get(dial.id)
    if command is None:
        return find_events(track, dial)
    if dial.id not in film.at_once and _keeps_up(track, command):
        coarse_deg = STEPS * film.step_deg[dial.id]
        return tuple(
            event
            for event in find_events(track, dial, command)
            # a needle that is told to jump jumps
            if event.fault != DRAGGING or event.size_deg > coarse_deg
        )
    told = tuple(event for event in find_events(track, dial, command) if event.fault == STALLED)
    return told or find_events(track, dial)


def _keeps_up(track: DialTrack, command: Command) -> bool:
    """Whether a needle turns as fast as it is told to; one that cannot is held back by firmware."""
    told = np.abs(np.diff(command[1])) / np.maximum(np.diff(command[0]), LEAST_S)
    turned = track.speeds_deg_s()
    turned = np.abs(turned[np.isfinite(turned)])
    if not len(turned) or not len(told):
        return True
    asked, done = float(np.quantile(told, FAST)), float(np.quantile(turned, FAST))
    return done < MOVES_DEG_S or done > KEEPS_UP * asked


def _even(dial: Dial, film: SweepFilm) -> Command | None:
    return None if dial.id in film.at_once else film.commands.get(dial.id)
