"""How high a needle is set: limits of its family, words, document and drawing."""

import json
from pathlib import Path
from typing import Any, Final

from needlewright.errors import PlanError
from needlewright.families.model import Dial
from needlewright.papers.height_section import Edge, HeightSection, height_svg
from needlewright.plans.height.clearances import Clearance
from needlewright.plans.height.height import Measured, NeedleHeight, none_fits
from needlewright.plans.height.stack import HeightLimits
from needlewright.rules.decision import COVERAGE_K

CAUTIONS: Final = (
    "Support the shaft or the movement from behind; press straight, never force it: a hub that "
    "stops early has met the end of its bore.",
    "Take the gauge out before the needle is turned; keep it off the print and the needle's tip.",
    "Look for light round the hub and for contact over the whole sweep before the lens goes on.",
)
NAMES: Final = {
    "hub to face": "hub above the face",
    "needle to face": "needle above the face, at its tip",
    "halo": "gap that light shows through",
    "lens": "below the lens",
    "grip": "shaft in the bore",
    "bore left": "bore left above the shaft",
}
GAUGE_TOLERANCE_MM: Final = 0.05
"""Of a gauge that is chosen, where nobody states another (common practice, no source)."""
_DECIMALS: Final = 4
_SAME_MM: Final = 1e-6
_LARGEST_FILE: Final = 5_000_000


def limits_of(
    dial: Dial | None,
    *,
    contact_mm: float | None = None,
    halo_mm: float | None = None,
    lens_mm: float | None = None,
    grip_mm: float | None = None,
) -> HeightLimits:
    """Limits as typed; where nothing is typed the family's, else the stated defaults.

    Parameters
    ----------
    dial
        Of the family; None: there is none.
    contact_mm
        Least gap to the face against contact, as typed; None: not typed.
    halo_mm
        Largest gap under the hub against a halo.
    lens_mm
        Least gap to the lens.
    grip_mm
        Least length of shaft in the bore.

    Returns
    -------
    HeightLimits
        Saying which of them anybody stated.

    Raises
    ------
    PlanError
        If a limit is none, or two leave no room.
    """
    if dial is not None:
        contact_mm = dial.needle.contact_mm if contact_mm is None else contact_mm
        halo_mm = dial.needle.halo_mm if halo_mm is None else halo_mm
    typed = {"contact": contact_mm, "halo": halo_mm, "lens": lens_mm, "grip": grip_mm}
    stated = {f"{name}_mm": mm for name, mm in typed.items() if mm is not None}
    return HeightLimits(**stated, stated=tuple(n for n, mm in typed.items() if mm is not None))


def measured_height(path: Path, dial: str) -> tuple[float, float]:
    """The height of a needle as `family calibrate --json` measured it.

    Parameters
    ----------
    path
        That document.
    dial
        Id of the dial.

    Returns
    -------
    top_mm, u_top_mm
        Face to the needle's top surface, and its standard uncertainty (k = 1).

    Raises
    ------
    PlanError
        If the file is no such document, or tells no height of the dial.
    """
    try:
        if path.stat().st_size > _LARGEST_FILE:
            raise PlanError(f"{path}: is larger than any document of family calibrate")
        document = json.loads(path.read_text(encoding="utf-8"))
        needles = {one["dial"]: one["height_mm"] for one in document["needles"]}
    except OSError as error:
        raise PlanError(f"{path}: cannot be read: {error.strerror or error}") from error
    except (ValueError, KeyError, TypeError) as error:
        raise PlanError(
            f"{path}: is no document of `needlewright family calibrate --json`; keep that "
            "command's output in a file"
        ) from error
    if dial not in needles:
        known = ", ".join(needles) or "none"
        raise PlanError(f"{path}: has no needle of a dial '{dial}'; it has {known}")
    try:
        height = needles[dial]
        if height["value"] is None or height["u"] is None:
            raise PlanError(f"{path}: the height of '{dial}' was not told: {height['why_not']}")
        return float(height["value"]), float(height["u"])
    except (KeyError, TypeError, ValueError) as error:
        raise PlanError(f"{path}: the height of '{dial}' is no number with its u") from error


def height_lines(found: NeedleHeight) -> tuple[str, ...]:
    """A needle's height as a technician reads it, line by line."""
    least, most = found.window_mm
    lines = [_order(found)]
    if found.setting == "gauge" and least <= most:
        lines.append(f"gauges from {least:.2f} to {most:.2f} mm keep every limit in the worst case")
    if none_fits(found):
        return (*lines, *_bound_lines(found))
    lines += [_clearance_line(one) for one in found.clearances]
    lines.append(f"misses some limit: {_percent(found.chance_outside)} of units, by drawn trials")
    default = [n for n in ("contact", "halo", "lens", "grip") if n not in found.limits.stated]
    if default:
        lines.append(f"limits of {', '.join(default)}: common practice, no source")
    if not any(one.name == "lens" for one in found.clearances):
        lines.append("the lens is not known, and nothing is said of it")
    if found.measured is not None:
        lines.append(_measured_line(found.measured))
    return tuple(lines)


def _order(found: NeedleHeight) -> str:
    tops = f"hub's top {found.hub_top_mm:.2f} mm, needle's top {found.top_mm:.2f} mm above the face"
    least, most = found.window_mm
    if found.setting == "gauge" and least > most:
        return (
            f"no gauge keeps every limit in the worst case: {least:.2f} mm or more is needed and "
            f"{most:.2f} mm or less; press nothing yet, check the lengths and the limits"
        )
    if found.setting == "depth":
        return f"pressed {found.set_to.mm:.2f} mm onto the shaft: gap {found.gap_mm:.2f} mm, {tops}"
    return f"press down to a gauge of {found.set_to.mm:.2f} mm under the hub: {tops}"


def _bound_lines(found: NeedleHeight) -> list[str]:
    """What asks for the highest gauge and what for the lowest: every limit gives one end."""
    at, (least, most) = found.set_to.mm, found.window_mm
    lines = []
    for one in found.clearances:
        per_mm = next((p.per_mm for p in one.sensitivities if p.length == "set_to"), 0.0)
        side = "at least" if one.side == "at_least" else "at most"
        said = f"{NAMES[one.name]}, {side} {one.limit_mm:.2f} mm"
        if (per_mm > 0) == (one.side == "at_least"):
            if abs(at - one.room_mm - least) < _SAME_MM:
                lines.append(f"{least:.2f} mm or more for: {said}")
        elif abs(at + one.room_mm - most) < _SAME_MM:
            lines.append(f"{most:.2f} mm or less for: {said}")
    return sorted(lines, key=lambda line: " or less " in line)


def _clearance_line(one: Clearance) -> str:
    kept = "within" if one.room_mm >= -1e-9 else "MISSES"
    bound = "at least" if one.side == "at_least" else "at most"
    low, high = one.interval_mm
    return (
        f"{NAMES[one.name]}: {one.nominal_mm:.2f} mm, worst {one.worst_mm:.2f}, 95 % {low:.2f} to "
        f"{high:.2f}; {kept} {bound} {one.limit_mm:.2f}"
    )


def sensitivity_rows(found: NeedleHeight) -> tuple[tuple[str, str, str, str], ...]:
    """What each clearance comes from: clearance, length, mm for a mm, u and share."""
    return tuple(
        (
            NAMES[one.name] if place == 0 else "",
            found.setting if part.length == "set_to" else part.length,
            f"{part.per_mm:+.0f}",
            f"{part.u_mm:.3f} mm, {100 * part.share:.0f} %",
        )
        for one in found.clearances
        for place, part in enumerate(p for p in one.sensitivities if p.u_mm > 0)
    )


def _measured_line(one: Measured) -> str:
    said = "agrees with the stack" if one.agrees else "does NOT agree with the stack"
    side = "higher" if one.off_mm >= 0 else "lower"
    return (
        f"measured from photos: needle's top {one.top_mm:.2f} ± "
        f"{COVERAGE_K * one.u_top_mm:.2f} mm, {abs(one.off_mm):.2f} mm {side} than here; "
        f"{said}; its tip clears the face by "
        f"{one.clear_mm:.2f} ± {COVERAGE_K * one.u_clear_mm:.2f} mm"
    )


def _percent(share: float) -> str:
    if share < 0.001:
        return "below 0.1 %"
    return f"{100 * share:.1f} %"


def height_document(found: NeedleHeight) -> dict[str, Any]:
    """The JSON document of `needlewright needle-set height --json`."""
    least, most = found.window_mm
    limits, measured = found.limits, found.measured
    return {
        "setting": found.setting,
        "set_to_mm": _rounded(found.set_to.mm),
        "tolerance_mm": _rounded(found.set_to.tolerance_mm),
        "is_chosen": found.is_chosen,
        "gauges_mm": None if least > most else [_rounded(least), _rounded(most)],
        "gap_mm": _rounded(found.gap_mm),
        "hub_top_mm": _rounded(found.hub_top_mm),
        "top_mm": _rounded(found.top_mm),
        "keeps_worst_case": found.keeps_worst_case,
        "chance_outside": _rounded(found.chance_outside),
        "limits": {
            "contact_mm": limits.contact_mm,
            "halo_mm": limits.halo_mm,
            "lens_mm": limits.lens_mm,
            "grip_mm": limits.grip_mm,
            "stated": list(limits.stated),
        },
        "clearances": [_clearance_document(one) for one in found.clearances],
        "measured": None if measured is None else _measured_document(measured),
        "cautions": list(CAUTIONS),
    }


def _clearance_document(one: Clearance) -> dict[str, Any]:
    return {
        "name": one.name,
        "side": one.side,
        "limit_mm": _rounded(one.limit_mm),
        "nominal_mm": _rounded(one.nominal_mm),
        "worst_mm": _rounded(one.worst_mm),
        "u_mm": _rounded(one.u_mm),
        "interval_mm": [_rounded(end) for end in one.interval_mm],
        "chance_outside": _rounded(one.chance_outside),
        "sensitivities": [
            {
                "length": part.length,
                "per_mm": _rounded(part.per_mm),
                "u_mm": _rounded(part.u_mm),
                "share": _rounded(part.share),
            }
            for part in one.sensitivities
        ],
    }


def _measured_document(one: Measured) -> dict[str, Any]:
    return {
        "top_mm": _rounded(one.top_mm),
        "u_top_mm": _rounded(one.u_top_mm),
        "off_mm": _rounded(one.off_mm),
        "agrees": one.agrees,
        "clear_mm": _rounded(one.clear_mm),
        "u_clear_mm": _rounded(one.u_clear_mm),
    }


def _rounded(value: float) -> float:
    return round(value, _DECIMALS)


def height_drawing(found: NeedleHeight, title: str) -> str:
    """The section of a needle as an SVG document.

    Parameters
    ----------
    found
        How high it is set.
    title
        Above the drawing.

    Returns
    -------
    str
        To scale, the worst case of every edge as a bar.
    """
    stack, gap = found.stack, found.gap_mm
    if none_fits(found):
        title = f"{title}: no gauge keeps every limit"
    set_away = found.set_to.tolerance_mm
    if found.setting == "depth":
        set_away += stack.shaft.tolerance_mm + stack.face.tolerance_mm
    bar_away = set_away + stack.blade.tolerance_mm
    tip = gap + stack.blade.mm - stack.droop.mm
    edges = [
        Edge("hub's foot", gap, set_away),
        Edge("tip's foot", tip, bar_away + stack.droop.tolerance_mm),
        Edge("needle's top", found.top_mm, bar_away + stack.thickness.tolerance_mm),
        Edge(
            "shaft's end",
            stack.shaft.mm - stack.face.mm,
            stack.shaft.tolerance_mm + stack.face.tolerance_mm,
        ),
        Edge("hub's top", found.hub_top_mm, set_away + stack.hub.tolerance_mm),
    ]
    if stack.lens is not None:
        edges.append(Edge("lens", stack.lens.mm, stack.lens.tolerance_mm))
    return height_svg(
        HeightSection(
            title=title,
            face_mm=stack.face.mm,
            shaft_mm=stack.shaft.mm - stack.face.mm,
            gap_mm=gap,
            hub_mm=stack.hub.mm,
            bore_mm=stack.bore.mm,
            blade_mm=stack.blade.mm,
            thickness_mm=stack.thickness.mm,
            droop_mm=stack.droop.mm,
            lens_mm=None if stack.lens is None else stack.lens.mm,
            edges=edges,
        )
    )
