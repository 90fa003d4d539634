"""What happened to a needle in a sweep, with or without its command."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.families.model import Dial
from needlewright.findings.blocked import blocks
from needlewright.findings.commanded import Absence, Followed, absences, followed
from needlewright.findings.dragging import drags
from needlewright.findings.event import Event, EventFault
from needlewright.findings.friction import blocked_stand, left_behind
from needlewright.findings.motion import Motion, motion_of
from needlewright.findings.play import Play, play_of
from needlewright.findings.slips import slips
from needlewright.findings.standing import stands
from needlewright.readings.track import DialTrack

FloatArray = NDArray[np.float64]
Command = tuple[FloatArray, FloatArray]
"""Times in seconds on the video's clock, and angles in degrees clockwise from 12 o'clock."""

_LEAST_TIMES: Final = 2
_LEAST_FRAMES: Final = 8
_TOGETHER_S: Final = 0.12
_WHOLE: Final = 4.0
_WHOLE_DEG: Final = 0.3
_STILL_DEG: Final = 1.5
_ASKED_DEG: Final = 10.0
_DRAG_DEG: Final = 0.5
_SURE: Final = 5.0
_BLOCK_S: Final = 0.25
_BLOCK_DEG: Final = 5.0
_NEAR_S: Final = 0.3
_CONFIRMS: Final = 4
_TURNS_DEG_S: Final = 2.0
_PLAY_DEG: Final = 1.5
_MOST_PLAY_DEG: Final = 5.0
_RUNS_INTO_S: Final = 0.15
_FRAMES_BEFORE: Final = 3
_FLUTTERS: Final = 0.1
_REPEATS: Final = 3.0
_STEPPER: Final = "stepper"


def find_events(track: DialTrack, dial: Dial, command: Command | None = None) -> tuple[Event, ...]:
    """Find what went wrong with a needle in a video.

    Parameters
    ----------
    track
        The needle through the video.
    dial
        Its dial: the movement's cycle, the stop, the scale.
    command
        Where the needle was asked to be, if it is known; about the video's clock is enough. Without
        it backlash and a needle that never moves are not found, nor a slip that takes longer than
        about a tenth of a second.

    Returns
    -------
    tuple[Event, ...]
        In time order; none where the needle is seen in fewer than eight frames.

    Raises
    ------
    ValueError
        If the command has fewer than two times, or not one angle for each.
    """
    motion = motion_of(track, dial)
    if command is not None and not len(command[0]) == len(command[1]) >= _LEAST_TIMES:
        raise ValueError(
            f"the command of dial '{dial.id}' has {len(command[0])} times and {len(command[1])} "
            "angles: give one angle for each of at least two times, or no command"
        )
    if len(motion.t_s) < _LEAST_FRAMES:
        return ()
    if command is None:
        return _uncommanded(motion)
    above = dial.scale.sense * (np.asarray(command[1], np.float64) - dial.stop_angle_deg)
    return _commanded(motion, np.asarray(command[0], np.float64), above)


def _event(
    motion: Motion, t_s: float, fault: EventFault, size_deg: float, u_size_deg: float
) -> Event:
    return Event(t_s, motion.dial.id, fault, size_deg, u_size_deg)


def _slip_event(motion: Motion, t_s: float, cycles: int, u_deg: float) -> Event:
    turned = motion.dial.scale.sense * cycles * motion.dial.movement.cycle_deg
    return _event(motion, t_s, "lost_steps", turned, u_deg)


def _uncommanded(motion: Motion) -> tuple[Event, ...]:
    standing = stands(motion)
    found: list[Event] = []
    doubtful: list[int] = []
    for drag in drags(motion, standing):
        found.append(_event(motion, drag.t_s, "dragging", drag.lag_deg, drag.u_lag_deg))
        doubtful += range(drag.stand.first - 1, drag.caught_up + 1)
    if motion.dial.movement.kind == _STEPPER:
        for slip in slips(motion):
            if not any(abs(slip.t_s - event.t_s) < _TOGETHER_S for event in found):
                found.append(_slip_event(motion, slip.t_s, slip.cycles, slip.u_step_deg))
                doubtful += range(slip.last, slip.first + 1)
    for block in blocks(motion, standing, doubtful):
        at_deg = motion.clockwise(block.stand.angle_deg)
        found.append(_event(motion, block.t_s, "blocked", at_deg, block.stand.u_angle_deg))
    return tuple(sorted(found, key=lambda event: event.t_s))


def _commanded(motion: Motion, t_s: FloatArray, command_deg: FloatArray) -> tuple[Event, ...]:
    angle_deg = motion.angle_deg
    low, high = np.percentile(angle_deg, [5, 95])
    if np.ptp(command_deg) > _ASKED_DEG and high - low < _STILL_DEG:
        moved = int(np.argmax(np.abs(command_deg - command_deg[0]) > _STILL_DEG))
        at_deg = motion.clockwise(float(np.median(angle_deg)))
        u_deg = float(np.median(motion.u_deg) / np.sqrt(len(angle_deg)))
        return (_event(motion, float(t_s[moved]), "stalled", at_deg, u_deg),)
    beside = followed(motion, t_s, command_deg)
    if motion.dial.movement.kind != _STEPPER:
        return _ungeared(motion, beside)
    found: list[Event] = []
    level_deg = np.zeros(len(angle_deg))
    left_out = np.zeros(len(angle_deg), dtype=np.bool_)
    for absence in absences(motion, beside):
        left_out[max(0, absence.first - 1) : absence.last + 2] = True
        events, cycles = _named(motion, beside, absence)
        level_deg[absence.first :] += cycles * motion.dial.movement.cycle_deg
        found += events
    # on the stop a needle finds its zero again
    on_stop = np.flatnonzero(~beside.usable)
    for frame in on_stop[np.flatnonzero(np.diff(on_stop, append=len(angle_deg) + 9) > 1)]:
        level_deg[frame:] -= level_deg[frame]
    play = play_of(motion, beside, level_deg, left_out)
    blocked = any(event.fault == "blocked" for event in found)
    if play is not None and not blocked and _is_play(motion, play):
        found.append(_event(motion, play.t_s, "backlash", play.play_deg, play.u_play_deg))
    found += [
        event
        for event in _uncommanded(motion)
        if event.fault == "lost_steps"
        and not any(_same(event, other) for other in found)
        and _confirmed(motion, beside, event)
    ]
    return tuple(sorted(found, key=lambda event: event.t_s))


def _is_play(motion: Motion, play: Play) -> bool:
    """Whether more than a sound train's play, and no more than gears can have."""
    least = _REPEATS * motion.dial.movement.repeatability_deg
    return max(least, _SURE * play.u_play_deg) < play.play_deg < _MOST_PLAY_DEG


def _ungeared(motion: Motion, beside: Followed) -> tuple[Event, ...]:
    """Events of a movement without cycles or gears: blocked, or held back by friction."""
    standing = stands(motion)
    block = blocked_stand(motion, beside, standing)
    if block is not None:
        at_deg = motion.clockwise(block.angle_deg)
        begin_s = float(motion.t_s[block.first])
        return (_event(motion, begin_s, "blocked", at_deg, block.u_angle_deg),)
    behind = left_behind(motion, beside, standing)
    if behind is None:
        return ()
    stand, lag_deg, u_deg = behind
    return (_event(motion, float(motion.t_s[stand.first]), "dragging", lag_deg, u_deg),)


def _confirmed(motion: Motion, beside: Followed, event: Event) -> bool:
    """Whether a slip found without the command is one against the command too."""
    after = int(np.searchsorted(motion.t_s, event.t_s))
    before = slice(max(0, after - _CONFIRMS), after)
    behind = slice(after, after + _CONFIRMS)
    step = float(np.median(beside.off_deg[behind]) - np.median(beside.off_deg[before]))
    expected = motion.dial.scale.sense * event.size_deg
    return abs(step - expected) < motion.dial.movement.cycle_deg / 2


def _same(event: Event, other: Event) -> bool:
    """Whether two findings may be of one thing."""
    return abs(event.t_s - other.t_s) < _NEAR_S


def _named(motion: Motion, beside: Followed, absence: Absence) -> tuple[list[Event], int]:
    """The events an absence is, and the cycles by which the level has moved."""
    cycle_deg = motion.dial.movement.cycle_deg
    step_deg = absence.after_deg - absence.before_deg
    cycles = round(step_deg / cycle_deg)
    if abs(step_deg - cycles * cycle_deg) > _WHOLE * absence.u_deg + _WHOLE_DEG:
        cycles = 0
    begin_s = float(motion.t_s[max(0, absence.first - 1)] + motion.t_s[absence.first]) / 2
    if abs(step_deg) < _MOST_PLAY_DEG and _at_reversal(beside, absence, abs(step_deg)):
        return [], 0
    events = []
    if _stood(motion, beside, absence):
        at_deg, u_deg = _ran_into(motion, absence)
        events.append(_event(motion, begin_s, "blocked", motion.clockwise(at_deg), u_deg))
    if cycles:
        events.append(_slip_event(motion, begin_s, cycles, absence.u_deg))
    if events or absence.last <= absence.first:
        return events, cycles
    inside = slice(absence.first, absence.last + 1)
    behind = -absence.furthest_deg * float(np.sign(np.mean(beside.rate_deg_s[inside])))
    u_deg = float(np.median(beside.u_off_deg[inside]))
    if behind > max(_DRAG_DEG, _SURE * u_deg) and abs(step_deg) < behind / 2:
        late = int(np.argmax(np.abs(beside.off_deg[inside] - absence.before_deg)))
        late += absence.first
        # it let go somewhere between this frame and the next, the command going on
        gap_s = float(motion.t_s[min(late + 1, len(motion.t_s) - 1)] - motion.t_s[late])
        more_deg = abs(float(beside.rate_deg_s[late])) * gap_s
        size_deg, u_deg = behind + more_deg / 2, float(np.hypot(u_deg, more_deg / 12**0.5))
        jumped_s = float(motion.t_s[late]) + gap_s / 2
        events.append(_event(motion, jumped_s, "dragging", size_deg, u_deg))
    return events, 0


def _ran_into(motion: Motion, absence: Absence) -> tuple[float, float]:
    """Furthest angle of a needle that ran into something, before it flutters back."""
    way = -np.sign(absence.furthest_deg)
    inside = slice(max(0, absence.first - _FRAMES_BEFORE), absence.last + 1)
    at, t_s = way * motion.angle_deg[inside], motion.t_s[inside]
    soon = at[t_s <= motion.t_s[absence.first] + _RUNS_INTO_S]
    # a needle that flutters was somewhere up to a cycle higher between two frames
    cycle_deg = motion.dial.movement.cycle_deg
    between_deg = cycle_deg / 12**0.5 if np.ptp(soon) > cycle_deg / 2 else 0.0
    u_deg = float(np.hypot(np.median(motion.u_deg[inside]), between_deg))
    return float(way * np.max(soon)), u_deg


def _at_reversal(beside: Followed, absence: Absence, step_deg: float) -> bool:
    """Whether the level moves just after the command turned round, as play lets it."""
    first = absence.first
    way = np.sign(beside.rate_deg_s) * (np.abs(beside.rate_deg_s) > _TURNS_DEG_S)
    now = way[first : absence.last + 2]
    now = now[now != 0]
    before = way[:first][way[:first] != 0]
    if not len(now) or not len(before):
        return False
    way_now = now[0]
    came = np.flatnonzero(way[: first + 1] == -way_now)
    if not len(came):
        return False
    # it left its level between the frame before and this one
    since = abs(float(beside.command_deg[max(0, first - 1)] - beside.command_deg[came[-1]]))
    return since < step_deg + _PLAY_DEG


def _stood(motion: Motion, beside: Followed, absence: Absence) -> bool:
    """Whether the needle stood while its command went on, and did not go on in that way later."""
    inside = slice(absence.first, absence.last + 1)
    at, t_s = motion.angle_deg[inside], motion.t_s[inside]
    if absence.last <= absence.first or t_s[-1] - t_s[0] < _BLOCK_S:
        return False
    if abs(absence.furthest_deg) < _BLOCK_DEG:
        return False
    # a rotor driven on against a block flutters by some cycles
    play_deg = max(1.2 * motion.dial.movement.cycle_deg, _FLUTTERS * abs(absence.furthest_deg))
    low, high = np.percentile(at, [5, 95])
    if high - low > play_deg:
        return False
    ahead = -np.sign(absence.furthest_deg)
    later = motion.angle_deg[absence.last + 1 :]
    until = beside.command_deg[absence.last + 1 :]
    # up to where the command comes the same way again
    turned = np.flatnonzero(ahead * (until - np.median(at)) < -_BLOCK_DEG)
    later = later[: turned[0]] if len(turned) else later
    return not np.any(ahead * (later - np.median(at)) > _BLOCK_DEG)
