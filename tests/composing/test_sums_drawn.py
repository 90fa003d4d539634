"""Every sum is drawn, whatever is put in: whole documents, with every mark on the sheet."""

import re
from typing import Any
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from needlewright.composing.sums import DRAWN, drawing
from needlewright.errors import SumError
from needlewright.papers.sums_curve import Curve, Marked, draw_curves, ticks, ticks_log
from needlewright.plans.sums.catalogue import SUMS, names
from needlewright.plans.sums.model import Amount, Choice
from needlewright.plans.sums.typed import work_out

SVG = "{http:" + "//www.w3.org/2000/svg}"


def test_every_sum_has_a_drawing() -> None:
    assert tuple(DRAWN) == names()


def typed_into(which: Any, data: Any) -> dict[str, str]:
    typed = {}
    for one in which.inputs:
        if isinstance(one, Amount) and one.default is None and data.draw(st.booleans()):
            continue
        if isinstance(one, Amount):
            numbers = st.floats(one.least, one.most).map(lambda v: float(f"{round(v, 9):.6g}"))
            if one.whole:
                numbers = st.integers(round(one.least), round(one.most))
            ends = st.sampled_from([one.least, one.most])
            typed[one.name] = repr(data.draw(numbers | ends))
        elif isinstance(one, Choice):
            typed[one.name] = data.draw(st.sampled_from([code for code, _ in one.choices]))
    return typed


@pytest.mark.parametrize("which", SUMS, ids=names())
@settings(max_examples=40)
@given(data=st.data())
def test_whatever_is_worked_out_is_drawn(which, data) -> None:
    try:
        answered = work_out(which, typed_into(which, data))
    except SumError:
        return
    drawn = drawing(answered)
    assert not re.search(r"\b(nan|inf)\b", re.sub(r"<text.*?</text>", "", drawn))
    sheet = ElementTree.fromstring(drawn)
    _, _, width, height = map(float, sheet.attrib["viewBox"].split())
    for one in sheet.iter(f"{SVG}polyline"):
        for place in one.attrib["points"].split():
            x, y = map(float, place.split(","))
            assert -1 <= x <= width + 1
            assert -1 <= y <= height + 1


def test_a_track_beyond_its_curves_is_marked_at_its_current_and_its_line_ends_at_100_k() -> None:
    which = next(one for one in SUMS if one.name == "broken-trace")
    drawn = drawing(work_out(which, {"current": "20", "width": "1"}))
    assert ">20 A: more than 100 K</text>" in drawn
    ticked = {int(n) for n in re.findall(r">(\d+)</text>", drawn)}
    assert max(ticked) <= 150  # the scale knows no warmth that is none
    known = drawing(work_out(which, {"current": "3", "width": "1"}))
    assert "more than" not in known


@given(st.floats(-1e6, 1e6), st.floats(1e-3, 1e6))
def test_ticks_are_round_and_within(low, span) -> None:
    found = ticks(low, low + span)
    assert 1 <= len(found) <= 7
    slack = 1e-6 * max(abs(low), span)
    assert all(low - slack <= one <= low + span + slack for one in found)
    assert list(found) == sorted(set(found))


def test_ticks_of_a_logarithmic_axis() -> None:
    assert ticks_log(0.05, 40.0) == (0.1, 1.0, 10.0)
    assert ticks_log(1.0, 50.0) == (1.0, 2.0, 5.0, 10.0, 20.0, 50.0)


def test_a_line_is_cut_where_it_leaves_the_plot() -> None:
    curve = Curve(
        "t", "x", (0.0, 4.0), (0.0, 1.0),
        lines=(((0.0, 0.5), (1.0, 1.5), (3.0, 1.5), (4.0, 0.5)),),
        marked=(Marked(1.0, 0.5, "here"),),
    )  # fmt: skip
    sheet = ElementTree.fromstring(draw_curves((curve,), "what"))
    pieces = [one for one in sheet.iter(f"{SVG}polyline") if one.attrib["stroke-width"] == "2"]
    assert len(pieces) == 2, "the part above the plot is not drawn"
    (first, last) = (one.attrib["points"].split() for one in pieces)
    assert first[-1].split(",")[1] == last[0].split(",")[1], "both end at the ceiling"
