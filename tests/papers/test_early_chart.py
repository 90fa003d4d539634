"""What a burn-in leaves for the warranty, drawn."""

from needlewright.papers import ink
from needlewright.papers.early_chart import EarlyLine, early_chart_svg


def test_every_line_has_its_name_at_its_end_and_both_rules_are_said():
    lines = [EarlyLine(name, ((0.0, 0.06), (48.0, 0.02))) for name in ("anything", "movements")]
    svg = early_chart_svg(lines, 24.0, best=12.0)
    for said in ("anything", "movements", "planned, 24 h", "costs least, 12 h", ink.PAPER):
        assert said in svg
    assert svg.count('stroke-dasharray="7,4"') == 1, "a line has its own dash"
    assert "costs least" not in early_chart_svg(lines, 24.0, best=50.0), "it would not be seen"
