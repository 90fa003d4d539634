"""Repeatability drawn: one dial strip for each person or camera, side by side on one height.

Every reading stands at its place on the unrolled scale, as far above or below the mean of all
readings of that position as it differs; the line joins one person's means. Nothing is told by
colour alone.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import altair as alt
import vl_convert

from needlewright.papers import ink
from needlewright.papers.house_style import scale_chart_style
from needlewright.papers.strip_data import StripData, unroll
from needlewright.papers.strip_layers import HEIGHT_PX, PAD_PX, Frame, Tables, scale_layers, x_axis

WIDTH_PX: Final = 268
_IN_A_ROW: Final = 3
_ROOM: Final = 0.12
_ASIDE_PX: Final = 2.5
"""Photos of one cell stand beside each other, so that equal readings do not hide one another."""

AnyChart = alt.LayerChart | alt.FacetChart


@dataclass(frozen=True, slots=True)
class Repeated:
    """The readings of one position by one person."""

    value: float
    """Where on the scale, in the dial's unit."""
    deviations_deg: tuple[float, ...]
    """From the mean of everybody at this position."""

    @property
    def mean_deg(self) -> float:
        """Of the deviations."""
        return sum(self.deviations_deg) / len(self.deviations_deg)


@dataclass(frozen=True, slots=True)
class PersonStrip:
    """One strip."""

    who: str
    cells: tuple[Repeated, ...]


@dataclass(frozen=True, slots=True)
class DialStrips:
    """The strips of one dial."""

    title: str
    subtitle: str
    unit: str
    """For people: `km/h`."""
    marks: tuple[tuple[float, float], ...]
    """`(value, angle_deg)` of each mark of the scale, values rising."""
    strips: tuple[PersonStrip, ...]
    band_deg: float
    """Half the height of the band that single readings of a sound study fill."""


def repeatability_svg(dials: Sequence[DialStrips], type_stack: str = ink.SERIF_STACK) -> str:
    """Draw the strips of several dials as one SVG, with nothing fetched.

    Parameters
    ----------
    dials
        In the order of the drawing, each with at least one strip.
    type_stack
        Families of type, the first that is there is taken.

    Returns
    -------
    str
        An SVG document.
    """
    tables = Tables()
    charts = [_dial(dial, tables) for dial in dials]
    drawing = alt.vconcat(*charts, spacing=26, config=scale_chart_style(type_stack))
    specification = {**drawing.to_dict(validate=False), "datasets": tables.rows}
    svg: str = vl_convert.vegalite_to_svg(specification, allowed_base_urls=[])
    return svg


def _dial(dial: DialStrips, tables: Tables) -> alt.VConcatChart:
    every = [d for strip in dial.strips for cell in strip.cells for d in cell.deviations_deg]
    reach = max([abs(d) for d in every] + [dial.band_deg]) * (1 + _ROOM) or 1.0
    frame = _frame(dial, reach)
    strips = [_strip(strip, dial, frame, tables) for strip in dial.strips]
    rows = [
        alt.hconcat(*strips[i : i + _IN_A_ROW], spacing=12)
        for i in range(0, len(strips), _IN_A_ROW)
    ]
    heading = alt.TitleParams(
        text=dial.title, subtitle=dial.subtitle, anchor="start", dx=PAD_PX, offset=8
    )
    return alt.vconcat(*rows, spacing=14, title=heading)


def _frame(dial: DialStrips, reach: float) -> Frame:
    data = StripData(dial.title, dial.unit, dial.marks, (), ())
    place = unroll(dial.marks)
    first, last = place(dial.marks[0][0]), place(dial.marks[-1][0])
    return Frame(data, first, (WIDTH_PX - 2 * PAD_PX) / (last - first), -reach, reach, WIDTH_PX)


def _strip(strip: PersonStrip, dial: DialStrips, frame: Frame, tables: Tables) -> AnyChart:
    x = x_axis(WIDTH_PX)
    y = alt.Y(
        "error:Q",
        scale=alt.Scale(domain=[frame.low, frame.high], nice=False, zero=False),
        axis=alt.Axis(title="from the mean, °", tickCount=5, format="~r", grid=False),
    )
    cells = sorted(strip.cells, key=lambda cell: cell.value)
    points = [
        {
            "px": frame.px(cell.value) + _ASIDE_PX * (2 * i - len(cell.deviations_deg) + 1),
            "error": deviation,
        }
        for cell in cells
        for i, deviation in enumerate(cell.deviations_deg)
    ]
    means = [{"px": frame.px(cell.value), "error": cell.mean_deg} for cell in cells]
    ends = (0, WIDTH_PX)
    band = [{"px": px, "error": -dial.band_deg, "to": dial.band_deg} for px in ends]
    layers = [
        tables.chart(band).mark_area(color=ink.BAND).encode(x, y, y2="to:Q"),
        tables.chart({"px": px, "error": 0.0} for px in ends)
        .mark_line(color=ink.INK, strokeWidth=0.6)
        .encode(x, y),
        *scale_layers(frame, tables),
        tables.chart(means).mark_line(color=ink.ACCENT, strokeWidth=1.4).encode(x, y),
        tables.chart(points)
        .mark_point(size=26, strokeWidth=1.1, color=ink.INK, fill=ink.PAPER, opacity=1)
        .encode(x, y),
    ]
    titled = alt.TitleParams(text=strip.who, anchor="start", frame="group", dx=PAD_PX, fontSize=12)
    chart: AnyChart = alt.layer(*layers).properties(width=WIDTH_PX, height=HEIGHT_PX, title=titled)
    return chart
