"""How the needles of a job are pressed onto its new movements, out of the records."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any, Final

from needlewright.composing.explained_runs import run_mark, run_rows
from needlewright.composing.needle_press import DialPress, presses_of
from needlewright.composing.pressed_needles import (
    PressedOnto,
    pressed_lines,
    pressed_onto,
    shop_pressed,
)
from needlewright.errors import RecordError, RunError
from needlewright.families.model import Dial, Family
from needlewright.findings.wording import share_words
from needlewright.plans.pressing.hand import HandSpread, hand_spread
from needlewright.plans.pressing.landed import Landed, chance_of_all, landed
from needlewright.readings.runs import Run
from needlewright.records.families import load_version
from needlewright.records.opening import Shop
from needlewright.records.runs import run_sheet
from needlewright.records.sheet import job_sheet
from needlewright.records.shop import settings
from needlewright.records.views import JobSheet, RunLine, RunSheet
from needlewright.records.words import RunSide
from needlewright.rules.decision import COVERAGE_K

MOVEMENTS: Final[RunSide] = "other"
"""Side of the runs of new movements in the records."""


@dataclass(frozen=True, slots=True)
class DialSet:
    """One dial of the run: its plan, and what came of it."""

    planned: DialPress
    set_as: PressedOnto | None
    """As it was pressed by this run; None: not yet."""
    landed: Landed | None

    @property
    def dial(self) -> Dial:
        """The dial."""
        return self.planned.dial

    @property
    def now(self) -> float | None:
        """Chance to pass as it now is; None: there is no plan."""
        if self.landed is not None:
            return self.landed.pass_probability
        return None if self.planned.press is None else self.planned.press.pass_probability


@dataclass(frozen=True, slots=True)
class JobPress:
    """The needles of a job onto its new movements."""

    job: JobSheet
    sheet: RunSheet
    family: Family
    run: Run
    hand: HandSpread
    dials: tuple[DialSet, ...]
    invented: bool = False
    """Whether everything in the shop is invented."""

    @property
    def chance(self) -> float | None:
        """That every dial something is known of passes, as it now stands; None: there is none."""
        known = [one.now for one in self.dials if one.now is not None]
        return chance_of_all(known) if known else None

    @property
    def unknown(self) -> tuple[str, ...]:
        """Dials of the run nothing is expected of, which `chance` leaves out."""
        return tuple(one.dial.id for one in self.dials if one.now is None)

    @property
    def whose(self) -> str:
        """Whose chance `chance` is, in words."""
        count = len(self.dials) - len(self.unknown)
        if not self.unknown:
            return f"all {count} dials" if count > 1 else f"dial {self.dials[0].dial.id}"
        known = f"the {count} dials" if count > 1 else "the one dial"
        return f"{known} something is known of, not of {', '.join(self.unknown)}"

    @property
    def open_dials(self) -> tuple[DialSet, ...]:
        """Those that are to be pressed: not yet, or once more."""
        return tuple(
            one
            for one in self.dials
            if one.planned.press is not None
            and one.planned.press.verdict == "press"
            and (one.landed is None or one.landed.advice != "stays")
        )


@dataclass(frozen=True, slots=True)
class _Wanted:
    """A question; it is the same one while nothing it rests on has changed."""

    mark: tuple[Any, ...]
    hand: HandSpread
    only: str | None
    at: tuple[tuple[str, float], ...]
    max_speed: float | None
    family: Family = field(compare=False, hash=False)
    run: Run = field(compare=False, hash=False)


def movement_runs(job: JobSheet) -> tuple[RunLine, ...]:
    """Runs of new movements that count, the newest last."""
    return tuple(one for one in job.runs if one.side == MOVEMENTS and one.set_aside_at is None)


def job_press(
    shop: Shop,
    tag: str,
    *,
    name: str | None = None,
    only: str | None = None,
    at: Mapping[str, float] | None = None,
    max_speed: float | None = None,
) -> JobPress:
    """Plan every dial of a job's run of new movements, and say what came of those set by it.

    Parameters
    ----------
    shop
        The shop; its own needles tell the hand.
    tag
        Of the job.
    name
        Of the run; None: the newest of new movements.
    only
        Id of the one dial that is wanted.
    at
        Values to press at, by dial.
    max_speed
        The vehicle's maximum design speed; None: as the job says.

    Returns
    -------
    JobPress
        In the family's order.

    Raises
    ------
    RecordError
        If there is no such job or run.
    RunError
        If no dial of the run can be planned.
    """
    job = job_sheet(shop, tag)
    sheet = run_sheet(shop, _chosen(job, name).id)
    family = load_version(shop, sheet.family_version_id)
    run = run_rows(shop, sheet, family)
    if not run.rows:
        raise RunError(
            f"job {job.tag}, run {sheet.name}: nothing of it is read yet; add its photos, or wait "
            "until they are read"
        )
    hand = hand_spread(shop_pressed(shop))
    wanted = _Wanted(
        run_mark(shop, sheet),
        hand,
        only,
        tuple(sorted((at or {}).items())),
        max_speed if max_speed is not None else job.max_speed,
        family,
        run,
    )
    lines = pressed_lines(job, rehearsed=sheet.rehearsed is not None)
    done = pressed_onto(lines, sheet.name)
    found = tuple(_set(wanted, one, done.get(one.dial.id)) for one in _planned(wanted))
    return JobPress(job, sheet, family, run, hand, found, settings(shop).invented)


def _chosen(job: JobSheet, name: str | None) -> RunLine:
    runs = movement_runs(job)
    if name is not None:
        found = next((one for one in job.runs if one.name == name), None)
        if found is None:
            names = ", ".join(one.name for one in job.runs) or "none"
            raise RecordError(f"job {job.tag}: there is no run '{name[:40]}'; it has {names}")
        if found.set_aside_at is not None:
            raise RecordError(
                f"job {job.tag}, run {name}: is set aside and counts no more; name another"
            )
        return found
    if not runs:
        raise RecordError(
            f"job {job.tag}: there is no run of its new movements; push any needle lightly onto "
            "each, home them, and take or type a run of them first"
        )
    return runs[-1]


@lru_cache(maxsize=64)
def _planned(wanted: _Wanted) -> tuple[DialPress, ...]:
    return presses_of(
        wanted.family,
        wanted.run,
        wanted.hand,
        only=wanted.only,
        at=dict(wanted.at),
        max_speed=wanted.max_speed,
    )


def _set(wanted: _Wanted, planned: DialPress, done: PressedOnto | None) -> DialSet:
    if done is None or planned.press is None:
        return DialSet(planned, None, None)
    at = ((done.dial, done.value),)  # which need not be today's best value any more
    again = replace(wanted, only=done.dial, at=at)
    try:
        came_to = _landed(again, done.achieved_deg, done.u_deg)
    except RunError:
        came_to = None
    return DialSet(planned, None if came_to is None else done, came_to)


@lru_cache(maxsize=64)
def _landed(wanted: _Wanted, achieved_deg: float, u_deg: float) -> Landed | None:
    (one,) = _planned(wanted)
    return None if one.press is None else landed(one.press, one.dial, achieved_deg, u_deg)


def landed_words(one: Landed) -> str:
    """What came of a needle, in one sentence."""
    chance = share_words(one.pass_probability)
    if one.press.verdict == "no_place":
        return f"by this run it has no place; expected pass {chance}, and pressing again gains none"
    if one.advice == "again_low":
        return f"reads low as it sits: press it again; expected pass {chance}"
    if one.advice == "again":
        fresh = share_words(one.press.pass_probability)
        return f"press it again: expected pass {chance}, after a new pressing {fresh}"
    if one.advice == "read_again":
        return (
            f"cannot be judged: ± {COVERAGE_K * one.u_deg:.1f}° is wider than the "
            f"{min(one.press.room_deg):.1f}° it may be off; read it to a tenth of a graduation, or "
            "by the camera"
        )
    return f"stays; expected pass {chance}"


def set_lines(one: DialSet) -> tuple[str, ...]:
    """What came of a needle that was pressed, line by line; nothing for one that was not."""
    if one.landed is None or one.set_as is None:
        return ()
    side = "above" if one.landed.off_deg >= 0 else "below"
    tips = abs(one.dial.tip_widths(one.landed.off_deg))
    return (
        f"pressed: reached {one.landed.achieved_deg:.2f} ± {COVERAGE_K * one.landed.u_deg:.2f}°, "
        f"{abs(one.landed.off_deg):.2f}° = {tips:.1f} tip widths {side} the aim",
        landed_words(one.landed),
    )
