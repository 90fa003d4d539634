"""Which frame is due when: cyclic sending as plain arithmetic on a clock that is handed in."""

from collections.abc import Iterable
from dataclasses import dataclass

from needlewright.errors import TransportError
from needlewright.signals.model import Frame, FrameStimulus
from needlewright.signals.sharing import Slot, shared_frames


@dataclass(slots=True)
class _Slot:
    stimulus: FrameStimulus
    period_s: float
    due_s: float
    count: int = 0


class Schedule:
    """The frames that are repeated, each at its own rate."""

    def __init__(self) -> None:
        self._slots: dict[Slot, _Slot] = {}

    def replace(self, stimuli: Iterable[FrameStimulus], now_s: float) -> None:
        """Repeat these from now on and no others.

        Parameters
        ----------
        stimuli
            Those of one frame are joined.
        now_s
            A frame that is new is due now; one that was repeated before keeps its beat and its
            count, so that a cluster that watches a rolling counter sees no jump.

        Raises
        ------
        TransportError
            If a frame has no rate.
        SignalError
            If two dials contradict each other in one frame.
        """
        slots: dict[Slot, _Slot] = {}
        for key, stimulus in shared_frames(stimuli).items():
            if stimulus.period_s is None:
                raise TransportError(f"frame {stimulus.frame().text} has no rate to repeat it at")
            before = self._slots.get(key)
            due_s = now_s if before is None else min(before.due_s, now_s + stimulus.period_s)
            count = 0 if before is None else before.count
            slots[key] = _Slot(stimulus, stimulus.period_s, due_s, count)
        self._slots = slots

    def clear(self) -> None:
        """Repeat nothing."""
        self._slots = {}

    @property
    def identifiers(self) -> frozenset[tuple[int, bool]]:
        """Identifiers that are sent, and whether they are 29-bit."""
        return frozenset((number, extended) for number, extended, _ in self._slots)

    def next_due_s(self) -> float | None:
        """When the next frame is due; None: nothing is repeated."""
        return min((slot.due_s for slot in self._slots.values()), default=None)

    def take_due(self, now_s: float) -> list[tuple[Frame, float]]:
        """The frames that are due, with the time each was due at.

        Parameters
        ----------
        now_s
            The clock.

        Returns
        -------
        list
            In the order they were due; each once, however late: what was missed is left out.
        """
        due = sorted((s for s in self._slots.values() if s.due_s <= now_s), key=lambda s: s.due_s)
        taken = []
        for slot in due:
            taken.append((slot.stimulus.frame(slot.count), slot.due_s))
            slot.count += 1
            slot.due_s += slot.period_s
            if slot.due_s <= now_s:
                slot.due_s = now_s + slot.period_s
        return taken
