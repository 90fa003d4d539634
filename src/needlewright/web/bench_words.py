"""A run at the bench in words and numbers, as the page's script shows it."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from needlewright.bench.outcome import Outcome, Sweep
from needlewright.bench.run_state import RunState
from needlewright.bench.steps import RunStep, step_words
from needlewright.errors import SignalError
from needlewright.families.model import Family
from needlewright.papers.figures import with_expanded
from needlewright.papers.wording import sentence_for_people, short, unit_words
from needlewright.readings.flags import FLAGS, REASONS
from needlewright.readings.runs import Run, RunRow
from needlewright.rules.decision import COVERAGE_K
from needlewright.signals.model import Command
from needlewright.signals.sharing import with_shared_frames
from needlewright.signals.words import instruction, value_words
from needlewright.units import unit_for_people
from needlewright.web.bench_session import BenchSession, Phase, Seen, Where
from needlewright.web.live_words import look_document

MINUS: Final = "\u2212"
NOTHING: Final[tuple[str, ...]] = ("on_stop",)
"""Flags that a cell of the table need not say."""


@dataclass(frozen=True, slots=True)
class Rows:
    """What is known of the steps, however that came about."""

    family: Family
    steps: Sequence[RunStep]
    done: int
    run: Run
    outcome: Outcome

    @classmethod
    def of(cls, session: BenchSession) -> "Rows":
        """Of a run under way."""
        kept = session.kept
        state = kept.state
        return cls(kept.family, session.steps, state.done, session.rows, state.outcome)


def document(session: BenchSession) -> dict[str, Any]:
    """Everything but the picture.

    Parameters
    ----------
    session
        Under way, or just ended.

    Returns
    -------
    dict
        For JSON.
    """
    where, person = session.where, session.person
    rows = Rows.of(session)
    is_over = session.ended.is_set()
    return {
        **where_document(where, rows),
        "hand": None
        if not person.lines
        else {"lines": [_capital(line) for line in person.lines], "asked": person.asked},
        "key": None if is_over else session.key_is_on,
        "wires": [] if is_over else list(wires_document(session)),
    }


def where_document(where: Where, rows: Rows) -> dict[str, Any]:
    """Where a run stands, with its table.

    Parameters
    ----------
    where
        As the run says.
    rows
        The steps.

    Returns
    -------
    dict
        For JSON.
    """
    is_on = where.phase in ("preparing", "running", "paused", "stopping")
    in_hand = rows.done if is_on else None
    words = sentence_for_people(where.words)
    return {
        "phase": where.phase,
        "words": words if is_on else f"{_capital(words)}." if words else "",
        "done": where.done,
        "of": where.of,
        "left_s": where.left_s,
        "steps": [_step(i, step, rows, in_hand) for i, step in enumerate(rows.steps)],
    }


def interrupted(state: RunState, rows: Rows, phase: Phase = "stopped") -> dict[str, Any]:
    """A run that is not under way in this workbench, and not finished.

    Parameters
    ----------
    state
        As it was kept.
    rows
        The steps.
    phase
        How it is shown.

    Returns
    -------
    dict
        As `document`.
    """
    where = Where(phase, state.done, len(state.steps))
    return {**where_document(where, rows), "hand": None, "key": None, "wires": []}


def seen_document(seen: Seen) -> dict[str, Any]:
    """What was read in the newest picture; no numbers while nobody reads it."""
    height, width = seen.pixels.shape[:2]
    if seen.look is None:
        return {"n": seen.number, "passing": True, "size": [width, height]}
    return {**look_document(seen.number, seen.look, (width, height)), "passing": False}


def wires_document(session: BenchSession) -> Iterator[dict[str, Any]]:
    """What each dial's wire carries in this moment."""
    transport = session.devices.transport
    on_wires = dict(transport.on_wires)
    told = _whole_frames(list(on_wires.values()))
    for dial in session.kept.family.dials:
        command = told.get(dial.id)
        if command is None:
            yield {"dial": dial.id, "told": "", "lines": [], "by": ""}
            continue
        part_for = getattr(transport, "part_for", None)
        yield {
            "dial": dial.id,
            "told": sentence_for_people(value_words(command)),
            "lines": instruction(command),
            "by": "" if part_for is None else part_for(command).name,
        }


def _whole_frames(commands: Sequence[Command]) -> Mapping[str, Command]:
    try:
        return {command.dial: command for command in with_shared_frames(commands)}
    except SignalError:  # the transport has refused it already, and says so
        return {command.dial: command for command in commands}


def _step(place: int, step: RunStep, rows: Rows, in_hand: int | None) -> dict[str, Any]:
    mine = {row.dial: row for row in rows.run.rows if row.step == step.number}
    sweep = rows.outcome.sweep if step.kind == "sweep" else None
    if place < rows.done:
        state = "seen" if mine or sweep is not None else "skipped"
    else:
        state = "now" if place == in_hand else "to_come"
    return {
        "n": step.number,
        "state": state,
        "kind": step.kind,
        "note": "" if sweep is None else _swept(sweep),
        "way": step.approach,
        "words": sentence_for_people(step_words(step, rows.family)),
        "cells": []
        if step.kind != "look"
        else [_cell(dial.id, dial.unit, step, mine.get(dial.id)) for dial in rows.family.dials],
    }


def _swept(sweep: Sweep) -> str:
    """What a sweep gave, in few words; its place on the job sheet has the rest."""
    if sweep.found is None:
        return ""
    if sweep.found.problem is not None:
        return sweep.found.problem
    return ", ".join(f"{e.dial} {e.fault.replace('_', ' ')}" for e in sweep.found.events)


def _cell(dial: str, unit: str, step: RunStep, row: RunRow | None) -> dict[str, Any]:
    told = step.told.get(dial)
    return {
        "dial": dial,
        "told": "" if told is None else f"{short(told)} {unit_words(unit)}",
        "shown": "" if row is None else _shown(row),
        "note": "" if row is None else ", ".join(_notes(row)),
        "is_read": row is not None and row.angle_deg is not None,
    }


def _shown(row: RunRow) -> str:
    if row.indicated is None:
        return ""
    expanded = None if row.u_indicated is None else COVERAGE_K * row.u_indicated
    whole = with_expanded(row.indicated, expanded, row.unit)
    return whole.removesuffix(f" {unit_for_people(row.unit)}").replace("-", MINUS)


def _notes(row: RunRow) -> Iterator[str]:
    for flag in row.flags:
        if flag in NOTHING:
            continue
        word = FLAGS.get(flag) or REASONS.get(flag)
        yield flag.replace("_", " ") if word is None else word.short


def _capital(words: str) -> str:
    return f"{words[:1].upper()}{words[1:]}"
