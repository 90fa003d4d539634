"""`needlewright burn-in plan`: what a burn-in is worth, said beforehand."""

from pathlib import Path
from typing import Annotated, Any

import typer

from needlewright.amounts import figure, hours_words
from needlewright.cli import console
from needlewright.cli.burn_in_options import (
    CHECK_EVERY_H,
    DWELL_S,
    HOURS,
    AsJson,
    Chamber,
    CheckEvery,
    Confidence,
    CostsTyped,
    DarkLamps,
    Dwell,
    Given,
    Held,
    History,
    Hours,
    MaybeFamily,
    NoLamps,
    OfJob,
    Prior,
    SweepsEach,
    WarrantyHours,
    WarrantySweeps,
    held_of,
    known_of,
    plan_of,
)
from needlewright.cli.shop_options import ShopFolder, shop_at
from needlewright.composing.burn_in_known import known_of_job
from needlewright.composing.burn_in_planned import planned_document
from needlewright.composing.burn_in_statements import Beforehand, batch_document
from needlewright.composing.burn_in_warranty import usual_warranty
from needlewright.errors import UsageError
from needlewright.families.folder import load_family
from needlewright.families.model import Family
from needlewright.papers.wording import count_words, sentence_for_people
from needlewright.plans.burn_in.early import NO_PAY
from needlewright.plans.burn_in.one_unit import CONFIDENCE
from needlewright.records.families import load_version
from needlewright.records.sheet import job_sheet
from needlewright.rehearsal.cluster.cluster import with_signals

CostHour = Annotated[
    str | None, typer.Option(metavar="AMOUNT", help="What an hour at the bench costs, one unit.")
]
CostReturn = Annotated[
    str | None, typer.Option(metavar="AMOUNT", help="What a return in the warranty costs.")
]
CostRepair = Annotated[
    str | None, typer.Option(metavar="AMOUNT", help="What a failure on the bench costs.")
]
Currency = Annotated[str, typer.Option(metavar="CODE", help="Of the amounts.")]
BatchMean = Annotated[
    float, typer.Option(metavar="H", help="Of a batch: hours between failures to be shown.")
]
BatchReliability = Annotated[
    float, typer.Option(metavar="R", help="Of a batch: share that comes through, to be shown.")
]


def plan(
    *,
    family: MaybeFamily = None,
    job: OfJob = None,
    hours: Hours = HOURS,
    dwell: Dwell = DWELL_S,
    sweeps_each: SweepsEach = 1,
    check_every: CheckEvery = CHECK_EVERY_H,
    points: Given = None,
    no_lamps: NoLamps = False,
    dark_lamps: DarkLamps = False,
    chamber: Chamber = "",
    prior: Prior = None,
    history: History = None,
    warranty_hours: WarrantyHours = None,
    warranty_sweeps: WarrantySweeps = None,
    confidence: Confidence = CONFIDENCE,
    cost_hour: CostHour = None,
    cost_return: CostReturn = None,
    cost_repair: CostRepair = None,
    currency: Currency = "EUR",
    batch_mean: BatchMean = 1000.0,
    batch_reliability: BatchReliability = 0.95,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Say beforehand what a burn-in takes away, how long it pays, and what a run would show.

    What is expected is made of what is known beforehand alone; what a run shows, of the run alone.
    """
    design, before = _of(family, job, shop)
    cluster = with_signals(design)
    planned = plan_of(
        cluster,
        tuple(dial.id for dial in cluster.dials),
        hours=hours,
        dwell_s=dwell,
        sweeps_each=sweeps_each,
        check_every_h=check_every,
        points=points or [],
        lamps=not no_lamps,
        dark_lamps=dark_lamps,
        chamber=chamber,
    )
    usual = usual_warranty()
    promised = (
        Held(usual.held, usual.words)
        if before is None
        else Held(before.warranty, before.warranty_from)
    )
    known = known_of(
        prior or [],
        history,
        held_of(warranty_hours, warranty_sweeps, promised),
        confidence,
        CostsTyped(cost_hour, cost_return, cost_repair, currency),
        kept=() if before is None else before.laws,
    )
    document = planned_document(
        planned, known, batch_document(batch_mean, batch_reliability, confidence), cluster
    )
    if as_json:
        console.emit_json({"family": cluster.name, **document})
        return
    _say(document)


def _of(
    family: Path | None, job: str | None, shop: Path | None
) -> tuple[Family, Beforehand | None]:
    """The design, and what the shop knows before; None: no shop was asked."""
    if job is None:
        if family is None:
            raise UsageError("name --family, or --job TAG of the shop")
        if shop is not None:
            raise UsageError("--shop is of a job's burn-in; add --job TAG")
        return load_family(family), None
    if family is not None:
        raise UsageError("--job knows its family; leave --family out")
    with shop_at(shop) as opened:
        sheet = job_sheet(opened, job)
        design = load_version(opened, sheet.family_version_id)
        return design, known_of_job(opened, sheet.tag)


def _say(document: dict[str, Any]) -> None:
    say = console.out.print
    plan = document["plan"]
    points = ", ".join(
        f"{dial} {' '.join(f'{figure(value)}' for value in values)}"
        for dial, values in plan["points"].items()
    )
    say(
        f"{hours_words(plan['hours'])}, about {count_words(document['sweeps'], 'sweep')}; "
        f"check points every {hours_words(plan['check_every_h'])}: {points}",
        markup=False,
    )
    for line in document["lamps"]["words"]:
        say(line, markup=False)
    say("\nexpected, from what is known beforehand", markup=False)
    for part in document["beforehand"]["parts"]:
        unit = "h" if part["clock"] == "hours" else "sweeps"
        console.say_indented(
            f"{part['part']}: shape {part['shape']:.3g}, scale {figure(part['scale'])} {unit} "
            f"({part['from']}): {part['fails_without']:.1%} fail without, "
            f"{part['fails_after']:.1%} after"
        )
        if not part["takes_away"]:
            console.say_indented(NO_PAY.format(shape=part["shape"]))
    console.say_indented(sentence_for_people(document["beforehand"]["words"]))
    console.say_indented(f"warranty: {document['beforehand']['warranty_from']}")
    if document["pays"] is not None:
        console.say_indented(sentence_for_people(document["pays"]["words"]))
    say("\nwhat the run would show by itself, if nothing fails", markup=False)
    for words in document["would_show"]["words"].split("; "):
        console.say_indented(sentence_for_people(words))
    say("\nfor a batch", markup=False)
    console.say_indented(sentence_for_people(document["batch"]["words"]))
    say("")
    for line in document["cautions"]:
        say(f"caution: {line}", markup=False)
