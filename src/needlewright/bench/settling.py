"""Waiting until the needles of a step stand, and nothing happened meanwhile that would spoil it."""

from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass
from typing import Final

from needlewright.bench.devices import Devices, Wishes
from needlewright.errors import PictureError
from needlewright.families.model import Family
from needlewright.readings.flags import PHOTO_REASONS
from needlewright.readings.live import LiveLook, LiveReader
from needlewright.signals.model import Command

REACTION_S: Final = 0.3
"""From a frame on the bus to a needle that begins to move; common practice, no source."""
LONGEST_S: Final = 25.0
"""A needle that has not come to stand by then is hunting; common practice, no source."""
THERMAL_S: Final = 60.0
"""A bimetal needle creeps to its place; so long it is left to it (common practice, no source)."""
UNSEEN_S: Final = 1.0
"""A needle that is not read for so long beyond the time the others need will not be."""
LOOK_S: Final = 0.5
"""How often devices are asked whether all is well while nothing is looked at."""

Outcome = str
"""`settled`, or one of the wishes `stop`, `skip`, `redo`."""


@dataclass(frozen=True, slots=True)
class Settled:
    """How waiting ended."""

    outcome: Outcome
    standing: frozenset[str] = frozenset()
    """Dials that stand or are not seen, so that they can be taken."""
    hunting: frozenset[str] = frozenset()
    """Dials that would not come to stand."""


class Watch:
    """Looks at every frame until the needles stand.

    Parameters
    ----------
    family
        The cluster design.
    reader
        Of the live picture.
    devices
        Of the bench.
    wishes
        Of the person.
    seen
        Called with every look, as for a page that draws it.
    """

    def __init__(
        self,
        family: Family,
        reader: LiveReader,
        devices: Devices,
        wishes: Wishes,
        seen: Callable[[LiveLook], None] | None = None,
    ) -> None:
        self._family, self._reader, self._devices = family, reader, devices
        self._wishes, self._seen = wishes, seen or (lambda look: None)

    def wait(self, seconds: float) -> None:
        """Let time pass, with an eye on the devices and on whoever wants to stop.

        Parameters
        ----------
        seconds
            How long; cut short by a stop.
        """
        left = seconds
        while left > 1e-9 and not self._wishes.stopping:
            self._devices.wait(min(left, LOOK_S))
            self._devices.transport.check()
            left -= LOOK_S

    def until_settled(self, dials: Collection[str], signal_s: float) -> Settled:
        """Wait until needles stand.

        Parameters
        ----------
        dials
            Ids of those that matter.
        signal_s
            The longest time until the cluster hears what it is told.

        Returns
        -------
        Settled
            Which stand; or what the person wants instead.

        Raises
        ------
        TransportError
            If a device says that the run must end.
        PictureError
            If the face is not seen.
        """
        drops = self._drops()
        while True:
            self.wait(signal_s + REACTION_S + self._creep_s(dials))
            settled = self._look_on(dials)
            if settled.outcome != "settled" or self._drops() == drops:
                return settled
            drops = self._drops()  # the bus was away meanwhile: what stands may stand elsewhere

    def _look_on(self, dials: Collection[str]) -> Settled:
        began_s: float | None = None
        while True:
            wish = self._wishes.look()
            if wish in ("stop", "skip", "redo"):
                return Settled(wish)
            self._devices.transport.check()
            pixels, t_s = self._devices.camera.frame()
            look = self._reader.look(pixels, t_s)
            self._seen(look)
            bus = self._devices.bus()
            if wish == "pause" or began_s is None or (bus is not None and not bus.up):
                began_s = t_s
                continue
            settled = self._judge(look, dials, t_s - began_s)
            if settled is not None:
                return settled

    def _judge(self, look: LiveLook, dials: Collection[str], since_s: float) -> Settled | None:
        """Whether the needles stand; None: look on."""
        hold_s = self._reader.hold_s
        late = since_s > LONGEST_S
        if not look.found or look.shaken:
            if late:
                raise PictureError(_not_seen(look))
            return None
        states = {one.dial: one.state for one in look.dials if one.dial in dials}
        moving = {dial for dial, state in states.items() if state in ("moving", "settling")}
        unseen = {dial for dial, state in states.items() if state == "unseen"}
        wait_s = hold_s + (UNSEEN_S if unseen else 0.0)
        if since_s < wait_s or (moving and not late):
            return None
        return Settled("settled", frozenset(states) - moving, frozenset(moving))

    def _drops(self) -> int:
        status = self._devices.bus()
        return 0 if status is None else status.drops

    def _creep_s(self, dials: Collection[str]) -> float:
        told = [dial for dial in self._family.dials if dial.id in dials]
        return THERMAL_S if any(dial.movement.kind == "thermal" for dial in told) else 0.0


def heard_after_s(commands: Iterable[Command]) -> float:
    """How long a cluster may take to hear what it is told.

    Parameters
    ----------
    commands
        What is put on the wires.

    Returns
    -------
    float
        The longest period of a frame among them, seconds; 0 where none is repeated.
    """
    periods = [getattr(command.stimulus, "period_s", None) or 0.0 for command in commands]
    return max(periods, default=0.0)


def _not_seen(look: LiveLook) -> str:
    if look.found:
        return "the picture shakes, so that no needle stands in it; fix the camera, then go on"
    reason = PHOTO_REASONS.get(look.reason or "")
    words = "the face is not in the picture" if reason is None else reason.long
    return f"the camera sees no cluster: {words}; then go on from the same check point"
