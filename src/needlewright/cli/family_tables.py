"""A family's dials as a table for people, as a document for programs, as data for the picture."""

from typing import Any

from rich.table import Table
from rich.text import Text

from needlewright.families.model import Dial, Family
from needlewright.papers.face_marks import FaceDial


def dial_table(family: Family) -> Table:
    """A row per dial: its marks, direction, rest, programme, rule, needle."""
    table = Table(header_style="bold", show_lines=True)
    for head in ("dial", "marks, deg", "turns, rests", "shows, answers to", "needle, movement"):
        table.add_column(head, overflow="fold")
    for dial in family.dials:
        x, y = dial.centre_mm
        table.add_row(
            Text(f"{dial.id}\n{dial.quantity}\n{dial.unit}\nat {x:.1f}, {y:.1f}"),
            Text(_marks(dial)),
            Text(_turns(dial)),
            Text(f"{_programme(dial)}\n{_rule(dial)}"),
            Text(_needle(dial)),
        )
    return table


def dial_document(dial: Dial) -> dict[str, Any]:
    """Everything a family says of a dial, defaults filled in."""
    needle, movement = dial.needle, dial.movement
    programme = zip(dial.programme.true_values, dial.programme.shown_values, strict=True)
    return {
        "id": dial.id,
        "quantity": dial.quantity,
        "unit": dial.unit,
        "centre_mm": list(dial.centre_mm),
        "scale": [list(mark) for mark in _pairs(dial)],
        "beyond_deg": dial.scale.beyond_deg,
        "direction": dial.direction,
        "rest_angle_deg": dial.rest_angle_deg,
        "rest_pin": dial.rest_pin,
        "rest_mark": dial.rest_mark,
        "stop_angle_deg": dial.stop_angle_deg,
        "graduation": dial.graduation,
        "programme": [list(point) for point in programme] or None,
        "rule": dial.rule,
        "needle": {
            "length_mm": needle.length_mm,
            "tail_mm": needle.tail_mm,
            "base_width_mm": needle.base_width_mm,
            "tip_width_mm": needle.tip_width_mm,
            "tip_width_deg": 1 / dial.tip_widths(1.0),
            "hub_radius_mm": needle.hub_radius_mm,
            "height_mm": needle.height_mm,
            "thickness_mm": needle.thickness_mm,
            "colour": None if needle.colour is None else list(needle.colour),
            "pitch_u_deg": needle.pitch_u_deg,
        },
        "movement": {
            "kind": movement.kind,
            "cycle_deg": movement.cycle_deg,
            "stop_below_deg": movement.stop_below_deg,
            "repeatability_deg": movement.repeatability_deg,
        },
    }


def face_dial(dial: Dial) -> FaceDial:
    """What the picture needs of a dial."""
    return FaceDial(
        name=f"{dial.id}, {dial.unit}",
        centre_mm=dial.centre_mm,
        marks=tuple((f"{value:g}", angle) for value, angle in _pairs(dial)),
        rest_angle_deg=dial.rest_angle_deg,
        length_mm=dial.needle.length_mm,
        tail_mm=dial.needle.tail_mm,
        base_width_mm=dial.needle.base_width_mm,
        tip_width_mm=dial.needle.tip_width_mm,
        hub_radius_mm=dial.needle.hub_radius_mm,
    )


def _pairs(dial: Dial) -> list[tuple[float, float]]:
    return list(zip(dial.scale.values, dial.scale.angles_deg, strict=True))


def _marks(dial: Dial) -> str:
    wide = max(len(f"{value:g}") for value, _ in _pairs(dial))
    return "\n".join(f"{value:>{wide}g} {angle:>8.2f}" for value, angle in _pairs(dial))


def _turns(dial: Dial) -> str:
    lines = [
        {"cw": "clockwise", "ccw": "anticlockwise"}[dial.direction],
        f"rests {dial.rest_angle_deg:.2f}",
        "on a pin" if dial.rest_pin else f"stop {dial.stop_angle_deg:.2f}",
    ]
    if dial.rest_mark == "first_mark":
        lines.append("rest limit at the first mark")
    return "\n".join(lines)


def _programme(dial: Dial) -> str:
    points = list(zip(dial.programme.true_values, dial.programme.shown_values, strict=True))
    if not points:
        return "shows the true value"
    return "\n".join(f"{true:g} shown as {shown:g}" for true, shown in points)


def _rule(dial: Dial) -> str:
    if dial.rule is None:
        return "no rule"
    if isinstance(dial.rule, str):
        return f"rule {dial.rule}"
    ((kind, share),) = dial.rule["house"].items()
    return f"house {share:g} {kind.replace('_', ' ')}"


def _needle(dial: Dial) -> str:
    needle, movement = dial.needle, dial.movement
    tip_deg = 1 / dial.tip_widths(1.0)
    return (
        f"{needle.length_mm:g} mm\n"
        f"tip {needle.tip_width_mm:g} mm,\n"
        f"  {tip_deg:.2f} deg\n"
        f"{needle.height_mm:g} mm high\n"
        f"{movement.kind.replace('_', ' ')}\n"
        f"cycle {movement.cycle_deg:g} deg"
    )
