"""`needlewright repeatability`: how well readings repeat, between people, cameras and views."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Any, Final, Literal

import typer
from rich.table import Table
from rich.text import Text

from needlewright.cli import console
from needlewright.cli.measured import measured_run
from needlewright.cli.written import refuse_missing_folder, write_file
from needlewright.composing.repeatability import (
    DialStudy,
    DialViews,
    strips_of,
    study,
    study_document,
    study_views,
    view_strips_of,
    views_document,
)
from needlewright.errors import RunError, UsageError
from needlewright.families.folder import load_family, write_family
from needlewright.families.model import Family
from needlewright.papers.budget_table import two_figures
from needlewright.papers.repeatability_strips import DialStrips, repeatability_svg
from needlewright.proofs.certificate import MeasuredRun
from needlewright.proofs.repeatability.studies import Spread
from needlewright.proofs.repeatability.table import Named
from needlewright.readings.run_csv import read_runs
from needlewright.units import unit_for_people

KEPT_DECIMALS: Final = 4

app = typer.Typer(add_completion=False)


@app.command()
def repeatability(
    runs: Annotated[
        list[str],
        typer.Argument(
            metavar="RUN.csv...",
            help="Runs of the same positions. Each is its run name's, or NAME's as NAME=RUN.csv; "
            "several of one name are that one's further photos.",
        ),
    ],
    *,
    family: Annotated[Path, typer.Option(metavar="DIR", help="The family's folder.")],
    by: Annotated[
        Literal["person", "camera", "view"],
        typer.Option(
            metavar="WHAT",
            help="person or camera: what the names are of; view: rows of one position are views "
            "of one unmoved needle.",
        ),
    ] = "person",
    part: Annotated[
        Literal["command", "step", "photo"],
        typer.Option(
            metavar="WHAT",
            help="What makes rows the same position: command (value and approach), step or photo.",
        ),
    ] = "command",
    chart: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="SVG file for a dial strip per person or camera."),
    ] = None,
    keep: Annotated[
        bool,
        typer.Option(
            "--keep", help="With --by view: write the view-dependent part into the family."
        ),
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """Judge how well readings repeat, without any truth.

    By person or camera: repeatability and reproducibility of every dial, by averages and ranges
    and by an analysis of variance. By view: what readings of an unmoved needle change by with the
    view beyond what they state.
    """
    if keep and by != "view":
        raise UsageError("--keep writes the view-dependent part, which only --by view finds")
    if chart is not None:
        refuse_missing_folder(chart)
    cluster = load_family(family)
    named = _named(cluster, runs)
    if by == "view":
        seen = study_views(cluster, [one for _, one in named], part)
        if keep:
            _refuse_moved(seen)
        _finish(
            {
                "by": by,
                "dials": {one.dial.id: views_document(one) for one in seen},
                "left_out": [],
                "remarks": [*_already(seen), *_remarks(seen)],
                "kept": keep,
            },
            [view_strips_of(one) for one in seen] if chart else [],
            chart,
            as_json,
            before_said=lambda: _keep(cluster, seen) if keep else None,
        )
        if not as_json:
            _show_views(seen, keep)
    else:
        judged = study(cluster, [Named(who, one.run) for who, one in named], by, part)
        _finish(
            {
                "by": by,
                "names": list(dict.fromkeys(who for who, _ in named)),
                "dials": {one.dial.id: study_document(one) for one in judged},
                "left_out": [words for one in judged for words in one.table.left_out],
                "remarks": _remarks(judged),
            },
            [strips_of(one) for one in judged] if chart else [],
            chart,
            as_json,
        )
        if not as_json:
            _show_studies(judged, by)


def _named(cluster: Family, runs: Sequence[str]) -> list[tuple[str, MeasuredRun]]:
    named = []
    for given in runs:
        who, path = _split(given)
        for one in read_runs(path):
            measured = measured_run(cluster, path, one.name)
            named.append((who or one.name, measured))
    return named


def _split(given: str) -> tuple[str | None, Path]:
    """`NAME=RUN.csv` in two; a file whose own name holds the sign is a file."""
    name, equals, rest = given.partition("=")
    if not equals or Path(given).exists():
        return None, Path(given)
    if not name or not rest:
        raise UsageError(f"'{given}': NAME=RUN.csv is expected, with both of them")
    return name, Path(rest)


def _remarks(judged: Sequence[DialStudy] | Sequence[DialViews]) -> list[str]:
    return [one.remark for one in judged if one.remark is not None]


def _already(seen: Sequence[DialViews]) -> list[str]:
    """Runs whose readings may hold a kept part that nothing beside them tells apart."""
    return [
        f"dial '{one.dial.id}', run '{name}' has no evidence beside it: if it was read with the "
        f"family's view_u_deg, {one.dial.view_u_deg:g}, that part is in it already and what is "
        f"found here comes on top: {one.to_keep_deg:.{KEPT_DECIMALS}g} together"
        for one in seen
        for name in one.on_top
    ]


def _refuse_moved(seen: Sequence[DialViews]) -> None:
    """A needle that may have moved between views says nothing of the view that could be kept."""
    for one in seen:
        if one.remark is not None:
            raise RunError(f"{one.remark}; nothing was kept, take the views again or omit --keep")


def _keep(cluster: Family, seen: Sequence[DialViews]) -> None:
    found = {one.dial.id: round(one.to_keep_deg, KEPT_DECIMALS) for one in seen}
    dials = tuple(
        replace(dial, view_u_deg=found.get(dial.id, dial.view_u_deg)) for dial in cluster.dials
    )
    write_family(replace(cluster, dials=dials), cluster.folder)


def _finish(
    document: Mapping[str, Any],
    strips: Sequence[DialStrips],
    chart: Path | None,
    as_json: bool,
    before_said: Callable[[], None] = lambda: None,
) -> None:
    """Write the chart, then do what must not happen without it, then say what was found."""
    if chart is not None:
        write_file(chart, repeatability_svg(strips).encode())
    before_said()
    if as_json:
        console.emit_json({**document, "chart": None if chart is None else str(chart)})
        return
    for words in (*document["left_out"], *document["remarks"]):
        console.out.print(f"look: {words}", markup=False)
    if chart is not None:
        console.out.print(f"strips in {chart}", markup=False)


def _show_studies(judged: Sequence[DialStudy], by: str) -> None:
    console.out.print("standard deviations in degrees (k = 1), by analysis of variance\n")
    table = _table("dial", "repeats", f"between {by}s", "together", "as shown", "ndc")
    for one in judged:
        spread = one.anova.spread
        table.add_row(
            one.dial.id,
            two_figures(spread.repeatability),
            two_figures(spread.reproducibility),
            two_figures(spread.grr),
            f"{two_figures(one.grr_value)} {unit_for_people(one.dial.unit)}",
            _ndc(spread),
        )
    console.out.print(table)
    for one in judged:
        console.out.print(Text(f"\n{one.dial.id}: {_sentence(one, by)}"))


def _sentence(one: DialStudy, by: str) -> str:
    positions, people, photos = one.table.angles_deg.shape
    p = next(row.p for row in one.anova.rows if row.source == "interaction")
    interaction = "pooled" if one.anova.pooled else "kept"
    spread = one.by_range
    parts = [
        f"{positions} positions x {people} {by}s x {photos} photos",
        f"interaction {interaction}" + ("" if p is None else f" (p = {p:.2g})"),
    ]
    if one.tolerance_share is not None:
        parts.append(f"{_percent(one.tolerance_share)} of the tightest tolerance of its rule")
    parts.append(
        f"by averages and ranges: repeats {two_figures(spread.repeatability)}, between "
        f"{two_figures(spread.between)}, together {two_figures(spread.grr)}, ndc {_ndc(spread)}"
    )
    return "; ".join(parts)


def _ndc(spread: Spread) -> str:
    return "no bound" if spread.ndc is None else str(spread.ndc)


def _show_views(seen: Sequence[DialViews], kept: bool) -> None:
    console.out.print("standard deviations in degrees (k = 1)\n")
    table = _table(
        "dial", "needles", "views", "differ by", "readings state", "view adds", "95 % interval"
    )
    for one in seen:
        spread = one.spread
        table.add_row(
            one.dial.id,
            str(spread.needles),
            str(spread.views),
            two_figures(spread.spread_deg),
            two_figures(spread.stated_deg),
            two_figures(spread.u_view_deg) if spread.u_view_deg else "nothing",
            f"{two_figures(spread.low_deg)} to {two_figures(spread.high_deg)}",
        )
    console.out.print(table)
    if kept:
        console.out.print("\nkept in the family as view_u_deg; photos read from now on state it")


def _table(*headings: str) -> Table:
    table = Table(box=None, padding=(0, 2, 0, 0))
    for i, heading in enumerate(headings):
        table.add_column(heading, justify="left" if i == 0 else "right")
    return table


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"
