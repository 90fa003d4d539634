"""Line drawings of the guides, by the name a step calls them."""

from collections.abc import Callable, Mapping
from typing import Final

from needlewright.papers import ink
from needlewright.papers.guide_drawings import boards, mending, needles, vehicle
from needlewright.papers.guide_drawings.shapes import DrawnSheet

DRAWINGS: Final[Mapping[str, Callable[[], DrawnSheet]]] = {
    "levers": needles.levers,
    "press": needles.press,
    "target": needles.target,
    "stop": needles.stop,
    "face": needles.face,
    "movement": boards.movement,
    "joint": boards.joint,
    "via": boards.via,
    "resistor": boards.resistor,
    "mat": boards.mat,
    "lamp": boards.lamp,
    "display": boards.display,
    "bridge": mending.bridge,
    "coating": mending.coating,
    "contacts": mending.contacts,
    "foil": mending.foil,
    "led": mending.led,
    "battery": vehicle.battery,
    "align": vehicle.align,
    "order": vehicle.order,
    "mileage": vehicle.mileage,
    "road": vehicle.road,
}
"""What draws each; a sheet 360 px wide."""
WHITE: Final = "#ffffff"


def guide_drawing(name: str, *, on_paper: bool = False) -> str:
    """A drawing as an SVG document.

    Parameters
    ----------
    name
        One of `DRAWINGS`.
    on_paper
        In the type of documents, on the sheet's own white.

    Returns
    -------
    str
        SVG.

    Raises
    ------
    KeyError
        If there is none of that name.
    """
    sheet = DRAWINGS[name]()
    if not on_paper:
        return sheet.svg()
    return sheet.svg(ink.SERIF_STACK).replace(ink.PAPER, WHITE)


def drawing_title(name: str) -> str:
    """What a drawing shows, in words; raises KeyError if there is none of that name."""
    return DRAWINGS[name]().title
