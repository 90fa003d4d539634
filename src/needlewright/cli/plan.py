"""`needlewright plan`: from findings to what is repaired, replaced, watched and left."""

from datetime import date
from decimal import Decimal, InvalidOperation
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.table import Table

from needlewright.cli import console
from needlewright.cli.written import refuse_missing_folder, write_file
from needlewright.composing.gauge_names import gauge_names
from needlewright.errors import PlanError
from needlewright.families.folder import load_family
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.papers.plan_sheet import plan_sheet_pdf
from needlewright.papers.quote import quote_html
from needlewright.plans.catalogue.exchange import in_currency
from needlewright.plans.catalogue.load import load_catalogue
from needlewright.plans.rebuild.findings import findings_from
from needlewright.plans.rebuild.findings_file import parse_fault, read_findings
from needlewright.plans.rebuild.plan import plan_of, with_terms
from needlewright.plans.rebuild.plan_json import plan_document
from needlewright.plans.rebuild.risks import Life
from needlewright.plans.wear.returns import read_returns

app = typer.Typer(add_completion=False)


class Which(StrEnum):
    """Which option the sheet follows."""

    RECOMMENDED = "recommended"
    ONLY_FAILED = "only_failed"
    EVERYTHING = "everything"


@app.command()
def plan(
    *,
    family: Annotated[Path, typer.Option(metavar="DIR", help="The family's folder.")],
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
        str | None, typer.Option(metavar="TEXT", help="The job's tag, for the papers.")
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
    cluster, known = load_family(family), load_knowledge(knowledge)
    shares = {} if findings is None else read_findings(findings, known)
    for text in fault or ():
        (place, code), p = parse_fault(text)
        shares = {at: one for at, one in shares.items() if not _same(at, (place, code))}
        shares[place, code] = p
    found = findings_from(shares, known, cluster)
    operations = load_catalogue(known, cluster, catalogue, variant)
    if returns is not None:
        operations = read_returns(returns, operations)
    operations = in_currency(operations, currency, _rate(exchange))
    operations = with_terms(
        operations, warranty_months=warranty, horizon_years=horizon, km_per_year=km_per_year
    )
    names = {dial: f"the {name}" for dial, name in gauge_names(cluster).items()}
    made = plan_of(found, operations, cluster, known, Life(age_years, mileage), names=names)
    document = plan_document(
        made, operations, invented=cluster.is_invented, variant=variant, tag=tag
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
    _show(document, files)


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


def _show(document: dict[str, Any], files: dict[str, str]) -> None:
    for words in document["notes"]:
        console.err.print(f"look: {words}", markup=False)
    console.out.print(_options(document))
    for option in document["options"]:
        done = "; ".join(one["words"] for one in option["operations"]) or "nothing is done"
        console.out.print(f"{option['title']}: {done}", markup=False)
    console.out.print(_decisions(document))
    said = dict.fromkeys(words for one in document["options"][:1] for words in one["cautions"])
    for words in (*said, *document["vehicle"]):
        console.out.print(f"caution: {words}" if words in said else words, markup=False)
    for what, path in files.items():
        console.out.print(f"{what} written to {path}", markup=False)


def _options(document: dict[str, Any]) -> Table:
    table = Table(title=f"plan {document['number']}, {document['currency']} without tax")
    table.add_column("option")
    for heading in ("now", "minutes", "returns", "expected later", "in all"):
        table.add_column(heading, justify="right")
    for one in document["options"]:
        table.add_row(
            one["title"],
            one["price"],
            f"{one['minutes']:.0f} ± {one['u_minutes']:.0f}",
            f"{one['expected_returns']:.2f}",
            one["after"],
            one["total"],
        )
    return table


def _decisions(document: dict[str, Any]) -> Table:
    table = Table(title="as recommended, part by part")
    for heading in ("of", "part", "choice"):
        table.add_column(heading)
    table.add_column("why", overflow="fold")
    for one in document["decisions"]:
        why = "; ".join(text for text in (one["reason"], one["due"], one["caution"]) if text)
        table.add_row(one["of"], one["words"], one["choice"], why)
    return table
