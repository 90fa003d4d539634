"""The cluster's key: how often it was turned on, and what the cluster drew each time."""

from collections.abc import Callable
from typing import Final

from needlewright.bench.devices import Devices, Wishes
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
        drawn: Callable[[RestCurrent], None],
    ) -> None:
        self._devices, self._wishes, self._wait, self._drawn = devices, wishes, wait, drawn
        self.on: bool | None = None
        """Whether it is on; None: nobody has turned it yet."""
        self.key_ons = key_ons

    def come_to(self, key_ons: int, *, on: bool) -> bool:
        """Turn it as often as a step wants.

        Parameters
        ----------
        key_ons
            At least so many key-ons.
        on
            Whether it must be on then; it may be on otherwise too.

        Returns
        -------
        bool
            False: the person stopped it.
        """
        while self.key_ons < key_ons or (on and not self.on):
            if self._wishes.stopping:
                return False
            self.turn(on=False)
            self.turn(on=True)
        return True

    def turn(self, *, on: bool) -> None:
        """Turn it, if it does not stand there already, and wait for what follows.

        Parameters
        ----------
        on
            Whether it is on then.
        """
        if on == self.on:
            return
        was_on = self.on
        if not on:
            self.off_at_once()
            if was_on:
                self._wait(KEY_OFF_S)
            return
        self.on = True
        self._devices.key(True)
        self.key_ons += 1
        self._wait(HOMING_S)
        self._ask_current()

    def off_at_once(self) -> None:
        """Take everything off the wires and turn it off, without waiting."""
        self.on = False
        self._devices.transport.stop()
        self._devices.key(False)

    def _ask_current(self) -> None:
        if self._wishes.stopping:
            return
        amperes = self._devices.supply_a()
        if amperes is not None:
            self._drawn(RestCurrent(self.key_ons, self._devices.supply_v(), amperes))
