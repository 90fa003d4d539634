"""What happened to a needle in a sweep: an event, named by the one vocabulary of faults."""

from dataclasses import dataclass
from typing import Final, Literal

EventFault = Literal["lost_steps", "dragging", "stalled", "blocked", "backlash"]
EVENT_FAULTS: Final[tuple[EventFault, ...]] = (
    "lost_steps",
    "dragging",
    "stalled",
    "blocked",
    "backlash",
)


@dataclass(frozen=True, slots=True)
class Event:
    """One thing that went wrong at a time.

    Parameters
    ----------
    t_s
        When, in the video's presentation time: the middle of what it took.
    dial
        The dial's id.
    fault
        Its code.
    size_deg
        `lost_steps`: whole cycles of the movement, positive clockwise; `dragging`: largest lag,
        0 or more; `backlash`: rising against falling, 0 or more; `stalled`, `blocked`: where the
        needle stands.
    u_size_deg
        Standard uncertainty (k = 1) of what was measured. That a slip is a whole number of cycles
        is then used to state it.
    """

    t_s: float
    dial: str
    fault: EventFault
    size_deg: float
    u_size_deg: float
