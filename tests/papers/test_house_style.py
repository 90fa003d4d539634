"""Charts over a scale look alike, stand flush, and their lettering can be read.

Contrast of lettering: WCAG 2.2, success criterion 1.4.3 and its definition of relative luminance
(from memory).
"""

import re

import pytest
from PIL import ImageColor

from needlewright.papers import ink
from needlewright.papers.house_style import AXIS_PX, scale_chart_style
from needlewright.papers.repeatability_strips import (
    DialStrips,
    PersonStrip,
    Repeated,
    repeatability_svg,
)
from needlewright.papers.signature_chart import (
    SignatureChart,
    SignaturePoint,
    signature_charts_svg,
)

MARKS = ((0.0, -100.0), (100.0, 0.0), (200.0, 100.0))
TYPE = "Invented Grotesque, serif"


def signature(size: float) -> str:
    points = (
        SignaturePoint(50.0, size, 0.3, "up", size, 0.9 * size),
        SignaturePoint(150.0, -size, 0.3, "down", -size, -0.9 * size),
    )
    chart = SignatureChart("speed", "lost steps", "offset", "km/h", MARKS, points, 2.0)
    return signature_charts_svg([chart], TYPE)


def repeatability(size: float) -> str:
    cells = (Repeated(50.0, (size, -size)), Repeated(150.0, (size, 0.0)))
    strips = (PersonStrip("one", cells),)
    return repeatability_svg([DialStrips("speed", "once", "km/h", MARKS, strips, size)], TYPE)


def luminance(colour: str) -> float:
    parts = [c / 255 for c in ImageColor.getrgb(colour)[:3]]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_lettering_can_be_read_on_its_ground() -> None:
    style = scale_chart_style(TYPE)
    title, axis = style["title"], style["axis"]
    lettering = (title["color"], title["subtitleColor"], axis["labelColor"], axis["titleColor"])
    ground = luminance(style["background"]) + 0.05
    assert min(ground / (luminance(colour) + 0.05) for colour in lettering) >= 4.5


@pytest.mark.parametrize("draw", [signature, repeatability])
def test_charts_have_one_type_one_ground_and_one_edge(draw) -> None:  # type: ignore[no-untyped-def]
    small, large = draw(0.6), draw(6000.0)
    for drawn in (small, large):
        assert set(re.findall(r'font-family="([^"]+)"', drawn)) == {TYPE}
        assert f'fill="{ink.PAPER}"' in drawn
    assert width_px(small) == width_px(large)  # though the numbers of one are longer
    assert width_px(small) > AXIS_PX


def width_px(drawn: str) -> float:
    found = re.match(r'<svg[^>]* width="([0-9.]+)"', drawn)
    assert found is not None
    return float(found[1])
