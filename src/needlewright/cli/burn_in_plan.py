"""`needlewright burn-in plan`: what a burn-in is worth, said beforehand."""

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
    FamilyDir,
    Given,
    History,
    Hours,
    NoLamps,
    Prior,
    SweepsEach,
    WarrantyHours,
    WarrantySweeps,
    known_of,
    plan_of,
)
from needlewright.composing.burn_in_planned import planned_document
from needlewright.composing.burn_in_statements import (
    WARRANTY_HOURS,
    WARRANTY_SWEEPS,
    batch_document,
)
from needlewright.families.folder import load_family
from needlewright.papers.wording import count_words, sentence_for_people
from needlewright.plans.burn_in.early import NO_PAY
from needlewright.plans.burn_in.one_unit import CONFIDENCE
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
    family: FamilyDir,
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
    warranty_hours: WarrantyHours = WARRANTY_HOURS,
    warranty_sweeps: WarrantySweeps = WARRANTY_SWEEPS,
    confidence: Confidence = CONFIDENCE,
    cost_hour: CostHour = None,
    cost_return: CostReturn = None,
    cost_repair: CostRepair = None,
    currency: Currency = "EUR",
    batch_mean: BatchMean = 1000.0,
    batch_reliability: BatchReliability = 0.95,
    as_json: AsJson = False,
) -> None:
    """Say beforehand what a burn-in takes away, how long it pays, and what a run would show.

    What is expected is made of what is known beforehand alone; what a run shows, of the run alone.
    """
    cluster = with_signals(load_family(family))
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
    known = known_of(
        prior or [],
        history,
        {"hours": warranty_hours, "sweeps": warranty_sweeps},
        confidence,
        CostsTyped(cost_hour, cost_return, cost_repair, currency),
    )
    document = planned_document(
        planned, known, batch_document(batch_mean, batch_reliability, confidence), cluster
    )
    if as_json:
        console.emit_json({"family": cluster.name, **document})
        return
    _say(document)


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
