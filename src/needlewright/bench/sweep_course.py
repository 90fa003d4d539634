"""What every dial is told in a sweep: from its first mark to full scale and back, and how fast.

A needle that is told a new value with each frame of the camera, a few degrees further, moves
evenly; told the end at once it moves as its firmware likes, and nothing can be held against that.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import pi, sin
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.errors import ScaleError, SignalError
from needlewright.families.model import Dial, Family
from needlewright.signals.instruments import Instruments
from needlewright.signals.model import Command, FrameStimulus
from needlewright.signals.signal import Signal
from needlewright.signals.transports.by_hand import HandTransport
from needlewright.signals.transports.together import TransportsTogether
from needlewright.signals.transports.transport import Transport
from needlewright.signals.wiring import signal_of

STEP_DEG: Final = 3.6
"""The longest dial's needle is told to go so far from frame to frame, at the most: little enough
for it to be on its way still when the next value comes."""
START: Final = 0.08
EASE: Final = 0.3
"""Shares of a way's time in which a needle is told to gather speed and to lose it. Where it turns,
play is to be taken up in a few frames; but stopped at once, a late needle looks like one with
play."""
LEAST_WAY_S: Final = 3.6
MOST_WAY_S: Final = 20.0
PERIOD_S: Final = 0.02
"""In a sweep frames are repeated at least so often, that none lags behind what is told."""
POINTS: Final = 181
_RATE: Final = 1.0 / (1.0 - (START + EASE) / 2)
"""The highest rate of a way over its mean."""
FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """One dial's way."""

    dial: Dial
    signal: Signal
    values: FloatArray
    """From the first mark to full scale, dial's unit."""
    angles_deg: FloatArray
    """Of the programme at these."""
    is_even: bool
    """Whether it is told its way bit by bit; else the ends only."""

    @property
    def span_deg(self) -> float:
        """How far its needle goes one way."""
        return float(abs(self.angles_deg[-1] - self.angles_deg[0]))

    @property
    def step_deg(self) -> float:
        """The furthest one step of what the signal can state turns the needle."""
        scale = self.dial.scale
        steepest = float(np.max(np.abs(np.diff(scale.angles_deg) / np.diff(scale.values))))
        return steepest * max(self.signal.step_at(float(value)) for value in self.values[::20])

    def command(self, share: float, bench: Instruments) -> Command:
        """What tells it to stand at a share of its way.

        Parameters
        ----------
        share
            0 at the first mark, 1 at full scale; between them even in angle.
        bench
            The instruments that make the stimulus.

        Returns
        -------
        Command
            A frame is repeated at least every `PERIOD_S`.
        """
        way = np.abs(self.angles_deg - self.angles_deg[0])
        value = float(np.interp(share * way[-1], way, self.values))
        command = self.signal.command(value, bench=bench)
        frame = command.stimulus
        if isinstance(frame, FrameStimulus) and (frame.period_s or 0.0) > PERIOD_S:
            command = replace(command, stimulus=replace(frame, period_s=PERIOD_S))
        return command

    def angle_deg(self, command: Command) -> float:
        """Where a sound needle stands then."""
        return self.dial.programme_angle_deg(command.value)


def courses(
    family: Family, dials: tuple[str, ...], transport: Transport, bench: Instruments
) -> tuple[Course, ...]:
    """Lay the ways out.

    Parameters
    ----------
    family
        The cluster design.
    dials
        Ids of those that sweep.
    transport
        Of the bench: what a person puts on is told in two steps.
    bench
        The instruments that make the stimuli.

    Returns
    -------
    tuple of Course
        In the family's order.

    Raises
    ------
    SignalError
        If a dial cannot be told its first mark.
    """
    found = []
    for dial in family.dials:
        if dial.id not in dials:
            continue
        signal = signal_of(family, dial.id)
        first = signal.command(dial.scale.values[0], bench=bench)
        by_hand = isinstance(_carrier(transport, first), HandTransport)
        is_even = not by_hand and dial.movement.kind != "thermal"
        found.append(_course(dial, signal, bench, is_even=is_even))
    return tuple(found)


def way_s(found: tuple[Course, ...], frames_hz: float, slower: float = 1.0) -> float:
    """How long one way takes.

    Parameters
    ----------
    found
        The ways.
    frames_hz
        Of the camera.
    slower
        How many times longer than the camera asks for.

    Returns
    -------
    float
        Seconds; longer where the camera is slow.
    """
    longest = max((course.span_deg for course in found if course.is_even), default=0.0)
    fastest = longest * _RATE
    least_s = max(fastest / (STEP_DEG * max(frames_hz, 1.0)), LEAST_WAY_S)
    return min(least_s * slower, MOST_WAY_S)


def eased(share: float) -> float:
    """How far along its way a needle is told to be.

    Parameters
    ----------
    share
        Of the way's time, 0 to 1.

    Returns
    -------
    float
        Of the way; its rate rises and falls as half a wave of a cosine.
    """
    left = 1.0 - share
    if share < START:
        return _RATE * (share / 2 - START / (2 * pi) * sin(pi * share / START))
    if left < EASE:
        return 1.0 - _RATE * (left / 2 - EASE / (2 * pi) * sin(pi * left / EASE))
    return _RATE * (share - START / 2)


def told_on_video(
    told: Mapping[str, list[tuple[float, float]]], first_s: float
) -> dict[str, tuple[FloatArray, FloatArray]]:
    """What was told, on the video's clock.

    Parameters
    ----------
    told
        Times of the camera and angles in degrees, by dial.
    first_s
        Of the video's first frame.

    Returns
    -------
    dict
        Times from the first frame, and angles.
    """
    return {
        dial: (np.array([t for t, _ in one]) - first_s, np.array([angle for _, angle in one]))
        for dial, one in told.items()
    }


def _course(dial: Dial, signal: Signal, bench: Instruments, *, is_even: bool) -> Course:
    values: list[float] = []
    angles: list[float] = []
    for value in np.linspace(dial.scale.values[0], dial.scale.values[-1], POINTS):
        try:
            command = signal.command(float(value), bench=bench)
            angle = dial.programme_angle_deg(command.value)
        except (ScaleError, SignalError):
            if not values:
                raise
            break  # full scale is where the programme, or the wire, ends
        if dial.programme.shown_at(command.value) > dial.scale.values[-1]:
            break
        values.append(float(value))
        angles.append(angle)
    return Course(dial, signal, np.array(values), np.array(angles), is_even)


def _carrier(transport: Transport, command: Command) -> Transport:
    if isinstance(transport, TransportsTogether):
        return transport.part_for(command)
    return transport
