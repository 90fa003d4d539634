"""`needlewright jobs findings`, `answer`, `overrule`: what a cluster has, and what to do next."""

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Final

import typer
from rich.table import Table

from needlewright.cli import console
from needlewright.cli.answers_text import answers_text, read_small
from needlewright.cli.job_words import moment_words
from needlewright.cli.shop_options import AsJson, By, ShopFolder, Tag, emit_view, say, shop_at
from needlewright.composing.after_work import AfterWork
from needlewright.composing.complaint_words import named_words
from needlewright.composing.finding_model import Card, JobFindings
from needlewright.composing.job_answers import (
    Decision,
    answer_question,
    overrule,
    question_named,
    take_answers,
)
from needlewright.composing.job_findings import job_findings, place_named
from needlewright.composing.kept_pieces import take_analysis
from needlewright.findings.lamps.after_work import Outcome
from needlewright.findings.wording import share_words
from needlewright.records.answers import Given
from needlewright.records.opening import Shop

SHOWN_SHARES: Final = 3
SHOWN_EVIDENCE: Final = 4
SHOWN_STEPS: Final = 6
LEAST_SHOWN: Final = 0.02
BAR: Final = 20
SIGNS: Final = {"for": "+", "against": "-", "neither": "."}
OUTCOMES: Final[Mapping[Outcome, str]] = {
    "new": "NEWLY WRONG",
    "worse": "WORSE",
    "wrong": "wrong",
    "still": "still wrong",
    "better": "less wrong",
    "not_seen": "not seen again",
    "right_not_seen": "not seen again",
    "mended": "mended",
    "right": "right",
    "not_known": "not known",
}


def findings(
    tag: Tag,
    *,
    at: Annotated[
        str | None,
        typer.Option(
            metavar="WHERE",
            help="Where the cluster is: asking, vehicle or bench; else as the job says.",
        ),
    ] = None,
    texts: Annotated[
        bool, typer.Option("--texts", help="The texts to the customer, that which fits first.")
    ] = False,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Say what a job's cluster probably has, what shows it, and what to do next."""
    where = None if at is None else place_named(at)
    with shop_at(shop) as opened:
        found = job_findings(opened, tag, at=where)
    if as_json:
        emit_view(found)
    elif texts:
        for one in found.texts:
            say(f"--- {one.outcome}")
            say(one.text)
    else:
        _show(found)


def answer(
    tag: Tag,
    answers: Annotated[
        list[str] | None,
        typer.Argument(metavar="'DIAL: QUESTION yes'...", help="`whole:` for the whole."),
    ] = None,
    *,
    pasted: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="The owner's text; - is standard input."),
    ] = None,
    not_known: Annotated[
        list[str] | None,
        typer.Option(
            metavar="'DIAL: QUESTION'", help="It is not known, and need not be asked again."
        ),
    ] = None,
    at_bench: Annotated[
        bool, typer.Option("--at-bench", help="The answers were found at the bench.")
    ] = False,
    by: By = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Keep answers to questions and tests with a job; each takes the place of an earlier one."""
    taken_away = [question_named(one) for one in not_known or ()]
    text = None if pasted is None else answers_text(pasted)
    if not (answers or taken_away or text is not None):
        raise typer.BadParameter("give an answer such as 'fuel: dead yes', or --pasted FILE")
    with shop_at(shop) as opened:
        if answers:
            text_of = "\n".join(answers)
            take_answers(opened, tag, text_of, by, source="bench" if at_bench else "typed")
        if text is not None:
            take_answers(opened, tag, text, by, source="pasted")
        for finding, dial in taken_away:
            answer_question(opened, tag, Given(finding, None, dial), by)
        _after(opened, tag, as_json)


def evidence(
    tag: Tag,
    files: Annotated[
        list[Path],
        typer.Argument(
            metavar="FILE.json...", help="The --json of an analysis, or a list of evidence."
        ),
    ],
    *,
    by: By = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Take what an analysis of photos or logs saw into a job, in place of one of the same name."""
    contents = [(path.name, read_small(path)) for path in files]
    with shop_at(shop) as opened:
        for name, content in contents:
            take_analysis(opened, tag, name, content, by)
        _after(opened, tag, as_json)


def overruled(
    tag: Tag,
    subject: Annotated[
        str,
        typer.Argument(metavar="DIAL", help="Or a system: lamps, display, supply, board, vehicle."),
    ],
    causes: Annotated[
        list[str], typer.Argument(metavar="CAUSE...", help="What it has; `sound`: nothing.")
    ],
    *,
    reason: Annotated[str, typer.Option(metavar="TEXT", help="Why.")],
    part: Annotated[
        str | None,
        typer.Option(metavar="PART", help="The part it lies in: movement, needle, driver, ..."),
    ] = None,
    by: By = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Decide what a dial or a system has, against what is said of it or as it is said."""
    with shop_at(shop) as opened:
        overrule(opened, tag, Decision(subject, tuple(causes), reason, part), by)
        _after(opened, tag, as_json)


def add_to(app: typer.Typer) -> None:
    """Put the commands into the group."""
    app.command("findings")(findings)
    app.command("answer")(answer)
    app.command("evidence")(evidence)
    app.command("overrule")(overruled)


def _after(opened: Shop, tag: str, as_json: bool) -> None:
    found = job_findings(opened, tag)
    emit_view(found) if as_json else _show(found)


def _show(found: JobFindings) -> None:
    for card in found.cards:
        if not card.is_unseen:  # how often a cause is met is no finding
            _show_card(card)
    if unseen := [card.title for card in found.cards if card.is_unseen]:
        say(f"nothing was seen of: {', '.join(unseen)}")
    if found.steps:
        console.out.print(_steps(found))
    elif not found.complained:
        _say_what_to_answer(found)
    for words in found.contradictions:
        say(f"does not go together: {words}")
    if found.after_work is not None:
        _show_after_work(found.after_work)
    for words in found.not_used:
        say(f"look: {words}")
    if found.learned_from:
        say(f"priors: moved by {found.learned_from} finished jobs of this shop")


def _show_after_work(after: AfterWork) -> None:
    """What the work did to lamps and currents; what got worse first."""
    beside = "nothing was looked at as found" if after.found_run is None else "beside as found"
    say(f"lamps and currents as left (run {after.run}), {beside}:")
    for one in after.told:
        say(f"  {OUTCOMES[one.outcome]:>14}  {one.words}")
    if after.right:
        say(f"  {'right':>14}  {after.right} of {len(after.lines)} things")
    for one in after.lines:
        if one.is_unseen and not one.is_told:
            say(f"  {'not seen':>14}  {one.words}")
    for words in after.not_judged:
        say(f"  look: {words}")
    if after.remark:
        say(f"  {after.remark}")


def _say_what_to_answer(found: JobFindings) -> None:
    """Nothing speaks for a fault; what the complaint names is asked about first."""
    titles = {card.id: card.title.lower() for card in found.cards}
    if found.named:
        words = named_words(found.named, titles)
        say(
            f"the complaint names {words}, but words are no answers: nothing speaks for a fault yet"
        )
    elif found.complaint:
        say("the complaint in words is not read: nothing speaks for a fault yet")
    else:
        say("no complaint so far: nothing speaks for a fault")
    say("Answer a question, as with")
    first = found.named[0] if found.named else found.cards[0].id
    say(f"    needlewright jobs answer {found.tag} '{first}: reads_wrong yes'")


def _show_card(card: Card) -> None:
    say(f"{card.title}: {card.verdict}")
    for share in card.shares[:SHOWN_SHARES]:
        if share.probability >= LEAST_SHOWN:
            bar = "█" * round(BAR * share.probability)
            say(
                f"  {bar:<{BAR}} {share_words(share.probability):>9}  {share.words} ({share.cause})"
            )
    for one in card.evidence[:SHOWN_EVIDENCE]:
        aside = "" if one.counts else "; an answer stands in for it"
        say(f"  {SIGNS[one.speaks]} {one.words} ({one.seen_in}{aside})")
    if card.opinion is not None:
        decided = ", ".join(card.opinion.decided) or "sound"
        decided += "" if card.opinion.part is None else f" ({card.opinion.part})"
        verb = "overruled" if card.overruled else "decided"
        say(
            f"  {verb}: {decided}, because {card.opinion.why} "
            f"({moment_words(card.opinion.at)}, {card.opinion.by})"
        )


def _steps(found: JobFindings) -> Table:
    table = Table(title="what to do next")
    table.add_column("", justify="right")
    table.add_column("step", overflow="fold")
    table.add_column("answered as", overflow="fold")
    table.add_column("takes", justify="right")
    table.add_column("in all", justify="right")
    for number, one in enumerate(found.steps[:SHOWN_STEPS], start=1):
        named = "" if one.finding is None else f"{one.dial or 'whole'}: {one.finding}"
        takes = "" if one.minutes is None else f"{one.minutes:.0f} min"
        words = f"{one.words}\n{one.reason}"
        in_all = "" if one.expected_minutes is None else f"{one.expected_minutes:.0f} min"
        table.add_row(str(number), words, named, takes, in_all)
    return table
