"""The cluster's key: how often it was turned on, and what the cluster drew each time."""

from collections.abc import Callable
from typing import Final

from needlewright.bench.devices import CutShort, Devices, Wish, Wishes
from needlewright.bench.outcome import RestCurrent

HOMING_S: Final = 4.0
"""So long a cluster is given to find its zero after key-on; common practice, no source."""
KEY_OFF_S: Final = 2.5
"""So long needles are given to fall to rest after key-off; common practice, no source."""


class ClusterKey:
    """Turns the key, and waits for what follows.

    Parameters
    ----------
    devices
        Of the bench.
    wishes
        Of the person.
    key_ons
        Key-ons of the run so far.
    wait
        Lets time pass; cut short by a stop.
    counted
        Told the key-ons so far, at each.
    drawn
        Told what the cluster draws once it has come to rest after a key-on.
    """

    def __init__(
        self,
        devices: Devices,
        wishes: Wishes,
        key_ons: int,
        *,
        wait: Callable[[float], None],
        counted: Callable[[int], None],
        drawn: Callable[[RestCurrent], None],
    ) -> None:
        self._devices, self._wishes, self._wait = devices, wishes, wait
        self._counted, self._drawn = counted, drawn
        self.on: bool | None = None
        """Whether it is on; None: nobody has turned it yet, or nobody knows whether it was."""
        self._asked = False
        self.key_ons = key_ons

    @property
    def may_be_on(self) -> bool:
        """Whether it is on, or somebody was asked to turn it and nobody knows what came of that."""
        return bool(self.on) or (self.on is None and self._asked)

    def come_to(self, key_ons: int, *, on: bool) -> Wish | None:
        """Turn it as often as a step wants.

        Parameters
        ----------
        key_ons
            At least so many key-ons.
        on
            Whether it must be on then; it may be on otherwise too.

        Returns
        -------
        Wish or None
            What the person wants instead; None: it is there.
        """
        while self.key_ons < key_ons or (on and not self.on):
            if self._wishes.stopping:
                return "stop"
            if not (self.turn(on=False) and self.turn(on=True)):
                wish = self._wishes.instead()
                if wish is not None:
                    return wish
        return "stop" if self._wishes.stopping else None

    def come_off(self) -> Wish | None:
        """Turn it off.

        Returns
        -------
        Wish or None
            What the person wants instead; None: it is off.
        """
        while not self.turn(on=False):
            wish = self._wishes.instead()
            if wish is not None:
                return wish
        return None

    def turn(self, *, on: bool) -> bool:
        """Turn it, if it does not stand there already, and wait for what follows.

        Parameters
        ----------
        on
            Whether it is on then; it is not turned on any more once the run is to stop.

        Returns
        -------
        bool
            Whether it stands there; False: something else is wanted.
        """
        if on == self.on:
            return True
        if not on:
            is_to_fall = self.may_be_on
            self.off_at_once()
            if is_to_fall:
                self._wait(KEY_OFF_S)
            return self.on is False
        if self._wishes.stopping or not self._turned(on=True):
            return False
        self.key_ons += 1
        self._counted(self.key_ons)
        self._wait(HOMING_S)
        self._ask_current()
        return True

    def off_at_once(self) -> None:
        """Take everything off the wires and turn it off, without waiting."""
        self._devices.transport.stop()
        self._turned(on=False)

    def _turned(self, *, on: bool) -> bool:
        """Have it turned; until that is done nobody knows where it stands."""
        self.on, self._asked = None, self._asked or on
        try:
            self._devices.key(on)
        except CutShort:
            return False
        self.on = on
        return True

    def _ask_current(self) -> None:
        if self._wishes.stopping:
            return
        amperes = self._devices.supply_a()
        if amperes is not None:
            self._drawn(RestCurrent(self.key_ons, self._devices.supply_v(), amperes))
