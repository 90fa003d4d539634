"""A burn-in at the bench: turn by turn until its hours are full, whatever ends it kept."""

from contextlib import suppress

from needlewright.amounts import hours_words
from needlewright.bench.burn_in.acts import Acts
from needlewright.bench.burn_in.attended import Attended, Listeners
from needlewright.bench.burn_in.journal import Ended, Ending, Journal, Visited, now
from needlewright.bench.burn_in.noticed import Noticed
from needlewright.bench.burn_in.plan import refuse_plan
from needlewright.bench.checks import LookThrough
from needlewright.bench.devices import CutShort, Devices, Wishes
from needlewright.bench.settling import LOOK_S
from needlewright.errors import OverCurrentError, RunError, TransportError, UnusableInput
from needlewright.families.model import Family
from needlewright.signals.instruments import NO_INSTRUMENTS, Instruments

__all__ = ["BurnInRun", "Listeners"]

STOPPED = "stopped by the person at the bench"


class BurnInRun:
    """Carries a burn-in out, from where its journal stands.

    Parameters
    ----------
    journal
        With the plan and what has happened.
    family
        The cluster design.
    devices
        The bench; its transport is open.
    limit_a
        More than this must not be drawn, amperes.
    instruments
        Of the bench.
    wishes
        Of the person.
    listeners
        Who is told.
    look_through
        Follows the video of each sweep; None: nobody does.

    Raises
    ------
    RunError
        If the plan cannot be carried out.
    """

    def __init__(
        self,
        journal: Journal,
        family: Family,
        devices: Devices,
        limit_a: float,
        *,
        instruments: Instruments = NO_INSTRUMENTS,
        wishes: Wishes | None = None,
        listeners: Listeners | None = None,
        look_through: LookThrough | None = None,
    ) -> None:
        self._plan = journal.begun.plan
        refuse_plan(self._plan, family)
        self._journal, self._devices = journal, devices
        self._wishes = wishes or Wishes()
        self._at = Attended(journal, devices, limit_a, listeners or Listeners())
        self._acts = Acts(self._at, family, instruments, self._wishes, look_through)

    def go(self) -> Ended:
        """Do what is left of it.

        Returns
        -------
        Ended
            `finished`; `stopped` by the person; `failed` with the reason. The power is off then.
        """
        state: Ending = "finished"
        words = _done_words(self._plan.hours)
        wrong: list[str] = []
        came: Noticed | None = None
        try:
            self._acts.light_by_hand()
            if not self._go_on():
                state, words = "stopped", STOPPED
        except UnusableInput as error:
            state, words = "failed", str(error)
            came = _came_of(error)
        except (KeyboardInterrupt, CutShort):
            self._wishes.want("stop")
            state, words = "stopped", STOPPED
        finally:
            self._switch_off(wrong)
        if came is not None:
            with suppress(UnusableInput):  # its sentence is the end's in any case
                self._at.notice(came)
        if wrong:
            words = f"{words}; and it could not be switched off: {'; and '.join(wrong)}"
        ended = Ended(at=now(), counts=self._at.counts, state=state, words=words)
        try:
            self._journal.write(ended)
        except RunError as error:
            more = words if str(error) in words else f"{words}; {error}"
            return ended.model_copy(update={"state": "failed", "words": more})
        return ended

    def _go_on(self) -> bool:
        """Whether everything is done; else the person stopped it."""
        while not self._wishes.stopping:
            if self._is_visit_due:
                self._acts.visit(self._visits)
                continue
            if self._is_full:
                return True
            if self._wishes.look() == "pause":
                self._acts.key.turn(on=False)
                self._devices.wait(LOOK_S)
                continue
            for _ in range(self._plan.sweeps_each):
                if self._is_full or self._wishes.stopping:
                    break
                self._acts.sweep()
            if not self._is_full:
                self._acts.dwell()
        return False

    @property
    def _is_full(self) -> bool:
        return self._at.counts.powered_s >= self._plan.hours * 3600.0

    @property
    def _visits(self) -> int:
        return sum(isinstance(one, Visited) for one in self._journal.lines)

    @property
    def _is_visit_due(self) -> bool:
        done = [one for one in self._journal.lines if isinstance(one, Visited)]
        if not done:
            return True
        last_s = done[-1].counts.powered_s
        if self._is_full:
            return last_s < self._plan.hours * 3600.0
        return self._at.counts.powered_s - last_s >= self._plan.check_every_h * 3600.0

    def _switch_off(self, wrong: list[str]) -> None:
        """Take everything off, the power too, whatever one of them says."""

        def power_off() -> None:
            if self._acts.key.may_be_on:
                self._devices.key(False)

        for act in (self._devices.transport.stop, power_off):
            try:
                act()
            except (CutShort, KeyboardInterrupt):  # the person is told, and not waited for
                continue
            except UnusableInput as error:
                wrong.append(str(error))


def _came_of(error: UnusableInput) -> Noticed | None:
    """The event that a device ended the run by."""
    if isinstance(error, OverCurrentError):
        return Noticed("over_current", "cluster", str(error))
    if isinstance(error, TransportError):
        return Noticed("device", "bench", str(error))
    return None


def _done_words(hours: float) -> str:
    said = hours_words(hours)
    return f"all of {said} is done" if said.startswith("1 ") else f"all {said} are done"
