"""`needlewright needle-set height`: the gauge to press a needle down to, and what that leaves."""

from pathlib import Path
from typing import Annotated, Final, Literal

import typer
from rich.table import Table
from rich.text import Text
from typer.models import OptionInfo

from needlewright.cli import console
from needlewright.cli.written import write_file
from needlewright.composing.needle_height import (
    CAUTIONS,
    GAUGE_TOLERANCE_MM,
    height_document,
    height_drawing,
    height_lines,
    limits_of,
    measured_height,
    sensitivity_rows,
)
from needlewright.composing.needle_lengths import length_of, stack_of
from needlewright.errors import PlanError, UsageError
from needlewright.families.folder import load_family
from needlewright.families.model import Dial
from needlewright.plans.height.height import needle_height, with_measured
from needlewright.plans.height.stack import Shape

MM: Final = "MM"


def _option(what: str) -> OptionInfo:
    option: OptionInfo = typer.Option(metavar=MM, help=f"{what}, as 6.0 or 6.0+-0.1.")
    return option


def height(
    *,
    shaft: Annotated[str, _option("End of the shaft above what the face lies on")],
    hub: Annotated[str, _option("Whole height of the needle's hub")],
    bore: Annotated[str, _option("Depth of the hub's bore from its underside")],
    thickness: Annotated[
        str | None, _option("Of the needle's bar; unless stated, the family's")
    ] = None,
    face: Annotated[
        str, _option("Thickness of the face; 0 where the shaft is measured from the face")
    ] = "0",
    blade: Annotated[str, _option("Underside of the bar above the hub's underside")] = "0",
    droop: Annotated[str, _option("How much lower the tip is than the bar at the hub")] = "0",
    lens: Annotated[str | None, _option("Lens above the face; unless stated, the family's")] = None,
    gauge: Annotated[
        str | None, _option("Gauge under the hub; unless stated, one is chosen")
    ] = None,
    depth: Annotated[
        str | None, _option("How far the shaft is pressed into the hub, instead of a gauge")
    ] = None,
    gauge_tolerance: Annotated[
        float, typer.Option(metavar=MM, help="Tolerance of a gauge that is chosen.")
    ] = GAUGE_TOLERANCE_MM,
    normal: Annotated[
        bool,
        typer.Option(
            "--normal", help="95 % lie within a tolerance; without it, anywhere within alike."
        ),
    ] = False,
    contact: Annotated[
        float | None, typer.Option(metavar=MM, help="Least clearance to the face.")
    ] = None,
    halo: Annotated[
        float | None, typer.Option(metavar=MM, help="Greatest gap under the hub.")
    ] = None,
    lens_clearance: Annotated[
        float | None, typer.Option(metavar=MM, help="Least clearance to the lens.")
    ] = None,
    grip: Annotated[
        float | None, typer.Option(metavar=MM, help="Least length of shaft in the bore.")
    ] = None,
    family: Annotated[Path | None, typer.Option(metavar="DIR", help="The family's folder.")] = None,
    dial: Annotated[str | None, typer.Option(metavar="DIAL", help="Of that family.")] = None,
    calibrated: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE.json", help="A document of `family calibrate --json`, to compare with."
        ),
    ] = None,
    out: Annotated[
        Path | None, typer.Option(metavar="FILE.svg", help="Write the section, drawn to scale.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """Work out to which gauge a needle is pressed, and what that leaves to face and lens."""
    if gauge is not None and depth is not None:
        raise UsageError("--gauge and --depth: state one of them, the hub can be set by one only")
    if out is not None and out.suffix.lower() != ".svg":
        raise UsageError(f"--out {out}: the ending must be .svg")
    needle = _dial(family, dial)
    if thickness is None and needle is None:
        raise UsageError("--thickness: state it, or name --family and --dial that do")
    shape: Shape = "normal" if normal else "rectangular"
    lengths = {
        "shaft": shaft, "bore": bore, "hub": hub, "thickness": thickness, "face": face,
        "blade": blade, "droop": droop, "lens": lens,
    }  # fmt: skip
    stack = stack_of({name: one for name, one in lengths.items() if one is not None}, needle, shape)
    setting: Literal["gauge", "depth"] = "gauge" if depth is None else "depth"
    typed = gauge if depth is None else depth
    found = needle_height(
        stack,
        limits_of(needle, contact_mm=contact, halo_mm=halo, lens_mm=lens_clearance, grip_mm=grip),
        setting=setting,
        set_to=None if typed is None else length_of(setting, typed, shape),
        gauge_tolerance_mm=gauge_tolerance,
    )
    if calibrated is not None:
        if dial is None:
            raise UsageError("--calibrated: name the --dial whose needle is meant")
        found = with_measured(found, *measured_height(calibrated, dial))
    title = "Needle height" if dial is None else f"Needle height, {dial}"
    if out is not None:
        write_file(out, height_drawing(found, title).encode())
    if as_json:
        console.emit_json({**height_document(found), "out": None if out is None else str(out)})
        return
    console.out.print(Text(title, style="bold"))
    for line in height_lines(found):
        console.say_indented(line)
    console.out.print()
    table = Table(box=None, pad_edge=False)
    for heading in ("what it comes from", "length", "mm a mm", "u (k = 1), share"):
        table.add_column(heading)
    for row in sensitivity_rows(found):
        table.add_row(*row)
    console.out.print(table)
    console.out.print()
    for caution in CAUTIONS:
        console.out.print(Text(caution))
    if out is not None:
        console.out.print(f"written to {out}", markup=False)


def _dial(folder: Path | None, name: str | None) -> Dial | None:
    if folder is None:
        return None
    family = load_family(folder)
    if name is None:
        raise UsageError(f"--dial: name one of {', '.join(one.id for one in family.dials)}")
    dial = family.dial(name)
    if dial is None:
        known = ", ".join(one.id for one in family.dials)
        raise PlanError(f"dial '{name}': family '{family.name}' has {known}")
    return dial
