"""A needle's chart says what it is handed and breaks where nothing was seen."""

import numpy as np

from needlewright.papers.sweep_chart import (
    MOST_POINTS,
    sweep_charts_specification,
    sweep_charts_svg,
)
from needlewright.papers.sweep_chart_data import ChartMark, SweepChart

T_S = np.arange(100) / 25
ANGLE = np.where((T_S > 1) & (T_S < 2), np.nan, 30 * T_S)
MARK = ChartMark(3.0, "lost steps +4.0°")
CHART = SweepChart("speed", T_S, ANGLE, np.full(100, 30.0), (MARK,))


def values_of(specification, title):
    """Values of the line whose axis has a title."""
    upper, lower = specification["vconcat"][0]["vconcat"]
    for layer in (*upper["layer"], *lower["layer"]):
        if str(layer["encoding"].get("y", {}).get("title")).startswith(title):
            data = layer.get("data") or upper["data"]
            named = specification.get("datasets", {}).get(data.get("name"))
            return data["values"] if named is None else named
    raise AssertionError(title)


def test_a_gap_stays_a_gap() -> None:
    points = values_of(sweep_charts_specification([CHART]), "angle")
    assert len(points) == 100
    assert [p["value"] is None for p in points] == np.isnan(ANGLE).tolist()
    assert points[-1] == {"t": 3.96, "value": 118.8}


def test_the_drawing_names_dial_event_and_axes() -> None:
    drawn = sweep_charts_svg([CHART])
    for words in ("speed", "lost steps +4.0°", "angle, ° clockwise", "seconds of the video"):
        assert f">{words}<" in drawn


def test_a_long_track_keeps_its_peaks() -> None:
    t_s = np.arange(50_000) / 25
    angle = np.sin(t_s)
    angle[31_234] = 7.5
    long = SweepChart("speed", t_s, angle, np.zeros_like(t_s), ())
    points = values_of(sweep_charts_specification([long]), "angle")
    assert len(points) <= MOST_POINTS
    assert max(p["value"] for p in points) == 7.5
