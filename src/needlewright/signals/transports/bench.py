"""The transports of one bench, as its settings and the family say."""

from collections.abc import Callable

from needlewright.families.signal_file import SupplyFile
from needlewright.signals.settings import BenchSettings
from needlewright.signals.transports.bus import BusTransport
from needlewright.signals.transports.by_hand import HandTransport
from needlewright.signals.transports.recording import Recorder
from needlewright.signals.transports.supply import SupplyTransport
from needlewright.signals.transports.together import TransportsTogether
from needlewright.signals.transports.transport import Transport


class Bench(TransportsTogether):
    """The supply, the bus adapter and the person of one bench.

    Parameters
    ----------
    settings
        Of the bench; a device that is not stated is not there.
    limits
        The family's, for the supply; None: the defaults.
    show
        Puts lines before the person who does the rest by hand.
    wait
        Returns True when the person has done it, False when it is given up.
    in_vehicle
        Whether somebody has said that sending in a vehicle is meant.
    recorder
        Takes every message received.
    """

    def __init__(
        self,
        settings: BenchSettings,
        limits: SupplyFile | None,
        *,
        show: Callable[[list[str]], None],
        wait: Callable[[], bool],
        in_vehicle: bool = False,
        recorder: Recorder | None = None,
    ) -> None:
        self.supply: SupplyTransport | None = None
        self.bus: BusTransport | None = None
        parts: list[Transport] = []
        if settings.supply is not None:
            self.supply = SupplyTransport(settings.supply, limits or SupplyFile())
            parts.append(self.supply)
        if settings.bus is not None:
            self.bus = BusTransport(settings.bus, in_vehicle=in_vehicle, recorder=recorder)
            parts.append(self.bus)
        super().__init__([*parts, HandTransport(show, wait)])

    def power(self) -> None:
        """Feed the cluster at the family's voltage, where the bench has a supply."""
        if self.supply is not None:
            self.apply(self.supply.power())
