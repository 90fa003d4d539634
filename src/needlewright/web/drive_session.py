"""A movement driven to the value its needle is pressed at, while a live picture is looked at."""

import logging
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import partial
from threading import Condition, Event, Thread
from typing import Final

import cv2

from needlewright.bench.devices import CutShort, Devices, Wishes
from needlewright.bench.key import HOMING_S
from needlewright.errors import ConflictError, NeedlewrightError
from needlewright.families.model import Dial
from needlewright.readings.runs import Approach
from needlewright.signals.instruments import Instruments
from needlewright.signals.wiring import signal_of
from needlewright.web.bench_order import Order
from needlewright.web.bench_person import PersonAtPage
from needlewright.web.bench_thread import BenchThread
from needlewright.web.live_session import LiveSession, Offered

LEAD_S: Final = 4.0
"""So long a needle is given to come to the far side, from which it is driven to its value (common
practice, no source)."""
END_WITHIN_S: Final = 20.0
READ_WITHIN_S: Final = 5.0
"""So long a rehearsal waits for a picture to be looked at: a needle whose frames are passed over
for a second of its clock counts as unseen, however still it stands."""
ALONE_S: Final = 30.0
"""So long a cluster stays switched on without a picture or a word from a page (common practice, no
source)."""
LEFT_S: Final = 5.0
"""The same once a page has said that it is closed; a page that is loaded again is back by then."""
LOOK_AFTER_S: Final = 1.0
IDLE_S: Final = 0.25
"""Between two looks at the camera while nobody looks on."""
ALONE: Final = (
    "no page has looked on any more, so the cluster was switched off and everything taken off its "
    "wires; start it again"
)
FAILED: Final = "driving failed; the terminal of the workbench says why; start it again"
log = logging.getLogger("needlewright.web")


@dataclass(frozen=True, slots=True)
class Aim:
    """Where a movement is to be driven."""

    dial: str
    value: float
    lead: float
    """From which value it is come to, so that it is approached from the right side."""


@dataclass(frozen=True, slots=True)
class DriveState:
    """How it stands, for the page."""

    is_on: bool
    dial: str = ""
    words: str = ""
    """What is told, or how it ended."""
    lines: tuple[str, ...] = ()
    """What the person is to do by hand."""
    asked: int | None = None
    """Number of that instruction; None: nobody is waited for."""


def aim_of(dial: Dial, value: float, approach: Approach) -> Aim:
    """Come to a value from below or from above.

    Parameters
    ----------
    dial
        The dial.
    value
        To be told, in its unit.
    approach
        From which side.

    Returns
    -------
    Aim
        Led in from the scale's first mark, or from its last one that a sound unit reaches.
    """
    low, high = dial.scale.values[0], dial.scale.values[-1]
    return Aim(dial.id, value, low if approach == "up" else max(high, value))


class DriveSession:
    """Holds one bench's devices: tells, keeps telling, and hands the camera's frames over.

    Parameters
    ----------
    order
        At which bench, and of which family.
    thread
        Which has opened the devices.
    devices
        Open.
    person
        Does by hand what no device carries.
    wishes
        Of whoever stops it.
    instruments
        Of the bench.
    clock
        Seconds, by which it is told how long nobody has looked on.
    """

    def __init__(
        self,
        order: Order,
        thread: BenchThread,
        devices: Devices,
        *,
        person: PersonAtPage,
        wishes: Wishes,
        instruments: Instruments,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._order, self._thread, self._devices = order, thread, devices
        self._person, self._wishes, self._instruments = person, wishes, instruments
        self._changed = Condition()
        self._aim: Aim | None = None
        self._pictures: list[LiveSession] = []
        self._state = DriveState(is_on=True)
        self._is_stopped = self._is_alone = False
        self._clock, self._until_s, self._is_left = clock, clock() + ALONE_S, False
        self._count = 0
        self.ended = Event()
        self.on_end: Callable[[], None] = lambda: None

    @property
    def state(self) -> DriveState:
        """How it stands."""
        with self._changed:
            state = self._state
        if not state.is_on:
            return state
        return replace(state, lines=self._person.lines, asked=self._person.asked)

    @property
    def person(self) -> PersonAtPage:
        """Whoever does something by hand."""
        return self._person

    def start(self) -> None:
        """Begin."""
        self._thread.carry_out(self._work)
        Thread(target=self._watch, name="drive watch", daemon=True).start()

    def to(self, aim: Aim) -> None:
        """Drive a movement somewhere; the newest word counts."""
        with self._changed:
            if self._is_stopped or self.ended.is_set():
                raise ended()
            self._aim = aim
            self._stay()
            self._changed.notify_all()

    def here(self) -> None:
        """Somebody has it on a page."""
        with self._changed:
            self._stay()

    def leave(self) -> None:
        """A page that had it is closed; unless another one has, it does not stay on for long."""
        with self._changed:
            self._is_left, self._until_s = True, self._clock() + LEFT_S

    def look_after(self) -> None:
        """Switch off where nobody looks on any more; called again and again."""
        with self._changed:
            if self._is_stopped or self._pictures or self._clock() < self._until_s:
                return
            self._is_alone = True
        self.stop()

    def attach(self, picture: LiveSession) -> None:
        """Hand the camera's frames to a live picture."""
        with self._changed:
            self._pictures.append(picture)
            self._stay()
            self._changed.notify_all()

    def detach(self, picture: LiveSession) -> None:
        """No more frames for that one."""
        with self._changed, suppress(ValueError):
            self._pictures.remove(picture)
            self._until_s = self._clock() + (LEFT_S if self._is_left else ALONE_S)

    def stop(self) -> None:
        """Take everything off and free the bench."""
        with self._changed:
            self._is_stopped = True
            self._changed.notify_all()
        self._wishes.want("stop")
        self._person.cut_short()

    def close(self) -> None:
        """Stop, and wait until the bench is free."""
        self.stop()
        self._thread.join(END_WITHIN_S)

    def _stay(self) -> None:
        self._is_left, self._until_s = False, self._clock() + ALONE_S

    def _watch(self) -> None:
        """In a thread of its own: driving may wait for a person, and nobody may be there."""
        while not self.ended.wait(LOOK_AFTER_S):
            self.look_after()

    def _work(self) -> None:
        cv2.setNumThreads(1)  # the page is answered by the other cores
        words = ""
        try:
            self._drive()
        except CutShort:
            pass
        except NeedlewrightError as error:
            words = str(error)
        except Exception:
            log.exception("driving a movement")
            words = FAILED
        finally:
            words = words or (ALONE if self._is_alone else "")
            words = "; ".join(filter(None, (words, self._let_go())))
            with self._changed:
                self._pictures.clear()
                self._state = DriveState(is_on=False, words=words)
            self.on_end()
            self.ended.set()

    def _drive(self) -> None:
        self._devices.key(True)
        self._look_on(HOMING_S)
        while not self._is_stopped:
            with self._changed:
                aim, self._aim = self._aim, None
                is_idle = aim is None and not self._pictures
                if is_idle:
                    self._changed.wait(IDLE_S)
            if is_idle:
                self._devices.transport.check()
                continue
            if aim is None:
                self._look_on(0.0)
                continue
            for value, seconds in ((aim.lead, LEAD_S), (aim.value, 0.0)):
                self._tell(aim.dial, value)
                self._look_on(seconds)

    def _tell(self, dial: str, value: float) -> None:
        command = signal_of(self._order.family, dial).command(value, bench=self._instruments)
        self._devices.transport.apply(command)
        with self._changed:
            self._state = DriveState(is_on=True, dial=dial, words=f"{value:g}")

    def _look_on(self, seconds: float) -> None:
        """Hand frames over for so long by the camera's clock, one at least.

        With each it is asked whether all is well on the wires: a supply that limits its current
        says so then, and everything is switched off.
        """
        began_s: float | None = None
        while not self._is_stopped:
            self._devices.transport.check()
            pixels, t_s = self._devices.camera.frame()
            with self._changed:
                pictures = tuple(self._pictures)
            self._count += 1
            for one in pictures:
                one.offer(Offered(self._count, t_s, None, pixels))
            if self._order.choice.is_rehearsal:  # its clock goes on by frames, and waits for eyes
                for one in pictures:
                    one.await_taken(READ_WITHIN_S)
            began_s = t_s if began_s is None else began_s
            if t_s - began_s >= seconds:
                return

    def _let_go(self) -> str:
        """Everything off; what could not be switched off, in words."""
        wrong = []
        for act in (self._devices.transport.stop, partial(self._devices.key, False),
                    self._thread.let_go):  # fmt: skip
            try:
                act()
            except CutShort:
                continue
            except NeedlewrightError as error:
                wrong.append(str(error))
        return "; ".join(wrong)


def ended() -> ConflictError:
    """What is said where nothing drives any more."""
    return ConflictError(
        "bench: nothing drives these needles any more; start it again, or tell the movement by hand"
    )
