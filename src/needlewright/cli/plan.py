"""`needlewright plan`: from findings to what is repaired, replaced, watched and left."""

from datetime import date
from decimal import Decimal, InvalidOperation
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any, Final

import typer

from needlewright.cli import console
from needlewright.cli.plan_papers import Papers
from needlewright.cli.plan_words import show_plan
from needlewright.cli.shop_options import By, ShopFolder, shop_at
from needlewright.composing.plan_making import Planned, PlanTerms, document_of
from needlewright.errors import PlanError, UnitError, UsageError
from needlewright.families.folder import load_family
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.papers.plan_sheet import plan_sheet_pdf
from needlewright.papers.quote import quote_html
from needlewright.plans.decimal_comma import pointed
from needlewright.plans.rebuild.findings_file import parse_fault, read_findings

app = typer.Typer(add_completion=False)
RECOMMENDED: Final = "recommended"


class Which(StrEnum):
    """Which option the sheet follows."""

    RECOMMENDED = "recommended"
    ONLY_FAILED = "only_failed"
    EVERYTHING = "everything"


@app.command()
def plan(
    *,
    family: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="The family's folder; a job has its own."),
    ] = None,
    job: Annotated[
        str | None,
        typer.Option(
            metavar="TAG", help="A job of the shop: its findings, family, variant and mileage."
        ),
    ] = None,
    shop: ShopFolder = None,
    only_look: Annotated[
        bool,
        typer.Option(
            "--only-look",
            help="Do not keep the plan with the job; nothing is written and sent of it then.",
        ),
    ] = False,
    by: By = None,
    findings: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE.json",
            help='What `troubleshoot --json` printed, or {"faults": {"speed:lost_steps": 0.9}}.',
        ),
    ] = None,
    fault: Annotated[
        list[str] | None,
        typer.Option(
            metavar="DIAL:FAULT=P",
            help="A fault with its probability; `whole:` for the whole. Takes the place of what "
            "the file says of that fault.",
        ),
    ] = None,
    variant: Annotated[str | None, typer.Option(metavar="ID", help="Of the family.")] = None,
    age_years: Annotated[
        float | None, typer.Option(metavar="YEARS", help="How old the cluster is.")
    ] = None,
    mileage: Annotated[
        float | None, typer.Option(metavar="KM", help="As the odometer shows it, in km.")
    ] = None,
    warranty: Annotated[
        float | None, typer.Option(metavar="MONTHS", help="Else as the catalogue has it.")
    ] = None,
    horizon: Annotated[
        float | None,
        typer.Option(metavar="YEARS", help="How long the customer means to keep the vehicle."),
    ] = None,
    km_per_year: Annotated[
        float | None, typer.Option(metavar="KM", help="What the customer drives in a year.")
    ] = None,
    catalogue: Annotated[
        Path | None,
        typer.Option(metavar="FILE.toml", help="Catalogue of operations; the shipped one else."),
    ] = None,
    returns: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE.csv", help="The shop's lives of weak points; wear is taken from them."
        ),
    ] = None,
    currency: Annotated[
        str | None, typer.Option(metavar="CODE", help="ISO 4217; else the catalogue's own.")
    ] = None,
    exchange: Annotated[
        str | None,
        typer.Option(metavar="RATE", help="How much of it one of the catalogue's is worth."),
    ] = None,
    knowledge: Annotated[
        Path | None,
        typer.Option(metavar="FILE.toml", help="Knowledge file; the shipped one otherwise."),
    ] = None,
    tag: Annotated[
        str | None,
        typer.Option(metavar="TEXT", help="On the papers, where no job of the shop is meant."),
    ] = None,
    option: Annotated[
        Which | None,
        typer.Option(
            metavar="NAME",
            help="Which option the sheet of the work follows; else the accepted one, or as "
            "recommended.",
        ),
    ] = None,
    out: Annotated[
        Path | None, typer.Option(metavar="FILE.pdf", help="The sheet of the work, to write.")
    ] = None,
    quote: Annotated[
        Path | None,
        typer.Option(metavar="FILE.html", help="The quote with the three options, to write."),
    ] = None,
    sent_by: Annotated[
        str | None,
        typer.Option(
            metavar="TEXT",
            help="Who sends the quote; of a job the shop's name and place else.",
        ),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """Plan a rebuild: what to repair, replace, watch and leave, by expected cost.

    Beside the recommendation stand only what failed, and replace everything. The plan of a job is
    kept with it.
    """
    papers = Papers(None if option is None else option.value, out, quote, sent_by)
    papers.refuse_missing_folders()
    terms = PlanTerms(
        warranty_months=warranty,
        horizon_years=horizon,
        km_per_year=km_per_year,
        age_years=age_years,
        mileage_km=mileage,
        variant=variant,
        currency=currency,
        exchange=_rate(exchange),
        faults=tuple(parse_fault(text) for text in fault or ()),
        catalogue=catalogue,
        returns=returns,
    )
    if job is not None:
        _refuse_files(family, findings, only_look, papers)
        from needlewright.cli.plan_of_job import plan_job  # noqa: PLC0415 - loads the database

        with shop_at(shop) as opened:
            made = plan_job(
                opened, job, terms, papers, knowledge=knowledge, by=by, only_look=only_look
            )
        document, files, kept = made.document, made.files, made.words
    else:
        _refuse_records(shop, by, only_look)
        document, kept = _of_files(family, findings, knowledge, tag, terms), ()
        files = papers.write(
            lambda: plan_sheet_pdf(document, papers.option or RECOMMENDED, date.today()),
            lambda: quote_html(document, sent_by).encode("utf-8"),
        )
    if as_json:
        is_kept = None if job is None else not only_look
        console.emit_json({**document, "files": files, "kept": is_kept})
        return
    show_plan(document, files)
    for words in kept:
        console.out.print(words, markup=False)


def _refuse_files(family: Path | None, file: Path | None, only_look: bool, papers: Papers) -> None:
    if family is not None or file is not None:
        raise UsageError(
            "--job takes family and findings from the records; leave --family and --findings out"
        )
    if only_look and papers.wanted:
        raise UsageError(
            "--only-look keeps no plan, and what is worked by or sent must be kept; leave "
            "--only-look out, or --out and --quote"
        )


def _refuse_records(shop: Path | None, by: str | None, only_look: bool) -> None:
    if shop is not None or by is not None or only_look:
        raise UsageError(
            "--shop, --by and --only-look go with --job TAG; name the job, or leave them out"
        )


def _of_files(
    family: Path | None,
    file: Path | None,
    knowledge: Path | None,
    tag: str | None,
    terms: PlanTerms,
) -> dict[str, Any]:
    if family is None:
        raise UsageError("give the family's folder with --family, or a job of the shop with --job")
    known = load_knowledge(knowledge)
    shares = {} if file is None else read_findings(file, known)
    return document_of(Planned(load_family(family), shares, tag=tag), known, terms)


def _rate(typed: str | None) -> Decimal | None:
    if typed is None:
        return None
    try:
        return Decimal(pointed(typed.strip()))
    except (InvalidOperation, UnitError) as error:
        raise PlanError(f"rate of exchange: expected a number, found '{typed}'") from error
