"""The lamp check: one group of lamps after the other is lit on a dark bench, and photographed."""

from dataclasses import dataclass
from typing import Final

from needlewright.bench.bus_watch import bus_losses, wait_for_bus
from needlewright.bench.devices import CutShort, Devices, Wishes
from needlewright.bench.settling import REACTION_S, heard_after_s
from needlewright.errors import TransportError
from needlewright.families.lamps import Dm1File, Lamp, LampFrameFile, LampGroup
from needlewright.readings.frame import Pixels
from needlewright.signals.dm1 import lamp_command
from needlewright.signals.model import Command, Frame, FrameStimulus

LIT_S: Final = 0.8
"""So long lamps are given to be bright, and a camera to find its exposure; common practice, no
source."""
MOST_TIMES: Final = 3
"""So often lamps are lit anew because the bus was away."""
UNIT: Final = "lamps"
"""What the value of a command counts."""


@dataclass(frozen=True, slots=True, eq=False)
class LitPhoto:
    """A group of lamps as it was seen."""

    pixels: Pixels
    lit: tuple[str, ...]
    not_lit: tuple[str, ...]
    volts: float | None
    amperes: float | None


def lamp_commands(group: LampGroup, *, on: bool = True) -> tuple[Command, ...]:
    """What switches the lamps of a group that frames switch.

    Parameters
    ----------
    group
        The lamps.
    on
        Whether they are to be on; a lamp that goes out by itself when its frame stops is told
        nothing then.

    Returns
    -------
    tuple of Command
        One for each frame.
    """
    told: dict[int, dict[str, str]] = {}
    frames: list[Command] = []
    for lamp in group.lamps:
        match lamp.signal:
            case Dm1File() as dm1:
                told.setdefault(dm1.source, {})[dm1.lamp] = "on" if on else "off"
            case LampFrameFile() as stated if on:
                frames.append(_told(lamp.id, 1, _repeated(stated)))
    dm1_commands = [
        _told(f"{group.name} from {source}", len(lamps), lamp_command(lamps, source))
        for source, lamps in told.items()
    ]
    return (*dm1_commands, *frames)


class LampCheck:
    """Lights groups, and looks at them.

    Parameters
    ----------
    devices
        Of the bench.
    wishes
        Of the person.
    """

    def __init__(self, devices: Devices, wishes: Wishes) -> None:
        self._devices, self._wishes = devices, wishes
        self.dark = False

    def take(self, group: LampGroup) -> LitPhoto:
        """Light a group and take its photo; the key is on.

        Parameters
        ----------
        group
            The lamps.

        Returns
        -------
        LitPhoto
            The lamps are off again, but for those whose frame cannot be taken back: see
            `stays_on`.

        Raises
        ------
        TransportError
            If a device says that the run must end.
        CameraError
            If the camera is gone.
        CutShort
            If the person wants something else.
        """
        devices = self._devices
        self._darken()
        by_hand = LampGroup(group.name, group.by_hand)
        is_done = bool(by_hand.lamps) and self._light(by_hand)
        pixels = self._lit(lamp_commands(group))
        volts, amperes = devices.supply_v(), devices.supply_a()
        off = lamp_commands(group, on=False)
        if off:
            devices.transport.apply(*off)
        if is_done:
            devices.light(by_hand, False)
        not_lit = () if is_done else by_hand.lamps
        return LitPhoto(
            pixels,
            tuple(lamp.id for lamp in group.lamps if lamp not in not_lit),
            tuple(lamp.id for lamp in not_lit),
            volts,
            amperes,
        )

    def _darken(self) -> None:
        if self.dark:
            return
        self._refuse_stopped()
        self.dark = True  # also where that is given up: it may be half dark
        try:
            self._devices.darken(True)
        except CutShort:
            self.lighten()
            raise

    def _light(self, by_hand: LampGroup) -> bool:
        self._refuse_stopped()
        try:
            return self._devices.light(by_hand, True)
        except CutShort:
            self._devices.light(by_hand, False)  # some may be on already
            raise

    def _refuse_stopped(self) -> None:
        """Nothing is put on any more once the run is to stop."""
        if self._wishes.stopping:
            raise CutShort

    def _lit(self, commands: tuple[Command, ...]) -> Pixels:
        """Have frames light their lamps, and look; a bus that was away meanwhile is waited for."""
        devices = self._devices
        for _ in range(MOST_TIMES):
            wait_for_bus(devices, self._wishes)
            self._refuse_stopped()
            before = bus_losses(devices)
            if commands:
                devices.transport.apply(*commands)
            devices.wait(heard_after_s(commands) + REACTION_S + LIT_S)
            devices.transport.check()
            pixels, _ = devices.camera.frame()
            if not commands or bus_losses(devices) == before:
                return pixels
        raise TransportError(
            f"the bus was lost {MOST_TIMES} times while lamps were lit; check its plug, then go on "
            "from the same lamps"
        )

    def lighten(self) -> None:
        """Make the bench light again, where it was made dark."""
        if self.dark:
            self.dark = False
            self._devices.darken(False)


def stays_on(group: LampGroup) -> bool:
    """Whether a lamp of the group goes out only when the cluster is switched off."""
    return any(isinstance(lamp.signal, LampFrameFile) for lamp in group.lamps)


def lamps_said(lamps: tuple[Lamp, ...]) -> str:
    """Lamps for people, by id and sign."""
    return ", ".join(lamp.id if lamp.sign is None else f"{lamp.id} ({lamp.sign})" for lamp in lamps)


def _told(name: str, count: int, frame: FrameStimulus) -> Command:
    return Command(f"lamps {name}", UNIT, count, count, 0.0, frame)


def _repeated(stated: LampFrameFile) -> FrameStimulus:
    frame = Frame.parse(stated.frame)
    mask = (1 << 8 * len(frame.data)) - 1
    period_s, bitrate = stated.period_ms / 1000, stated.bitrate
    return FrameStimulus(frame.arbitration_id, frame.extended, frame.data, mask, period_s, bitrate)
