import re
from io import BytesIO
from itertools import pairwise
from xml.etree import ElementTree

import altair as alt
import pytest
import vl_convert
from PIL import Image, ImageColor

from needlewright.papers import ink
from needlewright.papers.strip import strip_svg, strips_specification, strips_svg
from needlewright.papers.strip_data import (
    StripData,
    StripGap,
    StripLimit,
    StripPoint,
    error_range,
    reach,
    unroll,
)
from needlewright.papers.strip_layers import HEIGHT_PX, PAD_PX, SHIFT_PX, WIDTH_PX

MARKS = ((0.0, -100.0), (100.0, 0.0), (200.0, 100.0))
LIMITS = (tuple(StripLimit(v, 0.0, 0.1 * v + 4.0) for v in (1.0, 100.0, 200.0)),)
POINTS = (
    StripPoint(100.0, 3.0, 0.5, "found", "up", True),
    StripPoint(100.0, -2.0, 0.5, "found", "down", False),
    StripPoint(100.0, 3.5, 0.4, "left", "up", True),
    StripPoint(100.0, 3.6, 0.4, "left", "down", True),
    StripPoint(50.0, 2.0, None, "left", "up", True),
)
DATA = StripData("speed", "km/h", MARKS, LIMITS, POINTS, programme=((0.0, 1.5), (200.0, 5.5)))


def rows(data=DATA, **fields):
    """Rows of the drawing that have some fields with some values."""
    tables = strips_specification((data,), legend=False)["datasets"].values()
    found = [row for table in tables for row in table if fields.items() <= row.items()]
    return found


def points(data=DATA, **fields):
    """One row a reading: the table in which every row has its shape and no bar's end."""
    specification = strips_specification((data,), legend=False)
    (layer,) = (
        layer
        for layer in specification["vconcat"][0]["layer"]
        if layer["mark"]["type"] == "point" and "shape" in layer["encoding"]
    )
    table = specification["datasets"][layer["data"]["name"]]
    return [row for row in table if fields.items() <= row.items()]


# where things stand


def test_marks_stand_as_far_apart_as_on_the_dial():
    uneven = ((40.0, 132.928), (60.0, 118.332), (120.0, 47.072))  # against the clock
    place = unroll(uneven)
    assert [place(v) for v, _ in uneven] == pytest.approx([0.0, 14.596, 85.856])
    assert place(50.0) == pytest.approx(7.298)
    assert place(130.0) == pytest.approx(85.856 + 10 * 71.26 / 60)
    assert place(30.0) == pytest.approx(-7.298)


def test_a_point_stands_over_its_value():
    (point,) = points(series="left up", error=3.5)
    middle = WIDTH_PX / 2
    assert point["px"] == pytest.approx(middle + SHIFT_PX["left up"])
    (half_way,) = points(series="left up", error=2.0)
    assert half_way["px"] == pytest.approx(PAD_PX + (WIDTH_PX - 2 * PAD_PX) / 4 + 2.5)


def test_a_narrow_strip_is_the_same_strip_for_a_phone():
    width_px = 276
    tables = strips_specification((DATA,), legend=False, width_px=width_px)["datasets"].values()
    middle = {row["px"] for table in tables for row in table if row.get("word") == "100"}
    assert middle.pop() == pytest.approx(width_px / 2)
    assert not middle
    svg = ElementTree.fromstring(strip_svg(DATA, legend=False, title=False, width_px=width_px))
    wide = ElementTree.fromstring(strip_svg(DATA, legend=False, title=False))
    assert float(svg.get("width")) == float(wide.get("width")) - (WIDTH_PX - width_px) < 358
    assert svg.get("height") == wide.get("height")


def test_the_drawing_reaches_what_was_commanded_beyond_the_scale():
    beyond = StripData("x", "V", MARKS, (), (StripPoint(210.0, 1.0, None, "left", "up"),))
    assert reach(beyond) == (0.0, 210.0)


def test_there_is_room_for_band_bars_and_programme():
    low, high = error_range(DATA)
    assert low < -2.5
    assert high > 24.0


def test_a_point_far_out_does_not_flatten_the_band():
    far = StripData("x", "km/h", MARKS, LIMITS, (StripPoint(100.0, -500.0, 1.0, "found", "up"),))
    low, high = error_range(far)
    assert 24.0 / (high - low) > 0.2
    (drawn,) = points(far)
    assert drawn["error"] == low
    assert drawn["beyond"] == "−500"


def test_a_scale_without_rule_is_drawn_too():
    bare = StripData("x", "V", MARKS, (), ())
    assert error_range(bare) == (-1.0, 1.0)
    assert "no rule: nothing is judged" in strip_svg(bare)


# signs


def test_hollow_is_found_and_filled_is_left():
    assert {p["fill"] for p in points(side="found")} == {ink.PAPER}
    assert {p["fill"] for p in points(side="left")} == {ink.ACCENT}


def test_triangles_point_the_way_the_value_went():
    assert {p["shape"] for p in points() if p["series"].endswith("up")} == {"triangle-up"}
    assert {p["shape"] for p in points() if p["series"].endswith("down")} == {"triangle-down"}


def test_the_four_series_stand_side_by_side():
    at_100 = sorted(p["px"] for p in points() if p["error"] != 2.0)
    assert [b - a for a, b in pairwise(at_100)] == pytest.approx([5.0] * 3)


def test_bars_are_as_long_as_the_uncertainty():
    spans = {(p["from"], p["to"]) for p in points() if p["from"] is not None}
    assert spans == {(2.5, 3.5), (-2.5, -1.5), (3.1, 3.9), (3.2, 4.0)}
    svg = strip_svg(DATA, legend=False, title=False)
    low, high = error_range(DATA)
    per_unit_px = HEIGHT_PX / (high - low)
    ends = re.findall(r'<line [^>]*y2="(-?[\d.]+)"[^>]*stroke-width="1.1"', svg)
    lengths = sorted(abs(float(end)) / per_unit_px for end in ends)
    assert lengths == pytest.approx([0.8, 0.8, 1.0, 1.0], rel=1e-3)


def test_only_what_does_not_conform_is_crossed():
    assert [(p["series"], p["error"]) for p in points(fails=True)] == [("found down", -2.0)]


def test_the_band_is_the_tolerance():
    band = [r for r in rows(stretch=0) if "to" in r]
    assert [(r["error"], r["to"]) for r in band] == [(0.0, 4.1), (0.0, 14.0), (0.0, 24.0)]


def test_a_tolerance_at_one_point_is_drawn_wide_enough_to_see():
    single = StripData("x", "km/h", MARKS, ((StripLimit(100.0, -8.0, 8.0),),), ())
    first, second = (r["px"] for r in rows(single, stretch=0) if "to" in r)
    assert second - first == 22.0


def test_a_side_without_limit_fills_to_the_edge():
    limits = (StripLimit(1.0, 0.0, None), StripLimit(9.0, 0.0, None))
    open_above = StripData("x", "km/h", MARKS, (limits,), ())
    high = error_range(open_above)[1]
    assert {r["to"] for r in rows(open_above, stretch=0) if "to" in r} == {high}


def test_what_was_not_read_is_said_where_it_was_told():
    gaps = (StripGap(100.0, "found", "not read"), StripGap(100.0, "left", "on its stop"))
    svg = strip_svg(StripData("x", "km/h", MARKS, LIMITS, POINTS, gaps))
    assert [word for word in re.findall(r"<tspan[^>]*>([^<]*)<", svg) if "as " in word] == [
        "as found: not",
        "read, as left:",
    ]


def test_words_of_a_gap_stay_clear_of_no_error():
    gaps = (StripGap(0.0, "found", "on its stop"), StripGap(100.0, "left", "not read"))
    for low in (-8.0, 0.0, -2.0):
        limits = (tuple(StripLimit(v, low, 2.0) for v in (0.0, 200.0)),)
        data = StripData("x", "km/h", MARKS, limits, (), gaps)
        bottom, top = error_range(data)
        for row in rows(data):
            if "words" in row:
                middle_px = abs(row["error"]) / (top - bottom) * HEIGHT_PX
                longest_px = 5.0 * max(map(len, row["words"]))
                assert middle_px - longest_px / 2 >= 2.9
                assert row["words"][0].startswith("as ")


def test_a_page_names_its_own_type():
    assert "system-ui" in strip_svg(DATA, legend=False, type_stack=ink.SANS_STACK)
    assert "system-ui" not in strip_svg(DATA, legend=False)


def test_numerals_that_would_touch_are_left_out():
    crowded = tuple((float(v), float(v)) for v in range(0, 201, 5))
    tables = strips_specification((StripData("x", "V", crowded, (), ()),), legend=False)["datasets"]
    worded = [t for t in tables.values() if t and all(r.get("word", "").isdigit() for r in t)]
    marks, numerals = sorted(worded, key=len, reverse=True)
    assert len(marks) == len(crowded)
    assert [int(r["word"]) for r in numerals] == list(range(0, 201, 10))  # 15 px would touch
    assert min(b["px"] - a["px"] for a, b in pairwise(numerals)) >= 26.0


# the file


def test_the_definition_fits_the_charts_schema():
    specification = strips_specification((DATA,))
    alt.VConcatChart.from_dict(specification, validate=True)


def test_the_svg_stands_alone():
    svg = strips_svg((DATA, DATA))
    root = ElementTree.fromstring(svg)
    assert root.tag.endswith("svg")
    assert "href=" not in svg
    assert svg.count(">true value, km/h</text>") == 2
    assert svg.count(">as found, up and down</text>") == 1
    assert ink.PAPER in svg


def test_on_a_document_the_ground_is_the_documents():
    assert f'fill="{ink.PAPER}"/>' not in strip_svg(DATA, legend=False, ground=False)[:600]
    assert f'fill="{ink.PAPER}"/>' in strip_svg(DATA, legend=False)[:600]


def luminance(colour: str) -> float:
    """Relative luminance. Source: WCAG 2.2, definition of relative luminance."""
    parts = [c / 255 for c in ImageColor.getrgb(colour)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return sum(w * c for w, c in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def contrast(one: str, other: str) -> float:
    """Source: WCAG 2.2, definition of contrast ratio."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_in_grey_the_signs_are_still_told_apart():
    """Ground, band and filling differ without colour."""
    assert contrast(ink.INK, ink.PAPER) > 7
    assert contrast(ink.ACCENT, ink.PAPER) > 4.5
    assert contrast(ink.ACCENT, ink.BAND) > 4.5
    assert contrast(ink.FAINT, ink.PAPER) > 4.5
    assert contrast(ink.NOT_GOOD, ink.BAND) > 4.5
    assert contrast(ink.GOOD, ink.PAPER) > 4.5


def grey_in_the_middle(point: StripPoint) -> int:
    """Brightness, 0 to 255, of the middle of a point's sign on a grey print."""
    data = StripData("x", "km/h", MARKS, LIMITS, (point,))
    svg = strip_svg(data, legend=False, title=False)
    left, top = map(float, re.search(r"translate\(([\d.]+),([\d.]+)\)", svg).groups())
    low, high = error_range(data)
    (row,) = points(data)
    at = left + row["px"], top + (high - row["error"]) / (high - low) * HEIGHT_PX
    picture = Image.open(BytesIO(vl_convert.svg_to_png(svg, scale=4))).convert("L")
    return picture.getpixel(tuple(round(4 * place) for place in at))


def test_a_printed_sign_is_hollow_or_filled_in_grey():
    assert grey_in_the_middle(StripPoint(100.0, 10.0, None, "found", "up")) > 200
    assert grey_in_the_middle(StripPoint(100.0, 10.0, None, "left", "up")) < 110
