"""What the work did to lamps and currents: the run as left beside the run as found, for people."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from needlewright.composing.evidence_piece import said_of_rehearsal
from needlewright.composing.gauge_names import GaugeNames
from needlewright.composing.kept_looks import looks_of
from needlewright.errors import KnowledgeError
from needlewright.findings.lamps.after_work import UNSEEN, Compared, Outcome, is_changed
from needlewright.findings.lamps.after_work import after_work as compared
from needlewright.findings.lamps.looked import Condition, Looked, LookedKind
from needlewright.findings.wording import share_words
from needlewright.papers.wording import id_words
from needlewright.records.views import JobSheet, RunLine
from needlewright.records.words import RunSide

_SAID: Final[Mapping[tuple[LookedKind, Condition], str]] = {
    ("zone", "right"): "lit as it should be",
    ("zone", "dim"): "dim",
    ("zone", "dark"): "dark",
    ("tell_tale", "right"): "lights",
    ("tell_tale", "dark"): "dark",
    ("segment", "right"): "lights",
    ("segment", "dark"): "dark",
    ("hub", "right"): "no halo",
    ("hub", "halo"): "a halo",
    ("current", "right"): "as it should be",
    ("current", "off"): "outside its range",
}
_DROPS: Final[Mapping[tuple[LookedKind, Condition], str]] = {
    ("current", "right"): "holds",
    ("current", "off"): "drops",
}
_KEY_ONS: Final = ("current", None, "key_ons")
_STATES: Final = {
    "rest": "current at rest",
    "sweep": "current in the sweep",
    "key_ons": "current from key-on to key-on",
}
_COUNTED: Final[frozenset[Outcome]] = frozenset({"right", "right_not_seen", "not_known"})
"""What is counted or named in a sentence, and has no line of its own."""


@dataclass(frozen=True, slots=True)
class AfterLine:
    """One thing in both looks.

    Parameters
    ----------
    outcome
        What became of it, as `findings.lamps.after_work` has them.
    is_worse
        Whether it left worse than it came.
    is_wrong
        Whether it is wrong as left.
    what
        The thing, in words.
    words
        What each look saw, in a sentence.
    found, left
        What each look saw; None: it was not looked at.
    """

    outcome: Outcome
    is_worse: bool
    is_wrong: bool
    what: str
    words: str
    found: Looked | None
    left: Looked | None

    @property
    def is_told(self) -> bool:
        """Whether it has a line of its own: also what is right and was called wrong before."""
        return self.outcome not in _COUNTED or _is_in_doubt(self.outcome, self.found, self.left)

    @property
    def is_unseen(self) -> bool:
        """Whether it was not seen as left."""
        return self.outcome in UNSEEN

    @property
    def named(self) -> str:
        """The thing, and why it was not seen where that is known: `zone speed (too bright)`."""
        why = "not looked at" if self.left is None else self.left.why
        return f"{self.what} ({why})" if self.is_unseen and why else self.what


@dataclass(frozen=True, slots=True)
class AfterWork:
    """Lamps and currents as left, beside as found.

    Parameters
    ----------
    run, found_run
        Names of the two runs; None of the second: no run as found looked at any.
    lines
        What got worse first, then what is wrong, then what was mended, then what is right.
    not_judged
        Sentences on photos as left that could not be judged.
    remark
        That nothing of it was seen on a real cluster; else empty.
    """

    run: str
    found_run: str | None
    lines: tuple[AfterLine, ...]
    not_judged: tuple[str, ...]
    remark: str

    @property
    def told(self) -> tuple[AfterLine, ...]:
        """What is to be read line by line: all that was or is called wrong."""
        return tuple(one for one in self.lines if one.is_told)

    @property
    def right(self) -> int:
        """How many things are right, and were not called wrong."""
        return sum(one.outcome == "right" and not one.is_told for one in self.lines)

    @property
    def right_before(self) -> tuple[str, ...]:
        """What was right as found and was not seen as left, each with why not."""
        return tuple(one.named for one in self.lines if one.outcome == "right_not_seen")

    @property
    def never_seen(self) -> tuple[str, ...]:
        """What was seen neither time, each with why not."""
        return tuple(one.named for one in self.lines if one.outcome == "not_known")

    @property
    def unseen(self) -> int:
        """How many things were not seen as left, whatever they were as found."""
        return sum(one.is_unseen for one in self.lines)

    @property
    def right_as_left(self) -> int:
        """How many things were seen as left and are right, whatever they were as found."""
        return sum(not (one.is_wrong or one.is_unseen) for one in self.lines)

    @property
    def worse(self) -> int:
        """How many left worse than they came."""
        return sum(one.is_worse for one in self.lines)

    @property
    def wrong(self) -> int:
        """How many are wrong as left."""
        return sum(one.is_wrong for one in self.lines)


def after_work(job: JobSheet, names: GaugeNames) -> AfterWork | None:
    """Hold the newest run as left against the newest as found.

    Parameters
    ----------
    job
        With its runs and what they looked at.
    names
        Of the dials.

    Returns
    -------
    AfterWork or None
        None without a run as left, or where neither saw a lamp or a current.

    Raises
    ------
    KnowledgeError
        If what is kept cannot be understood by this version of the program.
    """
    left, found = _newest(job, "left"), _newest(job, "found")
    if left is None:
        return None
    (before, _), (now, problems) = looks_of(job, found), looks_of(job, left)
    lines = tuple(_line(one, names) for one in compared(before, now))
    if not problems and all(one.left is None and one.outcome == "not_known" for one in lines):
        return None
    rehearsed = next((r.rehearsed for r in (left, found) if r and r.rehearsed is not None), None)
    return AfterWork(
        run=left.name,
        found_run=found.name if found is not None and before else None,
        lines=lines,
        not_judged=problems,
        remark=said_of_rehearsal(rehearsed).strip(" ()"),
    )


def after_work_or_trouble(job: JobSheet, names: GaugeNames) -> tuple[AfterWork | None, str]:
    """The same, or why it cannot be said, in a sentence; else empty."""
    try:
        return after_work(job, names), ""
    except KnowledgeError as error:
        return None, f"lamps and currents as left could not be held against as found: {error}"


def _newest(job: JobSheet, side: RunSide) -> RunLine | None:
    counts = [one for one in job.runs if one.side == side and not one.set_aside_at]
    return counts[-1] if counts else None


def _line(one: Compared, names: GaugeNames) -> AfterLine:
    what = thing_words(one.kind, one.id, one.of, names)
    words = f"{what}: {_look(one.found, 'found')}, {_look(one.left, 'left')}"
    if _is_in_doubt(one.outcome, one.found, one.left):
        words += "; the two differ by less than their uncertainties"
    said = words[:1].upper() + words[1:]
    return AfterLine(one.outcome, one.is_worse, one.is_wrong, what, said, one.found, one.left)


def _is_in_doubt(outcome: Outcome, found: Looked | None, left: Looked | None) -> bool:
    """Whether two looks call it otherwise, and what was measured of it did not change."""
    if outcome not in ("still", "right", "new") or not (found and left):
        return False
    if found.condition is None or left.condition is None or found.condition == left.condition:
        return False
    return not is_changed(found, left)


def thing_words(kind: LookedKind, name: str, of: str | None, names: GaugeNames) -> str:
    """What was looked at, as a sentence names it."""
    match kind:
        case "zone":
            return f"zone {id_words(name)}"
        case "tell_tale":
            return f"tell-tale {id_words(name)}"
        case "segment":
            return f"segment {name} of {id_words(of or 'a display')}"
        case "hub":
            return f"hub of the {names.get(name, name)}"
        case "current":
            return _STATES.get(name, f"current, {name}")


def _look(one: Looked | None, side: RunSide) -> str:
    """What one look saw: `dark as found (over 99 %, light 4 ± 6 %)`."""
    if one is None:
        return f"not looked at as {side}"
    if one.condition is None or one.probability is None:
        return f"not seen as {side}{f' ({one.why})' if one.why else ''}"
    figures = [share_words(one.probability)]
    if one.size is not None and one.u_size is not None and one.kind in ("zone", "current"):
        figures.append(
            f"light {100 * one.size:.0f} ± {200 * one.u_size:.0f} %"
            if one.kind == "zone"
            else f"{one.size:.3f} ± {2 * one.u_size:.3f} A"
        )
    said = _DROPS if one.name == _KEY_ONS else _SAID
    return f"{said[one.kind, one.condition]} as {side} ({', '.join(figures)})"
