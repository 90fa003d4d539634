"""Whether the bus was there all the time, so that what was told was heard."""

from needlewright.bench.devices import Devices, Wishes
from needlewright.bench.settling import LONGEST_S, LOOK_S
from needlewright.errors import TransportError


def bus_losses(devices: Devices) -> int:
    """How often the bus was lost; one more while it is away.

    Parameters
    ----------
    devices
        Of the bench.

    Returns
    -------
    int
        0 where there is no bus. The same number before and after something: it was there.
    """
    status = devices.bus()
    return 0 if status is None else status.drops + (0 if status.up else 1)


def wait_for_bus(devices: Devices, wishes: Wishes) -> None:
    """Wait until the bus is there or the person stops; not for ever, whatever its transport says.

    Parameters
    ----------
    devices
        Of the bench.
    wishes
        Of the person.

    Raises
    ------
    TransportError
        If it stays away too long.
    """
    waited_s = 0.0
    while (status := devices.bus()) is not None and not status.up:
        if wishes.stopping:
            return
        if waited_s > LONGEST_S:
            raise TransportError(
                f"the bus is not there ({status.words}); check the plug and the power, then go on "
                "from the same step"
            )
        devices.wait(LOOK_S)
        devices.transport.check()
        waited_s += LOOK_S
