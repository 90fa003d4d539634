"""`needlewright family calibrate`: a family's needles from photos, its programmes from a run."""

from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Annotated, Any, Final

import typer
from rich.table import Table
from rich.text import Text

from needlewright.cli import console
from needlewright.cli.measured import say_rehearsed
from needlewright.cli.read import rounded
from needlewright.cli.shop_options import say
from needlewright.composing.calibrating import (
    calibrated,
    programme_fits,
    refuse_rehearsed,
    write_calibrated,
)
from needlewright.errors import UsageError
from needlewright.families.folder import load_family
from needlewright.families.model import Dial, Family
from needlewright.plans.programme_fit import ProgrammeFit
from needlewright.readings.run_csv import read_run
from needlewright.readings.standing.measure import (
    Measured,
    NeedleStands,
    StandingNeedles,
    measure_standing,
)
from needlewright.units import unit_for_people

FEWEST_PHOTOS: Final = 2


def calibrate(
    folder: Annotated[
        Path, typer.Argument(metavar="DIR", help="Folder that holds family.json and face.png.")
    ],
    photos: Annotated[
        list[Path] | None,
        typer.Argument(
            metavar="PHOTO...",
            help="Two or more photos of needles that rest, from different sides.",
        ),
    ] = None,
    *,
    run: Annotated[
        Path | None,
        typer.Option(metavar="RUN.csv", help="A run of a unit that is known to be sound."),
    ] = None,
    run_name: Annotated[
        str | None,
        typer.Option(metavar="NAME", help="Which run, where the file holds several."),
    ] = None,
    dial: Annotated[
        list[str] | None, typer.Option(metavar="ID", help="Only this dial; may be repeated.")
    ] = None,
    sound: Annotated[
        bool,
        typer.Option("--sound", help="You know the unit of the run to be sound: write it too."),
    ] = False,
    rehearsed: Annotated[
        bool,
        typer.Option(
            "--rehearsed",
            help="The run is a rehearsed one and is meant: write it into this invented family.",
        ),
    ] = False,
    write: Annotated[
        bool, typer.Option("--write", help="Put what was measured into family.json.")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """Measure needle heights from photos, or programmes from a sound unit's run."""
    _refuse_wrong_usage(photos or [], run, run_name, sound=sound, write=write)
    _refuse_rehearsed_usage(run, rehearsed=rehearsed, write=write)
    family = load_family(folder)
    only = _known(family, dial or [])
    found = measure_standing(family, photos, only) if photos else StandingNeedles((), (), ())
    needles = found.needles
    fits: tuple[ProgrammeFit, ...] = ()
    if run is not None:
        taken = read_run(run, run_name)
        if write:
            refuse_rehearsed(family, taken, is_wanted=rehearsed)
        fits = programme_fits(family, taken, only)
        say_rehearsed(taken, as_json=as_json)
    changes: tuple[str, ...] | None = None
    if write:
        after = calibrated(family, needles, fits)
        changes = write_calibrated(family, after).changes
    if as_json:
        console.emit_json(_document(family, found, needles, fits, changes))
        return
    for name, reason in found.without_face:
        say(f"{name}: no needle was measured in it ({reason.replace('_', ' ')})")
    if needles:
        console.out.print(_needle_table(family, needles))
        _say_why_not(needles)
    for fit in fits:
        _say_programme(family, fit)
    _say_changes(folder, changes)


def _refuse_wrong_usage(
    photos: Sequence[Path], run: Path | None, run_name: str | None, *, sound: bool, write: bool
) -> None:
    if not photos and run is None:
        raise UsageError("nothing to measure by: give two or more photos, or --run RUN.csv")
    if len(photos) == 1:
        raise UsageError(
            f"'{photos[0]}': one photo tells no height; give {FEWEST_PHOTOS} or more, from "
            "different sides"
        )
    if run is None and (run_name is not None or sound):
        raise UsageError("--run-name, --sound: there is no run; give --run, or leave them out")
    if run is not None and write and not sound:
        raise UsageError(
            "--write: a programme is only taken from a unit that is known to be sound; add --sound "
            "if you know that of this one, or leave --write out"
        )


def _refuse_rehearsed_usage(run: Path | None, *, rehearsed: bool, write: bool) -> None:
    if rehearsed and (run is None or not write):
        raise UsageError(
            "--rehearsed: says that a rehearsed run is to be written; give --run and --write with "
            "it, or leave it out"
        )


def _known(family: Family, wanted: Sequence[str]) -> list[str]:
    known = [dial.id for dial in family.dials]
    for name in wanted:
        if name not in known:
            raise UsageError(f"--dial '{name}': family '{family.name}' has {', '.join(known)}")
    return list(wanted)


def _document(
    family: Family,
    found: StandingNeedles,
    needles: Sequence[NeedleStands],
    fits: Sequence[ProgrammeFit],
    changes: tuple[str, ...] | None,
) -> dict[str, Any]:
    return {
        "family": family.name,
        "folder": str(family.folder),
        "without_face": [{"photo": p, "reason": r} for p, r in found.without_face],
        "needles": [_needle_document(_dial(family, one.dial), one) for one in needles],
        "programmes": [_programme_document(fit) for fit in fits],
        "written": changes is not None,
        "changes": list(changes or ()),
    }


def _needle_document(dial: Dial, one: NeedleStands) -> dict[str, Any]:
    needle = dial.needle
    return {
        "dial": one.dial,
        "photos": list(one.photos),
        "left_out": [{"photo": photo, "reason": reason} for photo, reason in one.left_out],
        "height_mm": _measured_document(needle.height_mm, one.height_mm),
        "thickness_mm": _measured_document(needle.thickness_mm, one.thickness_mm),
        "pitch_deg": _measured_document(None, one.pitch_deg),
        "levers": [rounded(lever) for lever in one.levers],
        "chi2": rounded(one.chi2),
        "degrees_of_freedom": one.degrees_of_freedom,
    }


def _measured_document(before: float | None, one: Measured) -> dict[str, Any]:
    return {
        "before": before,
        "value": rounded(one.value),
        "u": rounded(one.u),
        "why_not": one.why_not,
    }


def _programme_document(fit: ProgrammeFit) -> dict[str, Any]:
    document = asdict(fit)
    document["before"] = [list(point) for point in fit.before]
    for point in document["points"]:
        point["u_shown"] = rounded(point["u_shown"])
    document["chi2"] = rounded(fit.chi2)
    for name in ("points", "faults", "remarks"):
        document[name] = list(document[name])
    return document


def _needle_table(family: Family, needles: Sequence[NeedleStands]) -> Table:
    table = Table(title="± is U, k = 2 (about 95 %)", title_justify="left", header_style="bold")
    table.add_column("dial")
    for head in ("photos", "height, mm", "was", "thickness, mm", "was", "pitch, deg"):
        table.add_column(head, justify="right")
    for one in needles:
        needle = _dial(family, one.dial).needle
        table.add_row(
            Text(one.dial),
            str(len(one.photos)),
            _words(one.height_mm, 2),
            f"{needle.height_mm:g}",
            _words(one.thickness_mm, 2),
            f"{needle.thickness_mm:g}",
            _words(one.pitch_deg, 2, signed=True),
        )
    return table


def _words(one: Measured, digits: int, *, signed: bool = False) -> str:
    if one.value is None or one.u is None:
        return "not told"
    return f"{one.value:{'+' if signed else ''}.{digits}f} ± {2 * one.u:.{digits}f}"


def _say_why_not(needles: Sequence[NeedleStands]) -> None:
    said: dict[str, list[str]] = {}
    for one in needles:
        for what, number in (
            ("height", one.height_mm),
            ("thickness", one.thickness_mm),
            ("pitch", one.pitch_deg),
        ):
            if number.why_not:
                said.setdefault(number.why_not, []).append(f"{one.dial} {what}")
        for photo, reason in one.left_out:
            words = f"not measured in {Path(photo).name}: {reason.replace('_', ' ')}"
            said.setdefault(words, []).append(one.dial)
    for words, of in said.items():
        say(f"{', '.join(of)}: {words}")


def _say_programme(family: Family, fit: ProgrammeFit) -> None:
    unit = unit_for_people(fit.unit)
    say(f"{fit.dial}: programme by {fit.rows} rows")
    for fault in fit.faults:
        say(f"  not taken: {fault}")
    if fit.points and fit.is_identity:
        say("  a unit that shows the true value explains the rows as well; no programme is needed")
    for point in fit.points:
        was = _dial(family, fit.dial).programme.shown_at(point.true_value)
        say(
            f"  {point.true_value:g} {unit} shown as {point.shown_value:g} ± "
            f"{2 * point.u_shown:.2g}, was {was:g}"
        )
    for remark in fit.remarks:
        say(f"  remark: {remark}")


def _say_changes(folder: Path, changes: tuple[str, ...] | None) -> None:
    if changes is None:
        say("Nothing was written; look at it, then say --write.")
    elif not changes:
        say(f"{folder}: nothing changes")
    for sentence in changes or ():
        say(f"{folder}: {sentence}")


def _dial(family: Family, name: str) -> Dial:
    return next(dial for dial in family.dials if dial.id == name)
