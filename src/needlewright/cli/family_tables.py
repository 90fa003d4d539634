"""A family's dials as a table for people."""

from rich.table import Table
from rich.text import Text

from needlewright.composing.family_facts import scale_marks
from needlewright.families.model import Dial, Family


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


def _marks(dial: Dial) -> str:
    wide = max(len(f"{value:g}") for value, _ in scale_marks(dial))
    return "\n".join(f"{value:>{wide}g} {angle:>8.2f}" for value, angle in scale_marks(dial))


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
