"""Dials that share a frame: one frame with the bits of each."""

from collections.abc import Iterable, Sequence
from dataclasses import replace

from needlewright.signals.model import Command, FrameStimulus

Slot = tuple[int, bool, str]
"""See `FrameStimulus.slot`."""


def shared_frames(stimuli: Iterable[FrameStimulus]) -> dict[Slot, FrameStimulus]:
    """The frames to send, each once.

    Parameters
    ----------
    stimuli
        One for each dial.

    Returns
    -------
    dict
        By slot, in the order they first came.

    Raises
    ------
    SignalError
        If two dials contradict each other in one frame.
    """
    frames: dict[Slot, FrameStimulus] = {}
    for stimulus in stimuli:
        there = frames.get(stimulus.slot)
        frames[stimulus.slot] = stimulus if there is None else there.joined(stimulus)
    return frames


def with_shared_frames(commands: Sequence[Command]) -> list[Command]:
    """The same commands, each with the whole frame that is sent for it.

    Parameters
    ----------
    commands
        One for each dial, to be carried out together.

    Returns
    -------
    list of Command
        In the same order.

    Raises
    ------
    SignalError
        If two dials contradict each other in one frame.
    """
    frames = shared_frames(c.stimulus for c in commands if isinstance(c.stimulus, FrameStimulus))
    return [
        replace(command, stimulus=frames[command.stimulus.slot])
        if isinstance(command.stimulus, FrameStimulus)
        else command
        for command in commands
    ]
