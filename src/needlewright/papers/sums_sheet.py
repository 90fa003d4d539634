"""A sheet of paper that the drawings of the sums are drawn on: lines, words and shapes as SVG.

Lengths are in px of a sheet as wide as a phone shows it, so that the type is read on the smallest
screen; a larger one only enlarges. Only attributes are used, no style sheet, so that a drawing
shows the same inside a page as in a file of its own.
"""

from collections.abc import Iterable
from html import escape
from typing import Final, Literal

from needlewright.papers import ink

WIDTH: Final = 360.0
TYPE_PX: Final = 13.0
SMALL_PX: Final = 11.5
DASHES: Final = "5 4"
Anchor = Literal["start", "middle", "end"]


class SumSheet:
    """A drawing as it grows.

    Parameters
    ----------
    height
        In px.
    title
        What it shows, for those who do not see it.
    """

    def __init__(self, height: float, title: str) -> None:
        self.height = height
        self._title = title
        self._marks: list[str] = []

    def line(
        self,
        points: Iterable[tuple[float, float]],
        *,
        colour: str = ink.INK,
        width: float = 1.5,
        dashed: bool = False,
    ) -> None:
        """A line through points."""
        dashes = f' stroke-dasharray="{DASHES}"' if dashed else ""
        self._marks.append(
            f'<polyline points="{_places(points)}" fill="none" stroke="{colour}" '
            f'stroke-width="{width:g}" stroke-linejoin="round" stroke-linecap="round"{dashes}/>'
        )

    def area(
        self,
        points: Iterable[tuple[float, float]],
        *,
        fill: str = ink.BAND,
        colour: str = "none",
        width: float = 1.5,
    ) -> None:
        """A closed shape."""
        self._marks.append(
            f'<polygon points="{_places(points)}" fill="{fill}" stroke="{colour}" '
            f'stroke-width="{width:g}" stroke-linejoin="round"/>'
        )

    def box(
        self,
        x: float,
        y: float,
        width: float,
        height: float,
        *,
        fill: str = ink.PAPER,
        colour: str = ink.INK,
    ) -> None:
        """A rectangle by its corner."""
        corners = ((x, y), (x + width, y), (x + width, y + height), (x, y + height))
        self.area(corners, fill=fill, colour=colour)

    def circle(
        self, x: float, y: float, radius: float, *, fill: str = ink.PAPER, colour: str = ink.INK
    ) -> None:
        """A circle about its centre."""
        self._marks.append(
            f'<circle cx="{_px(x)}" cy="{_px(y)}" r="{_px(radius)}" fill="{fill}" '
            f'stroke="{colour}" stroke-width="1.5"/>'
        )

    def words(
        self,
        x: float,
        y: float,
        text: str,
        *,
        anchor: Anchor = "start",
        size: float = TYPE_PX,
        colour: str = ink.INK,
        bold: bool = False,
        halo: bool = False,
    ) -> None:
        """Words that stand on a line at `y`; a halo keeps lines under them apart."""
        weight = ' font-weight="650"' if bold else ""
        outline = (
            f' stroke="{ink.PAPER}" stroke-width="4" paint-order="stroke" stroke-linejoin="round"'
            if halo
            else ""
        )
        self._marks.append(
            f'<text x="{_px(x)}" y="{_px(y)}" text-anchor="{anchor}" font-size="{size:g}" '
            f'fill="{colour}"{weight}{outline}>{escape(text, quote=False)}</text>'
        )

    def svg(self, type_stack: str = ink.SANS_STACK) -> str:
        """The drawing as a document.

        Parameters
        ----------
        type_stack
            Families of type, the first that is there is taken.

        Returns
        -------
        str
            An SVG document with its ground.
        """
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" '
            f'viewBox="0 0 {_px(WIDTH)} {_px(self.height)}" '
            f'width="{_px(WIDTH)}" height="{_px(self.height)}" role="img" '
            f'font-family="{escape(type_stack)}"><title>{escape(self._title, quote=False)}</title>'
            f'<rect width="100%" height="100%" fill="{ink.PAPER}"/>{"".join(self._marks)}</svg>'
        )


def _px(length: float) -> str:
    return f"{length:.2f}".rstrip("0").rstrip(".")


def _places(points: Iterable[tuple[float, float]]) -> str:
    return " ".join(f"{_px(x)},{_px(y)}" for x, y in points)
