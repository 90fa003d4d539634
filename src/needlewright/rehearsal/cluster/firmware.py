"""What the firmware of a cluster does with one dial: hear, home, follow, and fall to rest."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.errors import ScaleError, SignalError
from needlewright.families.model import Dial
from needlewright.rehearsal.cluster.consumption import CoilCurrent
from needlewright.rehearsal.cluster.faults import DialFaults
from needlewright.rehearsal.movement.figures import REFERENCE_DEGC
from needlewright.rehearsal.movement.shown import DialMovement, movement_of
from needlewright.signals.model import Frame, Stated, Stimulus
from needlewright.signals.signal import Signal

LEAST_PATIENCE_S: Final = 1.0
PERIODS_MISSED: Final = 5
"""Frames missed before a signal is taken to be gone; common practice, no source."""
PAST_END_DEG: Final = 8.0
"""How far past its last mark the firmware lets a needle go."""
REST_S: Final = 0.6
"""So long the firmware holds a needle at rest before it cuts the current."""
FloatArray = NDArray[np.float64]


class DialFirmware:
    """One dial of a running cluster.

    Parameters
    ----------
    dial
        The dial.
    signal
        What it hears; None: it hears nothing.
    faults
        What is wrong with it.
    temperature_degc
        Of its movement.
    rng
        Of what is erratic.
    """

    def __init__(
        self,
        dial: Dial,
        signal: Signal | None,
        faults: DialFaults,
        *,
        temperature_degc: float = REFERENCE_DEGC,
        rng: np.random.Generator,
    ) -> None:
        self.dial, self.signal, self.faults = dial, signal, faults
        self._rng = rng
        at = dial.rest_angle_deg if faults.stands_deg is None else faults.stands_deg
        self.movement: DialMovement = movement_of(
            dial,
            faults.movement,
            driver=faults.driver,
            temperature_degc=temperature_degc,
            at_angle_deg=at,
        )
        self._rate_deg_s = faults.driver.rate_deg_s
        period_s = None if signal is None else signal.period_s
        self.patience_s = max(LEAST_PATIENCE_S, PERIODS_MISSED * (period_s or 0.0))
        """How long no frame may come before the needle falls to rest."""
        self.tick_s = self.movement.running.tick_s
        self.on = False
        self.told: float | None = None
        """What it follows, dial's unit; None: nothing is heard."""
        self._heard_s = -np.inf
        self._steady = False
        self._scatter_deg = 0.0
        self._playing: FloatArray = np.empty(0)
        self._coils = CoilCurrent(self.movement.running)
        self._playing_a = 0.0
        self._owed, self._last = 0, 0
        """Ticks that have passed and are not worked out yet, and how many of them came last."""
        self._heard: dict[int, tuple[Frame, Stated | None]] = {}
        """What the last frame of each identifier states: most of them say the same again."""
        self.current_a = 0.0
        """What its coils draw from the supply, the mean of the last stretch."""

    @property
    def angle_deg(self) -> float:
        """Direction of the needle on the face now, degrees clockwise from 12 o'clock."""
        at = self.movement.angle_deg if not len(self._playing) else float(self._playing[0])
        return self._seated(at)

    def hear(self, stimulus: Frame | Stimulus, now_s: float, *, steady: bool = False) -> bool:
        """Take a frame, or what stands on the dial's own wire, in.

        Parameters
        ----------
        stimulus
            As received.
        now_s
            When.
        steady
            Whether it stays until it is taken off.

        Returns
        -------
        bool
            Whether it states a value to this dial.
        """
        stated = self._stated(stimulus)
        if stated is None or stated.value is None:
            return False
        if self.told is None or stated.value != self.told:
            self.catch_up()
            self._scatter_deg = float(self._rng.normal(0.0, self.faults.scatter_deg))
        self.told, self._heard_s, self._steady = stated.value, now_s, steady
        return True

    def _stated(self, stimulus: Frame | Stimulus) -> Stated | None:
        """What a stimulus states to this dial; None: it is not for it."""
        if self.signal is None:
            return None
        if isinstance(stimulus, Frame):
            known = self._heard.get(stimulus.arbitration_id)
            if known is not None and known[0] == stimulus:
                return known[1]
        try:
            stated = self.signal.stated_by(stimulus)
        except SignalError:
            stated = None
        if isinstance(stimulus, Frame):
            self._heard[stimulus.arbitration_id] = stimulus, stated
        return stated

    def hear_nothing(self) -> None:
        """Take what stood on the dial's own wire off."""
        if self._steady:
            self.told, self._steady = None, False

    def key_on(self) -> None:
        """Home without asking where the needle stands."""
        if not self.on:
            self.on, self.told, self._steady = True, None, False
            self._play(self.movement.key_on())

    def key_off(self) -> None:
        """Drive the needle to rest, then cut the current."""
        if not self.on:
            return
        self.on, self.told, self._steady = False, None, False
        way_s = abs(self.movement.angle_deg - self.dial.rest_angle_deg) / self._rate_deg_s
        rest = np.full(round((way_s + REST_S) / self.tick_s), self.dial.rest_angle_deg)
        self._play(self.movement.follow(rest))
        self._play(self.movement.key_off())

    def run(self, ticks: int, now_s: float, *, times: int = 1) -> None:
        """Let so many ticks of the firmware pass; `catch_up` works out what they did.

        Parameters
        ----------
        ticks
            How many.
        now_s
            Time at their beginning, seconds.
        times
            So often in a row; nothing that was told may lapse meanwhile.
        """
        if now_s - self._heard_s > self.patience_s and self._may_lapse:
            self.catch_up()
            self.told = None
        self._owed, self._last = self._owed + ticks * times, ticks

    @property
    def lapses_s(self) -> float:
        """When what was told is so old that it is given up; infinite: never."""
        return self._heard_s + self.patience_s if self._may_lapse else np.inf

    @property
    def _may_lapse(self) -> bool:
        return self.told is not None and not self._steady

    def catch_up(self) -> None:
        """Work out what the movement did in the ticks that have passed.

        Nothing that it follows has changed in them, so they are one stretch; the last of them
        are another, over which the current is the mean.
        """
        owed, last = self._owed, self._last
        self._owed = self._last = 0
        for ticks in (owed - last, last):
            if ticks > 0:
                self._go_on(ticks)

    def _go_on(self, ticks: int) -> None:
        done = min(ticks, len(self._playing))
        self._playing = self._playing[done:]
        self.current_a = self._playing_a
        if self.on and ticks > done:
            self.movement.follow(np.full(ticks - done, self.target_deg()))
            self.current_a = self._coils.over((ticks - done) * self.tick_s)
        elif not self.on and ticks > done:
            self.current_a = 0.0

    def target_deg(self) -> float:
        """Where the firmware wants the needle: by its programme, or at rest."""
        if self.told is None:
            return self.dial.rest_angle_deg
        dial, sense = self.dial, self.dial.scale.sense
        first, last = dial.scale.angles_deg[0], dial.scale.angles_deg[-1]
        shown = self.faults.factor * dial.programme.shown_at(self.told)
        try:
            angle = dial.scale.angle_at(shown)
        except ScaleError:
            angle = last + sense * 360.0 if shown > dial.scale.values[0] else first - sense * 360.0
        share = float(np.clip((angle - first) / (last - first), 0.0, 1.0))
        angle += self.faults.shape_deg * float(np.sin(np.pi * share)) + self._scatter_deg
        low = sense * dial.stop_angle_deg
        return sense * float(np.clip(sense * angle, low, sense * last + PAST_END_DEG))

    def _play(self, angles: FloatArray) -> None:
        self._playing = np.concatenate([self._playing, angles])
        self._playing_a = self._coils.over(len(angles) * self.tick_s)

    def _seated(self, shaft_deg: float) -> float:
        """The needle on a shaft: turned by its offset, and held by a pin on the face.

        Blind homing drives the needle itself against such a pin, so only what is left of the
        offset after whole cycles shows; a stop inside the movement knows nothing of the needle.
        """
        if not self.dial.rest_pin:
            return shaft_deg + self.faults.offset_deg
        sense, pin = self.dial.scale.sense, self.dial.rest_angle_deg
        angle = shaft_deg + self.shown_offset_deg
        return sense * max(sense * angle, sense * pin)

    @property
    def shown_offset_deg(self) -> float:
        """What of the needle's offset shows after homing, degrees clockwise."""
        offset = self.faults.offset_deg
        if not self.dial.rest_pin or self.dial.movement.kind != "stepper":
            return offset
        cycle = self.dial.movement.cycle_deg
        return offset - cycle * round(offset / cycle)
