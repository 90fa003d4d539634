"""`needlewright plan`: from findings to what is repaired, replaced, watched and left."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal, InvalidOperation
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from needlewright.cli import console
from needlewright.cli.plan_words import show_plan
from needlewright.cli.shop_options import ShopFolder, shop_at
from needlewright.cli.written import refuse_missing_folder, write_file
from needlewright.composing.gauge_names import gauge_names
from needlewright.errors import PlanError, UsageError
from needlewright.families.folder import load_family
from needlewright.families.model import Family
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.findings.troubleshooting.model import Knowledge
from needlewright.papers.plan_sheet import plan_sheet_pdf
from needlewright.papers.quote import quote_html
from needlewright.plans.catalogue.exchange import in_currency
from needlewright.plans.catalogue.load import load_catalogue
from needlewright.plans.rebuild.findings import findings_from
from needlewright.plans.rebuild.findings_file import Shares, parse_fault, read_findings
from needlewright.plans.rebuild.plan import plan_of, with_terms
from needlewright.plans.rebuild.plan_json import plan_document
from needlewright.plans.rebuild.risks import Life
from needlewright.plans.wear.returns import read_returns

app = typer.Typer(add_completion=False)


@dataclass(frozen=True, slots=True)
class Given:
    """What is planned for, from files or from the records of a job."""

    family: Family
    shares: Shares
    variant: str | None
    mileage_km: float | None
    tag: str | None


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
        Which, typer.Option(metavar="NAME", help="Which option the sheet of the work follows.")
    ] = Which.RECOMMENDED,
    out: Annotated[
        Path | None, typer.Option(metavar="FILE.pdf", help="The sheet of the work, to write.")
    ] = None,
    quote: Annotated[
        Path | None,
        typer.Option(metavar="FILE.html", help="The quote with the three options, to write."),
    ] = None,
    sent_by: Annotated[
        str | None, typer.Option(metavar="TEXT", help="The shop's name and address, on the quote.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """Plan a rebuild: what to repair, replace, watch and leave, by expected cost.

    Beside the recommendation stand only what failed, and replace everything.
    """
    for path in (out, quote):
        if path is not None:
            refuse_missing_folder(path)
    known = load_knowledge(knowledge)
    given = _of_job(job, shop, known, family, findings) or _of_files(family, findings, known, tag)
    shares = dict(given.shares)
    for text in fault or ():
        at, p = parse_fault(text)
        shares = {other: one for other, one in shares.items() if not _same(other, at)}
        shares[at] = p
    cluster = given.family
    found = findings_from(shares, known, cluster)
    variant = variant or given.variant
    operations = load_catalogue(known, cluster, catalogue, variant)
    if returns is not None:
        operations = read_returns(returns, operations)
    operations = in_currency(operations, currency, _rate(exchange))
    operations = with_terms(
        operations, warranty_months=warranty, horizon_years=horizon, km_per_year=km_per_year
    )
    life = Life(age_years, given.mileage_km if mileage is None else mileage)
    names = {dial: f"the {name}" for dial, name in gauge_names(cluster).items()}
    made = plan_of(found, operations, cluster, known, life, names=names)
    document = plan_document(
        made, operations, invented=cluster.is_invented, variant=variant, tag=given.tag
    )
    files: dict[str, str] = {}
    if out is not None:
        write_file(out, plan_sheet_pdf(document, option.value, date.today()))
        files["sheet"] = str(out)
    if quote is not None:
        write_file(quote, quote_html(document, sent_by).encode("utf-8"))
        files["quote"] = str(quote)
    if as_json:
        console.emit_json({**document, "files": files})
        return
    show_plan(document, files)


def _of_job(
    tag: str | None, shop: Path | None, known: Knowledge, family: Path | None, file: Path | None
) -> Given | None:
    """What the records say of a job; None where none is meant."""
    if tag is None:
        if shop is not None:
            raise UsageError("--shop goes with --job TAG; name the job, or leave the shop out")
        return None
    if family is not None or file is not None:
        raise UsageError(
            "--job takes family and findings from the records; leave --family and --findings out"
        )
    from needlewright.composing.job_plan import job_for_plan  # noqa: PLC0415 - loads the database

    with shop_at(shop) as opened:
        job = job_for_plan(opened, tag, known)
    for words in job.notes:
        console.err.print(f"look: {words}", markup=False)
    return Given(job.family, job.shares, job.variant, job.mileage_km, job.tag)


def _of_files(family: Path | None, file: Path | None, known: Knowledge, tag: str | None) -> Given:
    if family is None:
        raise UsageError("give the family's folder with --family, or a job of the shop with --job")
    shares = {} if file is None else read_findings(file, known)
    return Given(load_family(family), shares, None, None, tag)


def _same(known: tuple[str, str], typed: tuple[str, str]) -> bool:
    """Whether a typed fault takes the place of a known one: the same, or the cause in any part."""
    return known[0] == typed[0] and (known[1] == typed[1] or known[1].partition("/")[0] == typed[1])


def _rate(typed: str | None) -> Decimal | None:
    if typed is None:
        return None
    try:
        return Decimal(typed)
    except InvalidOperation as error:
        raise PlanError(f"rate of exchange: expected a number, found '{typed}'") from error
