"""What a burn-in does in turn: visit the check points, sweep, dwell with the lamps on."""

from collections.abc import Mapping
from typing import Final

from needlewright.bench.burn_in.attended import Attended
from needlewright.bench.burn_in.journal import Looked, Visited, now
from needlewright.bench.burn_in.lamp_turn import LampTurn
from needlewright.bench.burn_in.lamps import watched_lamps
from needlewright.bench.burn_in.noticed import Noticed
from needlewright.bench.burn_in.pictures import jpeg
from needlewright.bench.burn_in.plan import dwell_values
from needlewright.bench.burn_in.shift import ShiftWatch
from needlewright.bench.burn_in.watching import CurrentWatch, StandWatch
from needlewright.bench.checks import LookThrough
from needlewright.bench.devices import CutShort, Wish, Wishes
from needlewright.bench.fallen import Fallen
from needlewright.bench.keeping import write_whole
from needlewright.bench.key import KEY_OFF_S, ClusterKey
from needlewright.bench.lamp_check import lamp_commands
from needlewright.bench.settling import LONGEST_S, Watch, heard_after_s
from needlewright.bench.sweep_take import REST_S, SweepFilm
from needlewright.bench.sweeping import Sweeping
from needlewright.errors import PictureError, RunError, SilentClusterError, TransportError
from needlewright.families.lamps import LampGroup, lamp_groups
from needlewright.families.model import Family
from needlewright.readings.live import LiveReader
from needlewright.readings.model import Reading
from needlewright.readings.runs import RunRow
from needlewright.signals.instruments import Instruments
from needlewright.signals.model import Command
from needlewright.signals.wiring import signal_of

AWAY_LOOKS: Final = 10
"""So many looks a cluster that has started anew is given to come back by itself."""
MOST_SILENT: Final = 3
"""So often in a row the key brings a cluster back that hears nothing any more."""
VIDEO: Final = "sweep.mp4"
SWEEP_WORDS: Final[Mapping[str, str]] = {
    "lost_steps": "in the sweep the needle slipped by {size:+.1f} deg",
    "dragging": "in the sweep the needle lagged by {size:.1f} deg",
    "stalled": "in the sweep the needle did not move; it stands at {size:.1f} deg",
    "blocked": "in the sweep the needle stuck at {size:.1f} deg",
    "backlash": "in the sweep the needle showed {size:.1f} deg of play",
}


class Acts:
    """Carries them out.

    Parameters
    ----------
    attended
        The bench.
    family
        The cluster design.
    instruments
        Of the bench.
    wishes
        Of the person, while there is one.
    look_through
        Follows the video of a sweep; None: nobody does.
    """

    def __init__(
        self,
        attended: Attended,
        family: Family,
        instruments: Instruments,
        wishes: Wishes,
        look_through: LookThrough | None,
    ) -> None:
        self._at, self._family, self._instruments = attended, family, instruments
        self._wishes, self._look_through = wishes, look_through
        self._plan = attended.journal.begun.plan
        self._dials = tuple(one.id for one in family.dials if one.id in self._plan.points)
        self._reader, self._fallen = LiveReader(family), Fallen(family)
        self._watch = Watch(family, self._reader, attended.devices, wishes)
        self.key = ClusterKey(
            attended.devices,
            wishes,
            attended.counts.key_ons,
            wait=self._watch.wait,
            counted=attended.count_key_on,
            drawn=lambda current: None,
        )
        self._sweeping = Sweeping(
            family,
            attended.devices,
            instruments,
            wishes,
            reader=self._reader,
            fallen=self._fallen,
        )
        self._lamps = LampTurn(attended)
        self._needles, self._current = StandWatch(self._dials), CurrentWatch()
        self._shifts = ShiftWatch(self._plan, attended.journal.lines)
        self._silent = 0

    def light_by_hand(self) -> None:
        """Have whoever is there now switch on the lamps that no frame does; they stay on."""
        if not self._plan.lamps:
            return
        not_lit: set[str] = set()
        for group in lamp_groups((*self._family.lamps, *self._family.tell_tales)):
            by_hand = LampGroup(group.name, group.by_hand)
            try:
                if by_hand.lamps and not self._at.devices.light(by_hand, True):
                    not_lit |= {lamp.id for lamp in by_hand.lamps}
            except CutShort:
                not_lit |= {lamp.id for lamp in by_hand.lamps}
        self._lamps.watch(one for one in watched_lamps(self._family) if one.id not in not_lit)

    def visit(self, number: int) -> None:
        """Come to every check point from below, then from above, and read the needles.

        Parameters
        ----------
        number
            Of the visit.
        """
        self._at.doing("check points")
        if not self._fresh():
            return
        for step, told in enumerate(self._plan.visit()):
            commands = self._commands(told)
            self._at.devices.transport.apply(*commands)
            settled = self._watch.until_settled(list(told), heard_after_s(commands))
            if settled.outcome != "settled":
                return
            for dial in sorted(settled.hunting):
                self._at.notice(Noticed("not_settled", dial, "the needle does not come to stand"))
            if settled.standing:
                try:
                    self._read(number, step, told, settled.standing)
                except SilentClusterError as error:
                    self._silence(error)
                    return
        self._silent = 0
        lines = self._at.journal.lines
        looks = [one for one in lines if isinstance(one, Looked) and one.visit == number]
        for noticed in self._shifts.look(looks):
            self._at.notice(noticed, follows=False)
        self._at.journal.write(Visited(at=now(), counts=self._at.counts, visit=number))

    def _read(
        self, number: int, step: int, told: Mapping[str, float], standing: frozenset[str]
    ) -> None:
        journal, photo = self._at.journal, f"looks/{number:04d}-{step}.jpg"
        try:
            taken = self._reader.take(standing, photo)
        except PictureError as error:  # the next visit looks again
            self._at.notice(Noticed("not_read", "cluster", str(error)))
            return
        self._lamps.stand(taken.photo.projection)
        (journal.folder / "looks").mkdir(exist_ok=True)
        write_whole(journal.folder / photo, jpeg(taken.frame.pixels))
        readings = [one for one in taken.photo.readings if one.dial in told]
        self._fallen.judge(
            [_row(one, told[one.dial]) for one in readings if one.dial in standing],
            "at a check point",
        )
        for one in readings:
            read = one.dial in standing and one.angle_deg is not None
            journal.write(
                Looked(
                    at=now(),
                    counts=self._at.counts,
                    visit=number,
                    dial=one.dial,
                    value=told[one.dial],
                    angle_deg=one.angle_deg if read else None,
                    u_angle_deg=one.u_angle_deg if read else None,
                    reason=None if read else one.reason or "not_settled",
                    temperature_c=self._at.temperature_c,
                    photo=photo,
                )
            )

    def sweep(self) -> None:
        """Take all dials to full scale and back, filmed, and keep what went wrong."""
        self._at.doing("sweep")
        if not self._fresh():
            return
        video = self._at.journal.folder / VIDEO
        try:
            taken = self._sweeping.take(self._dials, video, self.key.off_at_once, self._home)
        except SilentClusterError as error:
            self._silence(error)
            return
        if not isinstance(taken, SweepFilm):
            return
        first_s = self._at.film.last_s - taken.seconds
        self._at.devices.wait(KEY_OFF_S - REST_S)
        self._silent = 0
        self._at.count_sweep()
        if self._look_through is not None:
            found = self._look_through(taken)
            for event in found.events:
                words = SWEEP_WORDS[event.fault].format(size=event.size_deg)
                noticed = Noticed(event.fault, event.dial, words, event.size_deg)
                self._at.notice(noticed, first_s + event.t_s, follows=False)
            if found.problem is not None:
                self._at.notice(Noticed("not_followed", "cluster", found.problem), follows=False)
        for left in (video, video.with_suffix(".json")):
            left.unlink(missing_ok=True)

    def dwell(self) -> None:
        """Let the needles stand with the lamps on, and watch."""
        self._at.doing("dwell")
        if self._lamps.are_watched and self.key.turn(on=False):
            self._lamps.begin()
        if not self._fresh():
            return
        commands = self._commands(dwell_values(self._plan, self._family))
        lamps = self._lamp_commands()
        self._at.devices.transport.apply(*commands, *lamps)
        settled = self._watch.until_settled(self._dials, heard_after_s((*commands, *lamps)))
        if settled.outcome != "settled":
            return
        for dial in sorted(settled.hunting):
            self._at.notice(Noticed("not_settled", dial, "the needle does not come to stand"))
        self._needles.begin(settled.hunting)
        stood = self._stand()
        self._lamps.end(self.key.turn, judged=stood and not self._needles.is_away)
        self.key.turn(on=False)

    def _stand(self) -> bool:
        """Watch needles that stand until the dwell is over; whether they did till its end."""
        at, stand = self._at, self._needles
        until_s = min(at.counts.powered_s + self._plan.dwell_s, self._plan.hours * 3600.0)
        away, unseen_s, first = 0, 0.0, True
        while at.counts.powered_s < until_s and not self._wishes.stopping:
            at.devices.wait(at.look_every_s)
            at.devices.transport.check()
            lit, t_s = at.camera.frame()
            amperes = at.devices.supply_a()
            at.beat_if_due(amperes)
            if (jump := self._current.look(amperes)) is not None:
                at.notice(jump)
            look = self._reader.look(lit, t_s)
            if not look.found or look.shaken:
                unseen_s += at.look_every_s
                if unseen_s > LONGEST_S:
                    raise PictureError(
                        "the camera sees no cluster any more: put it back before the face, then "
                        "go on"
                    )
                continue
            unseen_s = 0.0
            if first:
                first = False
                try:
                    self._fallen.judge_look(look, self._dials, "in a dwell")
                except SilentClusterError as error:
                    self._silence(error)
                    return False
            for one in stand.look(look):
                at.notice(one)
            if not stand.is_away:
                self._lamps.look(lit)
            away = away + 1 if stand.is_away else 0
            if away > AWAY_LOOKS:
                self._silence(None)
                return False
        if not stand.is_away:
            self._silent = 0
        return not self._wishes.stopping

    def _silence(self, error: SilentClusterError | None) -> None:
        """The needles are at rest although told otherwise; the key may bring them back."""
        words = "the needles are at rest although told otherwise; the key is turned off and on"
        if error is not None:  # in a dwell it has been said already
            self._at.notice(Noticed("reset", "cluster", words))
        self._silent += 1
        self.key.turn(on=False)
        if self._silent >= MOST_SILENT:
            raise TransportError(
                f"the cluster hears nothing any more, {MOST_SILENT} times in a row: check its plug "
                "and its power, then go on"
            ) from error

    def _fresh(self) -> bool:
        """Turn the key off and on; whether it is on then and the run goes on."""
        return self._home() is None

    def _home(self) -> Wish | None:
        return self.key.come_to(self.key.key_ons + 1, on=True)

    def _commands(self, told: Mapping[str, float]) -> list[Command]:
        return [
            signal_of(self._family, dial).command(value, bench=self._instruments)
            for dial, value in told.items()
        ]

    def _lamp_commands(self) -> list[Command]:
        if not self._plan.lamps:
            return []
        groups = lamp_groups((*self._family.lamps, *self._family.tell_tales))
        found = [command for group in groups for command in lamp_commands(group)]
        if len({command.dial for command in found}) != len(found):
            raise RunError("two groups of lamps are lit by one frame; put them into one group")
        return found


def _row(reading: Reading, told: float) -> RunRow:
    return RunRow(
        "burn-in",
        reading.dial,
        reading.unit,
        "up",
        told,
        angle_deg=reading.angle_deg,
        u_angle_deg=reading.u_angle_deg,
    )
