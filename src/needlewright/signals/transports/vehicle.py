"""What is never sent, and what is sent only when somebody means it."""

from typing import Final

from needlewright.errors import TransportError
from needlewright.signals.j1939 import PARAMETERS, group_of
from needlewright.signals.model import Frame

IN_VEHICLE_CAUTION: Final = (
    "Sending on the bus of a vehicle can set off what other units do: park it, wheels chocked, "
    "engine off unless the test needs it, nobody under or in front of it; keep off the airbag "
    "circuits, and defer to the vehicle's own manual."
)
DISTANCE_GROUP: Final = PARAMETERS[245].pgn


def refuse_in_vehicle(where: str, in_vehicle: bool) -> None:
    """Refuse to send in a vehicle unless it is meant.

    Parameters
    ----------
    where
        What the adapter is plugged into, `bench` or `vehicle`.
    in_vehicle
        Whether somebody has said that sending in a vehicle is meant.

    Raises
    ------
    TransportError
        With the caution.
    """
    if where != "bench" and not in_vehicle:
        raise TransportError(
            "nothing is sent in a vehicle unless that is said outright with --in-vehicle. "
            f"{IN_VEHICLE_CAUTION}"
        )


def never_sent(frame: Frame) -> bool:
    """Whether a frame states total distance: it is recorded, and no cluster is told another."""
    return frame.extended and group_of(frame.arbitration_id) == DISTANCE_GROUP
