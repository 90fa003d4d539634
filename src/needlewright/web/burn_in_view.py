"""A burn-in in words and numbers, as its page and the page's script show it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from needlewright.bench.burn_in.journal import Happened, Journal, LampsSeen, Visited
from needlewright.bench.burn_in.lamps import SEEN_LIGHT
from needlewright.composing.burn_in_job import catch_up, journal_of
from needlewright.composing.burn_in_report import FAILURES, NAMES
from needlewright.composing.undoing import burn_in_is_on
from needlewright.errors import RunError
from needlewright.papers.wording import (
    grouped,
    hours_words,
    id_words,
    number,
    plus_minus,
    sentence_for_people,
    short,
    unit_words,
)
from needlewright.records.burn_in_journals import pictures_kept
from needlewright.records.opening import Shop
from needlewright.records.views.burn_ins import BurnInView
from needlewright.web.burn_in_desk import BurnInDesk
from needlewright.web.burn_in_session import Phase
from needlewright.web.pages import address

MOST_EVENTS: Final = 60
"""Newest of them on the running view; the report has all."""


CUT_OFF: Final = "the workbench ended; the supply was not switched off by it: check it"
REHEARSAL_CUT_OFF: Final = "the workbench ended in the middle of it"


@dataclass(frozen=True, slots=True)
class Look:
    """One look at a burn-in."""

    view: BurnInView
    journal: Journal | None
    """None: nothing was written yet."""
    phase: Phase
    words: str = ""
    amperes: float | None = None
    hand: tuple[str, ...] = ()
    asked: int | None = None
    picture: int = 0
    """Number of the newest picture; 0: there is none."""
    problem: str = ""
    """Why the records could not take over what the journal has."""

    @property
    def happened(self) -> list[Happened]:
        """Its events, in time."""
        lines = [] if self.journal is None else self.journal.lines
        return [one for one in lines if isinstance(one, Happened)]

    @property
    def is_on(self) -> bool:
        """Whether it is under way, here or in another program."""
        return self.phase in ("preparing", "running", "stopping", "elsewhere")


def look_at(shop: Shop, desk: BurnInDesk, view: BurnInView) -> Look:
    """Look where a burn-in stands.

    Parameters
    ----------
    shop
        The shop.
    desk
        Where it may be on.
    view
        The burn-in.

    Returns
    -------
    Look
        Of this moment; what its file has more than the records is taken over first.

    Raises
    ------
    NeedlewrightError
        If its journal is damaged, or of another burn-in.
    """
    session = desk.at(view.id)
    if session is not None:
        stands, person = session.stands, session.bench.person
        return Look(
            session.keeper.view,
            session.journal,
            stands.phase,
            stands.words,
            stands.amperes,
            person.lines if session.is_on else (),
            person.asked if session.is_on else None,
            session.picture[0] if session.is_on else 0,
            session.keeper.problem,
        )
    if view.state != "finished":
        view = catch_up(shop, view)
    journal = None
    if view.lines:
        journal = journal_of(shop, view)
    if view.state != "finished" and burn_in_is_on(shop, view.id):
        return Look(view, journal, "elsewhere")
    if view.state == "under_way":
        why = CUT_OFF if view.rehearsed is None else REHEARSAL_CUT_OFF
        return Look(view, journal, "stopped", why)
    return Look(view, journal, view.state, view.words)


def now_document(shop: Shop, look: Look) -> dict[str, Any]:
    """Where a burn-in stands, for the page's script.

    Parameters
    ----------
    shop
        The shop.
    look
        As `look_at` gives it.

    Returns
    -------
    dict
        For JSON.
    """
    view, journal = look.view, look.journal
    of_hours = float(view.plan["hours"])
    lines = [] if journal is None else list(journal.lines)
    hours = lines[-1].counts.hours if lines else 0.0
    events = look.happened
    visits = sum(isinstance(one, Visited) for one in lines)
    counts = lines[-1].counts if lines else None
    return {
        "phase": look.phase,
        "words": _sentence(look.words),
        "hours": hours,
        "of_hours": of_hours,
        "left": hours_words(max(of_hours - hours, 0.0)),
        "done": f"{hours_words(hours)} / {hours_words(of_hours)}",
        "sweeps": 0 if counts is None else counts.sweeps,
        "swept": grouped(0 if counts is None else counts.sweeps),
        "keyed": grouped(0 if counts is None else counts.key_ons),
        "amperes": look.amperes,
        "lamps": lamps_seen(lines),
        "hand": [_sentence(line) for line in look.hand],
        "asked": look.asked,
        "picture": look.picture,
        "visits": visits,
        "count": len(events),
        "failures": sum(one.what in FAILURES for one in events),
        "events": events_shown(shop, view, events)[::-1][:MOST_EVENTS],
        "problem": _sentence(look.problem),
    }


def events_shown(shop: Shop, view: BurnInView, events: Sequence[Happened]) -> list[dict[str, Any]]:
    """The events of a burn-in in time, each with the pictures the records have of it."""
    kept = pictures_kept(shop, view.id)
    return [
        {
            "n": number,
            "hours": one.counts.hours,
            "lived": hours_words(one.counts.hours),
            "sweeps": one.counts.sweeps,
            "swept": grouped(one.counts.sweeps),
            "name": NAMES.get(one.what, one.what),
            "where": id_words(one.where),
            "words": _sentence(one.words),
            "failure": one.what in FAILURES,
            "pictures": [
                {"src": address("/originals", kept[name]), "at_s": at_s}
                for name, at_s in zip(one.pictures, one.picture_s, strict=True)
                if name in kept
            ],
        }
        for number, one in enumerate(events, start=1)
    ]


def first_shown(rows: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """What was there from the first look on, cell by cell.

    Parameters
    ----------
    rows
        `from_start` of a report.

    Returns
    -------
    list of dict
        Texts; `code` is empty where a check point was not read both ways.
    """
    found = []
    for row in rows:
        way = row["reversal"] or {"reversal_deg": None, "expanded_deg": None, "code": ""}
        by, within = way["reversal_deg"], way["expanded_deg"]
        code = "" if by is None else "once" if within is None else way["code"]
        shown = "–" if by is None else f"{number(by, 2, signed=True)}°"
        if within is not None:
            shown = f"{plus_minus(by, within, 2, signed=True)}°"
        found.append(
            {
                "dial": row["dial"],
                "at": f"{short(row['value'])} {unit_words(row['unit'])}",
                "told": _off_words(row["from_told"]),
                "told_off": bool(row["from_told"] and row["from_told"]["off"]),
                "left": _off_words(row["from_left"]),
                "left_off": bool(row["from_left"] and row["from_left"]["off"]),
                "way": shown,
                "code": code,
                "allowed": short(way.get("allowed_deg") or 0.0),
                "told_from": number(way.get("told_from_deg") or 0.0, 2),
            }
        )
    return found


def _off_words(one: Mapping[str, Any] | None) -> str:
    return (
        "–"
        if one is None
        else f"{plus_minus(one['off_deg'], one['expanded_deg'], 2, signed=True)}°"
    )


def lamps_seen(lines: Sequence[Any]) -> Mapping[str, list[str]] | None:
    """Which lamps the first look saw, and which the bench's light outshines; None: no look yet."""
    first = next((one for one in lines if isinstance(one, LampsSeen)), None)
    if first is None:
        return None
    return {
        "watched": [id_words(lamp) for lamp, light in first.light.items() if light >= SEEN_LIGHT],
        "drowned": [id_words(lamp) for lamp, light in first.light.items() if light < SEEN_LIGHT],
    }


def require_written(look: Look) -> Journal:
    """The journal of a burn-in; raises RunError where nothing was written yet."""
    if look.journal is None:
        raise RunError(
            f"job {look.view.tag}: nothing of this burn-in was written yet; go on with it first"
        )
    return look.journal


def _sentence(words: str) -> str:
    if not words:
        return ""
    said = sentence_for_people(words)
    return f"{said[:1].upper()}{said[1:]}".replace(" deg", "°")
