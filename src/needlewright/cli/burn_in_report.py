"""`needlewright burn-in report`: counts, events, drift, and both statements."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.table import Table

from needlewright.amounts import figure, hours_words
from needlewright.bench.burn_in.journal import Journal, read_journal
from needlewright.cli import console
from needlewright.cli.burn_in_options import (
    AsJson,
    Held,
    History,
    MaybeConfidence,
    MaybeFamily,
    OfJob,
    Prior,
    WarrantyHours,
    WarrantySweeps,
    held_of,
    known_of,
)
from needlewright.cli.shop_options import ShopFolder, shop_at
from needlewright.cli.written import refuse_missing_folder, write_file
from needlewright.composing.burn_in_drawn import drift_svg
from needlewright.composing.burn_in_job import (
    catch_up,
    family_of,
    journal_of,
    report_of,
)
from needlewright.composing.burn_in_known import known_in
from needlewright.composing.burn_in_pictures import pictures_of, pictures_of_folder
from needlewright.composing.burn_in_report import drift_charts, report_document
from needlewright.composing.burn_in_statements import REHEARSED, Beforehand
from needlewright.composing.burn_in_warranty import usual_warranty
from needlewright.errors import RunError, UsageError
from needlewright.families.folder import load_family
from needlewright.families.model import Family
from needlewright.papers.drift_lines import DriftChart
from needlewright.papers.wording import count_words, sentence_for_people
from needlewright.plans.burn_in.one_unit import CONFIDENCE
from needlewright.records.burn_ins import burn_ins_of
from needlewright.records.opening import Shop
from needlewright.records.views.burn_ins import BurnInView

Folder = Annotated[
    Path | None, typer.Argument(metavar="FOLDER", help="Of the burn-in; without one, name --job.")
]
Number = Annotated[
    int | None,
    typer.Option("--number", metavar="N", help="Which burn-in of the job; else its last."),
]
Pdf = Annotated[
    Path | None, typer.Option("--pdf", metavar="FILE.pdf", help="The report as a paper.")
]
Svg = Annotated[
    Path | None, typer.Option("--svg", metavar="FILE.svg", help="The drift, drawn dial by dial.")
]


def report(
    folder: Folder = None,
    *,
    family: MaybeFamily = None,
    job: OfJob = None,
    number: Number = None,
    prior: Prior = None,
    history: History = None,
    warranty_hours: WarrantyHours = None,
    warranty_sweeps: WarrantySweeps = None,
    confidence: MaybeConfidence = None,
    pdf: Pdf = None,
    svg: Svg = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Say what a burn-in gave, finished or not: counts, events, drift of each check point.

    What was to be expected beforehand and what this run shows by itself are said apart.
    """
    for path in (pdf, svg):
        if path is not None:
            refuse_missing_folder(path)
    known = partial(
        _known_beside,
        laws=(prior or [], history),
        held=(warranty_hours, warranty_sweeps),
        confidence=confidence,
    )
    if job is not None:
        if folder is not None or family is not None:
            raise UsageError("--job knows folder and family; leave them out")
        with shop_at(shop) as opened:
            view = _of_job(opened, job, number)
            journal, cluster = journal_of(opened, view), family_of(opened, view)
            document = report_of(opened, view, known(known_in(view.known)))
            pictures = pictures_of(opened, view, document) if pdf is not None else {}
    else:
        if folder is None or family is None:
            raise UsageError("name the burn-in's FOLDER and --family, or --job TAG of the shop")
        if shop is not None or number is not None:
            raise UsageError("--shop and --number are of a job's burn-in; add --job TAG")
        journal, cluster = _of_folder(folder, load_family(family))
        document = report_document(journal, cluster, known(None))
        pictures = pictures_of_folder(folder, document) if pdf is not None else {}
    charts = drift_charts(journal, cluster, document) if pdf or svg else ()
    _write(document, charts, pictures, pdf, svg)
    if as_json:
        console.emit_json(document)
    else:
        _say(document)
    if svg is not None and not charts:
        raise RunError(
            f"{svg}: is not written, for no check point was read yet; ask again after the first "
            "visit"
        )


def _known_beside(
    kept: Beforehand | None,
    *,
    laws: tuple[list[str], Path | None],
    held: tuple[float | None, float | None],
    confidence: float | None,
) -> Beforehand:
    """As typed; what is not typed, as it was kept when the burn-in was begun."""
    if kept is None:
        usual = usual_warranty()
        promised = held_of(*held, Held(usual.held, usual.words))
        return known_of(*laws, promised, CONFIDENCE if confidence is None else confidence)
    promised = held_of(*held, Held(kept.warranty, kept.warranty_from))
    chosen = kept.confidence if confidence is None else confidence
    typed = known_of(*laws, promised, chosen, kept=kept.laws)
    return replace(typed, costs=kept.costs, currency=kept.currency, left=kept.left)


def _write(
    document: dict[str, Any],
    charts: Sequence[DriftChart],
    pictures: Mapping[str, bytes],
    pdf: Path | None,
    svg: Path | None,
) -> None:
    """Write what was asked for; a chart of nothing is none."""
    if svg is not None and (chart := drift_svg(document, charts)) is not None:
        write_file(svg, chart.encode())
    if pdf is not None:
        from needlewright.papers.burn_in_paper import burn_in_pdf  # noqa: PLC0415 - slow

        drawn = drift_svg(document, charts, ground=False)
        write_file(pdf, burn_in_pdf(document, drawn, pictures))


def _of_job(shop: Shop, job: str, number: int | None) -> BurnInView:
    """The burn-in of a job that is meant, with whatever its file has more taken over."""
    views = burn_ins_of(shop, job)
    chosen = [one for one in views if one.id == number or (number is None and one.counts)]
    if not chosen:
        which = "" if number is None else f" {number}"
        raise RunError(
            f"job {job}: has no burn-in{which} to report; needlewright jobs burn-ins {job} lists "
            "them"
        )
    return catch_up(shop, chosen[-1])


def _of_folder(folder: Path, cluster: Family) -> tuple[Journal, Family]:
    journal = read_journal(folder)
    if journal.begun.family != cluster.name:
        raise RunError(
            f"{journal.path}: is of family '{journal.begun.family}', and '{cluster.name}' was "
            "given; name its own"
        )
    return journal, cluster


def _say(document: dict[str, Any]) -> None:
    say = console.out.print
    say(
        f"unit {document['unit']}, family {document['family']}: {document['state']}, "
        f"{hours_words(document['hours'])} of {hours_words(document['of_hours'])}, "
        f"{count_words(document['sweeps'], 'sweep')}, {count_words(document['key_ons'], 'key-on')}",
        markup=False,
    )
    if document["rehearsed"]:
        say(REHEARSED, markup=False)
    if document["lines_cut_off"]:
        say(
            f"the last line of the journal was cut off {document['lines_cut_off']} times, as by a "
            "power cut, and is left out",
            markup=False,
        )
    _say_counts(document)
    for row in document["from_start"]:
        place = f"{row['dial']} at {figure(row['value'])} {row['unit']}, from the first look on"
        say(f"{place}: {row['words']}", markup=False)
    for row in document["drift"]:
        say(f"{row['dial']} at {figure(row['value'])} {row['unit']}: {row['words']}", markup=False)
    _say_lamps(document)
    say("\nexpected, from what was known beforehand", markup=False)
    console.say_indented(sentence_for_people(document["beforehand"]["words"]))
    console.say_indented(f"warranty: {document['beforehand']['warranty_from']}")
    say("\nwhat this run shows by itself", markup=False)
    for words in document["shown"]["words"].split("; "):
        console.say_indented(sentence_for_people(words))


def _say_counts(document: dict[str, Any]) -> None:
    """What happened, one kind of event at one place a line."""
    say = console.out.print
    if not document["counts"]:
        say("no event")
        return
    table = Table(box=None, pad_edge=False)
    for head in ("event", "where", "times", "first h", "last h", ""):
        table.add_column(head)
    for one in document["counts"]:
        table.add_row(
            one["name"],
            one["where"],
            str(one["times"]),
            f"{one['first_hours']:.3f}",
            f"{one['last_hours']:.3f}",
            "FAILURE" if one["is_failure"] else "remark",
        )
    say(table)


def _say_lamps(document: dict[str, Any]) -> None:
    """Looks at the lamps that were not judged, and lamps that were not watched."""
    say = console.out.print
    if document["lamp_looks_not_judged"]:
        say(
            f"lamps: {document['lamp_looks']} looks judged, {document['lamp_looks_not_judged']} "
            "not, because the room's light had changed",
            markup=False,
        )
    if document["lamps_drowned"]:
        drowned = ", ".join(document["lamps_drowned"])
        say(
            f"lamps not watched, too little of their light is seen beside the bench's: {drowned}",
            markup=False,
        )
    if document["lamps_without_place"]:
        nowhere = ", ".join(document["lamps_without_place"])
        say(f"lamps without a place in the family, not watched: {nowhere}", markup=False)
