"""What is probably wrong and what to do next, as people are shown it in a terminal."""

from collections.abc import Sequence
from typing import Final

from rich.box import SIMPLE
from rich.table import Table
from rich.text import Text

from needlewright.cli import console
from needlewright.findings.evidence import Evidence
from needlewright.findings.troubleshooting.belief import Belief
from needlewright.findings.troubleshooting.model import Finding, Knowledge
from needlewright.findings.troubleshooting.next_test import Option
from needlewright.findings.troubleshooting.responsible import Responsible, responsible
from needlewright.findings.wording import share_words

SHOWN: Final = 8
"""Causes and options that are shown."""
LEAST_SHOWN: Final = 0.005
BAR: Final = 16
WIDE: Final = 100
"""Columns from which parts and a bar are shown too."""
_Cause = tuple[str, str | None, float]


def is_complained_of(belief: Belief, code: str, dial: str | None) -> bool:
    """Whether somebody answered with yes what a cause could have made, asked of a complaint.

    Parameters
    ----------
    belief
        With all answers.
    code
        Of the cause.
    dial
        Of which dial; None: of the whole.

    Returns
    -------
    bool
        A cause of a dial: somebody complains of that dial. One of the whole: it shows in some
        complaint.
    """
    findings = belief.knowledge.findings
    asked = [one for one in belief.answers if one.yes and findings[one.finding].place == "asked"]
    if dial is not None:
        return any(one.dial == dial for one in asked)
    return any(code in findings[one.finding].shown_by for one in asked)


def show(belief: Belief, options: Sequence[Option]) -> None:
    """Print causes, what was measured, and what to do next."""
    found = responsible(belief)
    causes = found.causes(belief.states)
    if not causes:
        _say_what_to_ask(belief)
        return
    complaint = [one for one in causes if is_complained_of(belief, one[0], one[1])]
    others = [one for one in causes if one not in complaint]
    heading = "also found, nobody complained of it" if complaint else "found; nobody complained yet"
    _show_causes(belief, found, complaint, "responsible for the complaint")
    _show_causes(belief, found, others, heading)
    _show_evidence(belief)
    _show_options(belief.knowledge, options)


def duration_words(minutes: float) -> str:
    """About how long, no finer than it is known: to ten minutes from an hour on."""
    if minutes < 55:
        return f"{minutes:.0f} min"
    hours, left = divmod(10 * round(minutes / 10), 60)
    return f"{hours} h {left} min" if left else f"{hours} h"


def _say_what_to_ask(belief: Belief) -> None:
    console.out.print(
        "no complaint so far: nothing was answered with yes. Send the owner the questions of "
        "`needlewright intake`, or give answers with --answer; DIAL is one of "
        + ", ".join(belief.dials),
        markup=False,
    )
    for one in belief.knowledge.findings.values():
        if one.opens or (one.scope == "whole" and one.place == "asked"):
            of = "whole" if one.scope == "whole" else "DIAL"
            console.say_indented(f"--answer '{of}: {one.id} yes'   {question(one, None)}")


def _show_causes(belief: Belief, found: Responsible, causes: Sequence[_Cause], title: str) -> None:
    shown = [one for one in causes[:SHOWN] if one[2] >= LEAST_SHOWN]
    if not shown:
        return
    is_wide = console.out.width >= WIDE
    table = Table(title=title, box=SIMPLE, title_justify="left", padding=(0, 1), pad_edge=False)
    table.add_column("cause", no_wrap=True)
    table.add_column("of", no_wrap=True)
    table.add_column("where", no_wrap=True)
    if is_wide:
        table.add_column("most probably in")
    table.add_column("probability", justify="right", no_wrap=True)
    if is_wide:
        table.add_column("")
    for code, dial, p in shown:
        cause = belief.knowledge.causes[code]
        row = [cause.words, dial or "the whole", "cluster" if cause.inside else "vehicle"]
        if is_wide:
            row += [_part(found.parts(belief.states), code, dial, p), share_words(p)]
            row.append("█" * round(BAR * p))
        else:
            row.append(share_words(p))
        table.add_row(*row)
    console.out.print(table)


def _part(
    parts: Sequence[tuple[str, str | None, str, float]], code: str, dial: str | None, p: float
) -> str:
    """The part a cause lies in most probably, with its share of the cause."""
    for one, part, of, share in parts:
        if (one, of) == (code, dial):
            return "" if part is None else f"{part} ({share_words(share / p)})"
    return ""


def _show_evidence(belief: Belief) -> None:
    if not belief.evidence:
        return
    console.out.print(Text("what was measured", style="italic"))
    for one in belief.evidence:
        console.out.print(f"  {one.dial or 'the whole'}: {one.words} ({one.seen_in})", markup=False)
        console.say_indented(_speaks(belief, one))
    console.out.print()


def _speaks(belief: Belief, one: Evidence) -> str:
    """For which answer to which question, in the words of the file."""
    asked = question(belief.knowledge.findings[one.finding], one.dial)
    if one in belief.stood_in_for():
        return f"a person answered instead: {asked}"
    if one.ratio >= 1:
        return f"{one.ratio:.3g} : 1 for yes to: {asked}"
    return f"{1 / one.ratio:.3g} : 1 for no to: {asked}"


def question(finding: Finding, dial: str | None) -> str:
    """A question or test in the words of the knowledge file."""
    return finding.words.replace("{dial}", dial or "the gauge")


def _show_options(known: Knowledge, options: Sequence[Option]) -> None:
    table = Table(
        title="what to do next", box=SIMPLE, title_justify="left", padding=(0, 1), pad_edge=False
    )
    table.add_column("", justify="right")
    table.add_column("option", overflow="fold")
    table.add_column("in all, about", justify="right", no_wrap=True)
    table.add_column("a yes", justify="right", no_wrap=True)
    for number, one in enumerate(options[:SHOWN], start=1):
        yes = "" if one.yes is None else share_words(one.yes)
        words = one.words if len(one.then) < 2 else f"{one.words}; {_then(known, one)}"
        table.add_row(str(number), words, duration_words(one.expected_minutes), yes)
    console.out.print(table)
    tests = [one for one in options[:SHOWN] if one.kind == "test"]
    if tests:
        first = tests[0]
        console.out.print(
            f"the answer to the first of the tests: --answer '{first.dial or 'whole'}: {first.id} "
            "yes', or no",
            markup=False,
        )


def _then(known: Knowledge, option: Option) -> str:
    """What follows where it did not help; of every remedy after the first."""
    words = []
    for name in option.then[1:4]:
        remedy, _, dial = name.partition(":")
        words.append(known.remedies[remedy].words.replace("{dial}", dial))
    more = "; and more" if len(option.then) > 4 else ""
    return "only if still wrong: " + "; then ".join(words) + more
