"""The lamps of a simulated cluster: what switches them, which of them light, what they draw."""

from collections.abc import Iterable, Mapping
from math import inf
from typing import Final

from needlewright.errors import SignalError
from needlewright.families.lamps import Dm1File, Lamp, LampFrameFile
from needlewright.families.model import Family
from needlewright.rehearsal.cluster.faults import Injected
from needlewright.signals.dm1 import PERIOD_S, lamps_in
from needlewright.signals.model import Frame

BULB_W: Final = 1.2
"""Of a wedge lamp of a cluster, at its rated voltage; from memory."""
RATED_V: Final = 13.5
LIGHT_EXPONENT: Final = 3.4
CURRENT_EXPONENT: Final = 0.55
"""Light and current of a lamp go as these powers of its voltage over the rated one.

Source: Standard Handbook for Electrical Engineers, 11th ed., 22-8, seen second-hand."""
PERIODS_MISSED: Final = 5
"""Frames missed before a lamp goes out; common practice, no source."""


class LampBank:
    """The lamps of one cluster.

    Parameters
    ----------
    family
        The design.
    injected
        What is wrong with this unit; faults of dials are passed over.
    """

    def __init__(self, family: Family, injected: Iterable[Injected] = ()) -> None:
        self.lamps: dict[str, Lamp] = {
            lamp.id: lamp for lamp in (*family.lamps, *family.tell_tales)
        }
        self._sound = dict.fromkeys(self.lamps, 1.0)
        for fault in injected:
            if fault.dial not in self.lamps:
                continue
            if fault.code in ("lamp_out", "tell_tale_dead"):
                self._sound[fault.dial] = 0.0
            elif fault.code == "lamp_dim":
                self._sound[fault.dial] = fault.size or 0.0
        self._by_hand: set[str] = set()
        self._until_s: dict[str, float] = {}
        self._heard: dict[int, tuple[Frame, dict[str, tuple[bool, float]]]] = {}
        """What the last frame of each identifier says: most of them say the same again."""

    def switch(self, names: Iterable[str], on: bool) -> None:
        """Switch lamps that no frame switches.

        Parameters
        ----------
        names
            Ids.
        on
            Whether they are on then.
        """
        (self._by_hand.update if on else self._by_hand.difference_update)(names)

    def hear(self, frame: Frame, now_s: float) -> None:
        """Take a frame in.

        Parameters
        ----------
        frame
            As received.
        now_s
            When.
        """
        known = self._heard.get(frame.arbitration_id)
        if known is None or known[0] != frame:
            every = {name: _stated(lamp, frame) for name, lamp in self.lamps.items()}
            known = frame, {name: one for name, one in every.items() if one is not None}
            self._heard[frame.arbitration_id] = known
        for name, (on, period_s) in known[1].items():
            self._until_s[name] = now_s + PERIODS_MISSED * period_s if on else -inf

    def all_off(self) -> None:
        """The key is turned off."""
        self._until_s.clear()

    def shares(self, now_s: float) -> Mapping[str, float]:
        """Light of every lamp that is switched on, as a share of a sound one's.

        Parameters
        ----------
        now_s
            The cluster's time.

        Returns
        -------
        Mapping
            By id; a dead lamp that is switched on gives 0.
        """
        return {
            name: self._sound[name]
            for name in self.lamps
            if name in self._by_hand or self._until_s.get(name, -inf) > now_s
        }

    def current_a(self, now_s: float, volts: float) -> float:
        """What the lamps draw.

        An aged lamp is taken to burn at the lower voltage that gives its light: with what its
        socket or its filament has gained in resistance.

        Parameters
        ----------
        now_s
            The cluster's time.
        volts
            Of the supply.

        Returns
        -------
        float
            Amperes; a dead lamp draws none.
        """
        over_rated = volts / RATED_V
        drawn = [
            (over_rated * share ** (1 / LIGHT_EXPONENT)) ** CURRENT_EXPONENT
            for share in self.shares(now_s).values()
            if share > 0.0
        ]
        return BULB_W / RATED_V * float(sum(drawn))


def _stated(lamp: Lamp, frame: Frame) -> tuple[bool, float] | None:
    """Whether a frame switches a lamp on, and how often it is repeated; None: it says nothing."""
    signal = lamp.signal
    if isinstance(signal, Dm1File):
        if frame.arbitration_id & 0xFF != signal.source:
            return None
        try:
            return lamps_in(frame)[signal.lamp] not in ("off", "not_available"), PERIOD_S
        except SignalError:
            return None
    if isinstance(signal, LampFrameFile) and Frame.parse(signal.frame) == frame:
        return True, signal.period_ms / 1000
    return None
