"""The section of a track beside that of the wire that may bridge it, to one scale."""

from typing import Final

from needlewright.papers import ink
from needlewright.papers.sums_sheet import SMALL_PX, WIDTH, SumSheet

HEIGHT: Final = 120.0
FOOT_Y: Final = 84.0
ROOM_PX: Final = 62.0


def draw_sections(
    sheet: SumSheet, width_mm: float, thickness_mm: float, diameter_mm: float | None, words: str
) -> None:
    """A track on its board, and a wire, at the top of a sheet.

    Parameters
    ----------
    sheet
        Of paper.
    width_mm
        Of the track.
    thickness_mm
        Of its copper.
    diameter_mm
        Of the wire; None: there is none.
    words
        What the wire is.
    """
    largest = diameter_mm or 0.0
    scale = min(150.0 / width_mm, ROOM_PX / max(largest, thickness_mm), 120.0 / max(largest, 1e-9))
    sheet.words(16, 18, "Sections, to one scale", bold=True)
    board = ((16.0, FOOT_Y), (196.0, FOOT_Y), (196.0, FOOT_Y + 10), (16.0, FOOT_Y + 10))
    sheet.area(board, fill=ink.BAND, colour=ink.FAINT, width=1)
    middle, tall = 106.0, max(thickness_mm * scale, 1.5)
    half = width_mm * scale / 2
    corners = (
        (middle - half, FOOT_Y - tall),
        (middle + half, FOOT_Y - tall),
        (middle + half, FOOT_Y),
        (middle - half, FOOT_Y),
    )
    sheet.area(corners, fill=ink.ACCENT)
    below = FOOT_Y + 26
    track = f"{width_mm:g} mm × {thickness_mm * 1000:g} µm"
    sheet.words(middle, below, track, anchor="middle", size=SMALL_PX)
    if diameter_mm is not None:
        radius = diameter_mm * scale / 2
        sheet.circle(276, FOOT_Y - radius, radius, fill=ink.ACCENT, colour=ink.ACCENT)
    sheet.words(276, below, words, anchor="middle", size=SMALL_PX)
    sheet.line(((216, FOOT_Y), (WIDTH - 24, FOOT_Y)), colour=ink.FAINT, width=1)
