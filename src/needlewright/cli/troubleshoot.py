"""`needlewright troubleshoot`: from a complaint and answers to causes and the next test."""

from dataclasses import asdict
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from needlewright.cli import console
from needlewright.cli.answers_text import answers_text
from needlewright.cli.measured import say_rehearsed
from needlewright.cli.troubleshoot_shown import is_complained_of, question, show
from needlewright.composing.explaining import explain_with_rests
from needlewright.composing.run_evidence import run_evidence
from needlewright.families.folder import load_family
from needlewright.families.model import Family
from needlewright.findings.evidence import Evidence
from needlewright.findings.evidence_file import (
    evidence_documents,
    is_of_runs,
    read_evidence_file,
)
from needlewright.findings.key_cycle import key_cycle_evidence
from needlewright.findings.knowledge_file import SHIPPED, read_tables
from needlewright.findings.signatures.knowledge import Knowledge as RunKnowledge
from needlewright.findings.signatures.knowledge import run_knowledge
from needlewright.findings.troubleshooting.answers import answers_in
from needlewright.findings.troubleshooting.belief import Belief, belief_of
from needlewright.findings.troubleshooting.contradictions import Contradiction, contradictions
from needlewright.findings.troubleshooting.knowledge_file import troubleshooting_knowledge
from needlewright.findings.troubleshooting.model import Knowledge
from needlewright.findings.troubleshooting.next_test import Option, next_options
from needlewright.findings.troubleshooting.responsible import responsible
from needlewright.readings.complete import complete_run
from needlewright.readings.run_csv import read_run

if TYPE_CHECKING:
    from needlewright.composing.shop_record import ShopRecord

app = typer.Typer(add_completion=False)


class Where(StrEnum):
    """Where the cluster is."""

    ASKING = "asking"
    VEHICLE = "vehicle"
    BENCH = "bench"


@app.command()
def troubleshoot(
    *,
    family: Annotated[Path, typer.Option(metavar="DIR", help="The family's folder.")],
    at: Annotated[
        Where,
        typer.Option(
            metavar="WHERE",
            help="Where the cluster is: `asking`, in the `vehicle`, at the `bench`.",
        ),
    ] = Where.ASKING,
    answer: Annotated[
        list[str] | None,
        typer.Option(
            metavar="'DIAL: QUESTION yes'", help="One answer or more; `whole:` for the whole."
        ),
    ] = None,
    answers: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Answers as they came back; - is standard input."),
    ] = None,
    knowledge: Annotated[
        Path | None,
        typer.Option(metavar="FILE.toml", help="Knowledge file; the shipped one otherwise."),
    ] = None,
    evidence: Annotated[
        list[Path] | None,
        typer.Option(
            metavar="FILE.json",
            help="What an analysis saw: the --json of its command, or a list of evidence.",
        ),
    ] = None,
    runs: Annotated[
        list[Path] | None,
        typer.Option("--run", metavar="RUN.csv", help="A run at the bench that is weighed too."),
    ] = None,
    run_name: Annotated[
        str | None,
        typer.Option(metavar="NAME", help="Which run, where a file holds several."),
    ] = None,
    shop: Annotated[
        Path | None,
        typer.Option(
            metavar="DIR", help="A shop's folder: its finished jobs move the file's priors."
        ),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """Say what is probably wrong, in the cluster or outside it, and what to do next.

    Every option is worth the minutes the whole search takes on average when it begins with it.
    """
    cluster, tables = load_family(family), read_tables(knowledge)
    known = troubleshooting_knowledge(tables)
    record = None
    if shop is not None:
        known, record = _taught(known, shop)
    dials = [dial.id for dial in cluster.dials]
    text = "" if answers is None else answers_text(answers)
    told = [
        one
        for part in (text, "\n".join(answer or []))
        for one in answers_in(part, known, cluster.name, dials)
    ]
    seen = [one for path in evidence or () for one in _seen_in(path, with_run=bool(runs))]
    belief = belief_of(known, dials, told, seen)
    if runs:
        of_runs = run_knowledge(tables, SHIPPED if knowledge is None else str(knowledge))
        for path in runs:
            belief = _with_run(belief, cluster, path, run_name, of_runs)
    options, wrong = next_options(belief, at.value, is_measured=bool(runs)), contradictions(belief)
    if as_json:
        document = _document(cluster.name, at, belief, options, wrong)
        if record is not None:
            document["shop"] = asdict(record)
        console.emit_json(document)
        return
    for one in wrong:
        console.err.print(f"look: {one.words}", markup=False)
        if one.answer is not None:
            finding = known.findings[one.answer.finding]
            console.err.print(f"      asked: {question(finding, one.answer.dial)}", markup=False)
    show(belief, options)
    if record is not None:
        console.out.print(f"of this shop: {record.words}", markup=False)


def _seen_in(path: Path, *, with_run: bool) -> tuple[Evidence, ...]:
    """Its evidence; where it holds none, or none of what a run showed, that is said."""
    found = read_evidence_file(path)
    if is_of_runs(path) and not with_run:
        holds = "holds evidence of rests over key-ons alone" if found else "holds no evidence"
        console.err.print(
            f"look: {path}: {holds}; what was found in the rows of its run is weighed when the "
            "run itself is given with --run RUN.csv",
            markup=False,
        )
    elif not found:
        console.err.print(f"look: {path}: holds no evidence, so it changes nothing", markup=False)
    return found


def _taught(known: Knowledge, shop: Path) -> "tuple[Knowledge, ShopRecord]":
    """What is known with a shop's own finished jobs, and how often that was so.

    Jobs that cannot count are said.
    """
    from needlewright.cli.shop_options import shop_at  # noqa: PLC0415 - loads the database
    from needlewright.composing.shop_priors import experience_of  # noqa: PLC0415 - the same
    from needlewright.composing.shop_record import shop_record  # noqa: PLC0415 - the same

    with shop_at(shop) as opened:
        experience, record = experience_of(opened, known), shop_record(opened)
    for words in experience.left_out:
        console.err.print(f"look: {words}", markup=False)
    return experience.teach(known), record


def _with_run(
    belief: Belief, cluster: Family, path: Path, name: str | None, of_runs: RunKnowledge
) -> Belief:
    """What is believed after a run; its dials must not be answered for by hand as well."""
    run = complete_run(read_run(path, name), cluster)
    say_rehearsed(run, as_json=True)
    explained, rests = explain_with_rests(cluster, run, of_runs)
    for said in run_evidence(belief.knowledge, explained, str(path), of_runs):
        belief = belief.weighed(said)
    for found in rests.values():
        for piece in key_cycle_evidence(found, str(path)):
            belief = belief.seen(piece)
    return belief


def _document(
    family: str,
    at: Where,
    belief: Belief,
    options: tuple[Option, ...],
    wrong: tuple[Contradiction, ...],
) -> dict[str, Any]:
    return {
        "family": family,
        "at": at.value,
        "answers": [
            {"finding": one.finding, "dial": one.dial, "yes": one.yes} for one in belief.answers
        ],
        "evidence": [
            {**piece, "counts": one not in belief.stood_in_for()}
            for one, piece in zip(belief.evidence, evidence_documents(belief.evidence), strict=True)
        ],
        "contradictions": [one.words for one in wrong],
        "dials": {dial: _rounded(belief.dial(dial)) for dial in belief.dials},
        "parts": {dial: _rounded(belief.parts(dial)) for dial in belief.dials},
        "whole": _rounded(belief.of_whole()),
        "responsible": [
            {
                "cause": code,
                "dial": dial,
                "probability": round(p, 6),
                "complained_of": is_complained_of(belief, code, dial),
            }
            for code, dial, p in responsible(belief).causes(belief.states)
        ],
        "options": [
            {
                "kind": one.kind,
                "id": one.id,
                "dial": one.dial,
                "words": one.words,
                "expected_minutes": round(one.expected_minutes, 2),
                "yes": None if one.yes is None else round(one.yes, 6),
                "then": list(one.then),
            }
            for one in options
        ],
    }


def _rounded(shares: dict[str, float]) -> dict[str, float]:
    return {code: round(p, 6) for code, p in shares.items()}
