"""`needlewright light`: which zones of a lit face are dark or dim, which signs did not light."""

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, Final

import typer
from rich.table import Table
from rich.text import Text

from needlewright.cli import console
from needlewright.cli.written import refuse_missing_folder, write_file
from needlewright.composing.bench_devices import REHEARSED
from needlewright.composing.lamp_photos import lamp_shots
from needlewright.composing.light_document import LIKELY, light_document, light_sheet
from needlewright.composing.light_measuring import Wish
from needlewright.composing.light_series import DisplaySeries, judge_series
from needlewright.composing.lights import CAUTION, LightReport, check_lights, kept_healthy
from needlewright.errors import UsageError
from needlewright.families.folder import load_family
from needlewright.families.model import Family
from needlewright.findings.lamps.fading import Fading
from needlewright.findings.lamps.zones import FaceState
from needlewright.findings.wording import share_words
from needlewright.papers.light_sheet import light_sheet_png
from needlewright.readings.light.zone_light import Share

MUCH_BRIGHTER: Final = 1.5
"""Times the light of its mirror image, from where no figure is worth printing."""

app = typer.Typer(add_completion=False)


@app.command()
def light(
    photos: Annotated[
        list[Path] | None,
        typer.Argument(
            metavar="PHOTO...",
            help="Photos of the face on a dark bench; or a run of the bench that took them, by "
            "its CSV, its .outcome.json or its folder.",
        ),
    ] = None,
    *,
    family: Annotated[Path, typer.Option(metavar="DIR", help="The family's folder.")],
    healthy: Annotated[
        Path | None,
        typer.Option(
            metavar="PHOTO",
            help="A healthy unit of the family with its backlight on; by default healthy.png or "
            "healthy.jpg in the family's folder. Without one zones are held against the family's "
            "print and their mirror images.",
        ),
    ] = None,
    lit: Annotated[
        list[str] | None,
        typer.Option(
            "--lit",
            metavar="NAME",
            help="Group of lamps, or a lamp, that is on in the photos; repeatable. Photos of a "
            "run say so themselves; of others it is the backlight.",
        ),
    ] = None,
    every_segment: Annotated[
        bool,
        typer.Option(
            "--every-segment",
            help="Every segment of the displays is on, in the healthy picture too.",
        ),
    ] = False,
    series: Annotated[
        Path | None,
        typer.Option(
            metavar="TABLE.csv",
            help="Photos of a display that warms up: columns photo, and minutes or temperature_c.",
        ),
    ] = None,
    same_exposure: Annotated[
        bool,
        typer.Option(
            "--same-exposure",
            help="All photos were exposed alike by hand, the healthy one too: what is dim all "
            "over shows then.",
        ),
    ] = False,
    in_vehicle: Annotated[
        bool,
        typer.Option(
            "--in-vehicle",
            help="Photos that the owner took in the dark: they answer the questions to the owner, "
            "not the tests of the bench.",
        ),
    ] = False,
    out: Annotated[
        Path | None,
        typer.Option(metavar="FILE.png", help="Picture of the face with its zones to write."),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """Say which zones of a lit face are dark or dim, and which tell-tales did not light.

    Exposure and gain are taken out: light is said in that of the brightest zones. A halo round a
    hub is told, and of a series of photos whether a display loses light.
    """
    if not photos and series is None:
        raise UsageError("give photos of the lit face, a run of the bench, or --series")
    if out is not None:
        if out.suffix.lower() != ".png":
            raise UsageError(f"--out: expected a file name that ends in .png, given '{out}'")
        refuse_missing_folder(out)
    cluster = load_family(family)
    healthy = healthy or kept_healthy(cluster)
    wish = Wish(
        "same" if same_exposure and healthy is not None else "cancelled",
        every_segment,
        "vehicle" if in_vehicle else "bench",
    )
    if same_exposure and healthy is None and series is None:
        raise UsageError(
            "--same-exposure compares with a healthy unit's photo; give that with --healthy"
        )
    report = None
    if photos:
        report = check_lights(cluster, lamp_shots(cluster, photos, lit or ()), healthy, wish)
    fading = (
        () if series is None else judge_series(cluster, series, wish, same_exposure=same_exposure)
    )
    drawn = _draw(cluster, report, out)
    if as_json:
        console.emit_json(light_document(cluster, report, fading, drawn))
    else:
        _show(report, fading, drawn)
        if report is not None and report.rehearsed:
            console.out.print(f"rehearsed: {REHEARSED}", markup=False)
    problems = [one.problem for one in report.photos if one.problem] if report else []
    for sentence in problems:
        console.say_error(sentence)
    if problems:
        raise typer.Exit(1)


def _draw(family: Family, report: LightReport | None, out: Path | None) -> Path | None:
    if out is None:
        return None
    sheet = None if report is None else light_sheet(family, report)
    if sheet is None:
        raise UsageError("--out: no photo shows the face lit by its backlight; leave --out away")
    write_file(out, light_sheet_png(sheet))
    return out


def _show(report: LightReport | None, series: Sequence[DisplaySeries], drawn: Path | None) -> None:
    if report is not None:
        if report.face is None:
            console.out.print(f"zones: not judged, {report.no_zones}", markup=False)
        else:
            _show_face(report, report.face)
        _show_signs(report)
        _show_hubs(report)
    for one in series:
        _show_series(one)
    if drawn is not None:
        console.out.print(f"picture in {drawn}", markup=False)
    console.out.print(f"caution: {CAUTION}", markup=False)


def _show_face(report: LightReport, face: FaceState) -> None:
    by = "its lamps" if report.zoning.source == "lamps" else "an even division round its dials"
    against = (
        f"a healthy unit ({report.healthy})"
        if face.face.reference == "healthy"
        else "the family's own print"
    )
    exposed = (
        "exposed alike" if face.face.exposure == "same" else "in the light of the brightest zones"
    )
    console.out.print(
        Text(f"zones by {by}, against {against}, {exposed}; ± is U, k = 2 (about 95 %)", "bold")
    )
    table = Table(box=None, pad_edge=False)
    for heading in ("zone", "", "light", "mirror", "is", "left out"):
        table.add_column(heading, justify="right" if heading == "zone" else "left")
    for one in face.zones:
        seen, found = one.seen, one.probabilities
        mirror = seen.against_mirror
        said = f"not seen: {seen.why}"
        if found is not None and one.state is not None:
            said = f"{one.state}, {share_words(found[one.state])}"
        table.add_row(
            str(seen.zone.number),
            seen.zone.id,
            _share(seen.light, seen.u_light),
            "" if mirror is None else _mirrored(mirror, seen.zone.mirror),
            Text(said, style="green" if one.state == "sound" else "red"),
            _left_out(seen.saturated, seen.black),
        )
    console.out.print(table)
    even = face.evenness
    if even is not None:
        ratio = (
            "not given, the darkest zone gives no light"
            if even.most_over_least is None or even.u_most_over_least is None
            else f"{even.most_over_least:.2f} ("
            f"{_from(1.0, even.most_over_least, even.u_most_over_least, '.2f')})"
        )
        console.out.print(
            f"evenness: brightest over darkest {ratio}; spread over the zones "
            f"{100 * even.spread:.0f} % "
            f"({_from(0.0, 100 * even.spread, 100 * even.u_spread, '.0f')} %); in brackets 95 %",
            markup=False,
        )


def _from(least: float, size: float, u_size: float, how: str) -> str:
    """An interval of what is never below something; U, k = 2."""
    return f"{max(size - 2 * u_size, least):{how}} to {size + 2 * u_size:{how}}"


def _mirrored(mirror: Share, number: int | None) -> str:
    if mirror.light > MUCH_BRIGHTER:
        return f"far brighter than {number}"
    return f"{_share(mirror.light, mirror.u_light)} of {number}"


def _share(light: float | None, u_light: float | None) -> str:
    if light is None or u_light is None:
        return ""
    return f"{100 * light:.0f} ± {200 * u_light:.0f} %"


def _left_out(saturated: float, black: float) -> str:
    said = []
    if saturated >= 0.01:
        said.append(f"{100 * saturated:.0f} % of its print blown out")
    if black >= 0.01:
        said.append(f"{100 * black:.0f} % black: no more than that")
    return ", ".join(said)


def _show_signs(report: LightReport) -> None:
    if not report.signs:
        return
    dark = [one for one in report.signs if one.dark is not None and one.dark > LIKELY]
    lit = [one for one in report.signs if one.dark is not None and one.dark <= LIKELY]
    for sign in dark:
        console.out.print(
            Text(f"{sign.id}: DID NOT LIGHT, {share_words(sign.dark or 0.0)}", style="red")
        )
    if lit:
        names = [one.id for one in lit if one.kind == "tell_tale"]
        pieces = sum(one.kind == "segment" for one in lit)
        said = ", ".join([*names, *([f"{pieces} pieces of displays"] if pieces else [])])
        console.out.print(f"light: {said}", markup=False)
    for sign in report.signs:
        if sign.dark is None:
            console.out.print(f"{sign.id}: not seen: {sign.why}", markup=False)


def _show_hubs(report: LightReport) -> None:
    for hub in report.hubs:
        if hub.halo is None:
            console.out.print(f"hub of {hub.dial}: not seen: {hub.why}", markup=False)
        elif hub.halo > LIKELY:
            console.out.print(
                Text(
                    f"hub of {hub.dial}: HALO, {share_words(hub.halo)}: light round it is "
                    f"{_share(hub.light, hub.u_light)} of lit print",
                    style="red",
                )
            )
            console.say_indented(hub.remedy or "")
    clear = [one.dial for one in report.hubs if one.halo is not None and one.halo <= LIKELY]
    if clear:
        console.out.print(f"no halo at the hub of {', '.join(clear)}", markup=False)


def _show_series(one: DisplaySeries) -> None:
    for photo, why in one.left_out:
        console.out.print(f"display {one.display}: {photo} left out: {why}", markup=False)
    if one.fading is not None:
        console.out.print(Text(f"display {one.display}: {_fading_words(one.fading)}"))


def _fading_words(fading: Fading) -> str:
    unit = "min" if fading.against == "minutes" else "°C"
    low, high = fading.lost_within
    half = "it does not fall"
    if fading.halves_at is not None:
        half = f"it would halve at {fading.halves_at:.3g} {unit}"
        if fading.halves_from is not None:
            to = "no end" if fading.halves_to is None else f"{fading.halves_to:.3g}"
            half += f" ({fading.halves_from:.3g} to {to})"
    return (
        f"lost {100 * fading.lost:.0f} % of its light ({100 * low:.0f} to {100 * high:.0f}, 95 %) "
        f"from {fading.points[0].at:.3g} to {fading.points[-1].at:.3g} {unit}; {half}; fades: "
        f"{share_words(fading.fades)}"
    )
