"""Light of a display: of all it shows, and of its segments.

Segments are where the family says they are; where it does not, whatever a healthy unit shows with
every segment on is cut into small pieces, each of which must light.
"""

from dataclasses import dataclass
from math import sqrt
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.families.displays import Display
from needlewright.readings.light.laying import LaidLight, Mask
from needlewright.readings.light.linear import BLACK_LIGHT
from needlewright.readings.light.spots import Spot, SpotLight

PIECE_MM: Final = 1.5
LIT_SHARE: Final = 0.4
"""Of the brightest of a healthy display, what counts as lit."""
PIECE_FILLED: Final = 0.3
"""Share of a piece that a healthy unit lights for it to be one."""
GROUND: Final = 10.0
"""Percentile of a display's pixels that stands for its unlit ground."""
TOP: Final = 98.0
LEAST_LIGHT: Final = 0.02
"""Of the photo's white, for a display to count as on."""
BRIGHT_SHARE: Final = 0.5
"""Of the brightest, pixels that stand for what a display shows."""
MOST_BLOWN: Final = 0.2
FEWEST_PX: Final = 4
LEAST_SEEN: Final = 0.95


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """A part of a display that must light."""

    id: str
    centre_mm: tuple[float, float]
    reach_mm: float
    place: Mask


def pieces_of(display: Display, like: LaidLight, healthy: LaidLight | None) -> tuple[Piece, ...]:
    """The parts of a display that must light.

    Parameters
    ----------
    display
        With its segments, if the family states them.
    like
        A laid photo, for its pixels.
    healthy
        A healthy unit with every segment on, on the same pixels; None: there is no such picture.

    Returns
    -------
    tuple of Piece
        None where neither says where segments are.
    """
    x, y = like.places_mm()
    if display.segments:
        return tuple(
            Piece(
                one.id,
                one.centre_mm,
                one.reach_mm,
                np.asarray(
                    np.hypot(x - one.centre_mm[0], y - one.centre_mm[1]) <= one.reach_mm, bool
                ),
            )
            for one in display.segments
        )
    if healthy is None:
        return ()
    box = box_of(display, like)
    shown = healthy.light.max(axis=2)
    ground = float(np.percentile(shown[box], GROUND))
    top = float(np.percentile(shown[box], TOP))
    if top - ground < LEAST_LIGHT:
        return ()
    lit = box & (shown > ground + LIT_SHARE * (top - ground))
    return tuple(_tiles(display, lit, x, y))


def _tiles(
    display: Display, lit: Mask, x: NDArray[np.float32], y: NDArray[np.float32]
) -> list[Piece]:
    left = display.centre_mm[0] - display.size_mm[0] / 2
    top = display.centre_mm[1] - display.size_mm[1] / 2
    column, row = ((x - left) / PIECE_MM).astype(int), ((y - top) / PIECE_MM).astype(int)
    wide = int(np.ceil(display.size_mm[0] / PIECE_MM)) + 1
    index = row * wide + column
    each = PIECE_MM**2 * _pixels_each(x)
    made: list[Piece] = []
    for number in np.unique(index[lit]):
        place = lit & (index == number)
        if place.sum() < max(PIECE_FILLED * each, FEWEST_PX):
            continue
        at = (float(x[place].mean()), float(y[place].mean()))
        made.append(Piece(f"{display.id}-{len(made) + 1}", at, PIECE_MM / 2, place))
    return made


def _pixels_each(x: NDArray[np.float32]) -> float:
    return 1.0 / float(x[0, 1] - x[0, 0]) ** 2


def box_of(display: Display, like: LaidLight) -> Mask:
    """Where a display lies on a laid photo."""
    x, y = like.places_mm()
    across, down = display.size_mm
    return np.asarray(
        (np.abs(x - display.centre_mm[0]) <= across / 2)
        & (np.abs(y - display.centre_mm[1]) <= down / 2),
        bool,
    )


def piece_lights(
    photo: LaidLight, display: Display, pieces: tuple[Piece, ...]
) -> tuple[SpotLight, ...]:
    """Measure the parts of a display.

    Parameters
    ----------
    photo
        Laid over the face plane.
    display
        Which.
    pieces
        Its parts.

    Returns
    -------
    tuple of SpotLight
        In their order.
    """
    shown, box = photo.light.max(axis=2), box_of(display, photo) & photo.seen
    made: list[SpotLight] = []
    for piece in pieces:
        spot = Spot(piece.id, piece.centre_mm, piece.reach_mm)
        inside = piece.place & photo.seen
        if inside.sum() < LEAST_SEEN * piece.place.sum() or inside.sum() < FEWEST_PX:
            made.append(SpotLight(spot, None, None, "out of the photo, or too small in it"))
            continue
        ground = float(np.percentile(shown[box], GROUND))
        values = shown[inside]
        light = float(values.mean()) - ground
        noise = float(values.std()) / sqrt(len(values))
        u = sqrt(noise**2 + (BLACK_LIGHT / 2) ** 2)
        made.append(SpotLight(spot, light, u, None, float(photo.saturated[inside].mean()) > 0.5))
    return tuple(made)


def display_light(photo: LaidLight, display: Display) -> SpotLight:
    """Light of whatever a display shows.

    Parameters
    ----------
    photo
        Laid over the face plane.
    display
        Which.

    Returns
    -------
    SpotLight
        Mean of its bright pixels over its ground.
    """
    spot = Spot(display.id, display.centre_mm, max(display.size_mm) / 2)
    box = box_of(display, photo)
    if not box.any() or photo.seen[box].mean() < LEAST_SEEN:
        return SpotLight(spot, None, None, "out of the photo")
    shown = photo.light.max(axis=2)
    ground, top = (float(v) for v in np.percentile(shown[box], (GROUND, TOP)))
    if top - ground < LEAST_LIGHT:
        return SpotLight(spot, None, None, "it shows nothing")
    bright = box & (shown > ground + BRIGHT_SHARE * (top - ground))
    if float(photo.saturated[bright].mean()) > MOST_BLOWN:
        return SpotLight(spot, None, None, "overexposed")
    values = shown[bright]
    light = float(values.mean()) - ground
    u = sqrt(float(values.var()) / max(len(values) / 4, 1) + (BLACK_LIGHT / 2) ** 2)
    return SpotLight(spot, light, u, None)
