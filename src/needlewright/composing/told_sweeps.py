"""A sweep held against what its dials were told: the two clocks laid over each other."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from needlewright.errors import RunError
from needlewright.findings.clocks import Clock, clock_of
from needlewright.findings.sweep_events import Command
from needlewright.readings.told_sweep import ToldSweep
from needlewright.readings.track import Track

LEAST_LIKENESS: Final = 0.5
"""Speeds that are less alike are not of one sweep."""
AS_ALIKE: Final = 0.93
"""A second place that is so nearly as alike is as good."""
SPARE_S: Final = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class Placed:
    """What the dials were told, on the clock of the video.

    Parameters
    ----------
    commands
        Times and angles by dial.
    clock
        How the command lies in the video; None where no needle moved, so that its times were taken
        for the video's.
    """

    commands: Mapping[str, Command]
    clock: Clock | None

    def document(self) -> dict[str, Any]:
        """The part `told` of the JSON document."""
        return {
            "dials": list(self.commands),
            "offset_s": None if self.clock is None else self.clock.offset_s,
            "likeness": None if self.clock is None else self.clock.likeness,
        }


def place_told(told: ToldSweep, track: Track) -> Placed:
    """Lay what the dials were told over a video.

    Parameters
    ----------
    told
        What they were told.
    track
        The needles.

    Returns
    -------
    Placed
        With the clocks' difference taken out.

    Raises
    ------
    RunError
        If the video is shorter than what was told, if the needles moved unlike it, or if it fits
        the video at two places.
    """
    seen_s = float(track.t_s[-1] - track.t_s[0])
    if told.lasts_s > seen_s + SPARE_S:
        raise RunError(
            f"{told.path}: goes on for {told.lasts_s:.1f} s, but the video lasts {seen_s:.1f} s; "
            "give the lines of what was filmed, or film the whole sweep"
        )
    commands = {name: (one.t_s, one.angle_deg) for name, one in told.dials.items()}
    clock = clock_of(track.dials, commands)
    if clock is None:
        return Placed(commands, None)
    if clock.likeness < LEAST_LIKENESS:
        raise RunError(
            f"{told.path}: the needles of the video did not move like this (likeness "
            f"{clock.likeness:.2f} at best, at least {LEAST_LIKENESS:g} is needed); check that "
            "table and video are of the same sweep, and the table's times and units"
        )
    if clock.other_likeness > AS_ALIKE * clock.likeness:
        raise RunError(
            f"{told.path}: fits the video at two places, its time 0 at {clock.offset_s:.2f} s and "
            f"at {clock.other_s:.2f} s; give the lines of everything that was filmed, or cut the "
            "video to one sweep"
        )
    moved = {name: (at_s + clock.offset_s, angle) for name, (at_s, angle) in commands.items()}
    return Placed(moved, clock)


def told_words(placed: Placed) -> str:
    """How the command lies in the video, in a sentence for people."""
    dials = ", ".join(placed.commands)
    if placed.clock is None:
        return f"told: {dials}; no needle moved, so the table's times are taken for the video's"
    offset_s = placed.clock.offset_s
    return (
        f"told: {dials}; the table's time 0 is {abs(offset_s):.2f} s "
        f"{'before the video begins' if offset_s < 0 else 'into the video'} "
        f"(likeness of the speeds {placed.clock.likeness:.2f})"
    )
