"""Drawings of needle, hub, shaft and face: lifting, aiming, pressing, the stop."""

from needlewright.papers import ink
from needlewright.papers.guide_drawings.shapes import (
    DrawnSheet,
    Point,
    arc,
    arrow,
    at,
    label,
    turn,
    verdict,
)
from needlewright.papers.sums_sheet import SumSheet

FACE_Y = 118.0


def levers() -> DrawnSheet:
    """The hub lifted straight up by two even levers over a shield."""
    sheet = DrawnSheet("Two levers under the hub, one each side, over a shield on the face")
    x = 180.0
    _face(sheet, 40, 320, x)
    sheet.box(70, FACE_Y - 7, 98, 5, fill=ink.ACCENT)
    sheet.box(192, FACE_Y - 7, 98, 5, fill=ink.ACCENT)
    _needle(sheet, x, FACE_Y - 26)
    for side in (-1, 1):
        tip, out = (x + side * 14, FACE_Y - 26), (x + side * 118, FACE_Y - 46)
        heel = (x + side * 40, FACE_Y - 9)
        sheet.line((tip, heel, out), width=4)
        arrow(sheet, (out[0], out[1] - 10), (out[0], out[1] + 22))
    arrow(sheet, (x, 62), (x, 22))
    label(sheet, "straight up, evenly", (196, 30))
    label(sheet, "shield", (60, 148), (100, FACE_Y - 4), "end")
    label(sheet, "face", (330, FACE_Y + 22), (312, FACE_Y + 3), "start")
    label(sheet, "shaft", (206, 158), (x + 4, 140))
    return sheet


def press() -> DrawnSheet:
    """The hub pressed on its shaft to the height of a gauge strip, in section."""
    sheet = DrawnSheet("Section: hub pressed straight down onto the shaft, over a gauge strip")
    x = 150.0
    _face(sheet, 20, 290, x)
    _needle(sheet, x, FACE_Y - 16, cut=True)
    sheet.box(20, FACE_Y - 14, 114, 12, fill=ink.ACCENT)
    arrow(sheet, (x, 14), (x, 50))
    label(sheet, "the hub only, straight down", (164, 24))
    label(sheet, "gauge strip: just held", (20, 158), (60, FACE_Y - 8))
    label(sheet, "bore: depth left", (206, 70), (x + 1, FACE_Y - 44))
    sheet.line(((300, FACE_Y), (340, FACE_Y)), colour=ink.FAINT, width=1)
    sheet.line(((300, FACE_Y - 14), (340, FACE_Y - 14)), colour=ink.FAINT, width=1)
    arrow(sheet, (330, FACE_Y - 40), (330, FACE_Y - 15))
    arrow(sheet, (330, FACE_Y + 26), (330, FACE_Y + 1))
    label(sheet, "set height", (324, FACE_Y + 42), anchor="middle")
    label(sheet, "shaft", (176, 158), (x + 4, 144))
    return sheet


def target() -> DrawnSheet:
    """The needle held over its target angle, seen from above."""
    sheet = DrawnSheet("From above: the needle still loose over the target angle at one value")
    centre = (118.0, 118.0)
    _dial(sheet, centre)
    aim = 42.0
    sheet.line((at(centre, 26, aim), at(centre, 104, aim)), colour=ink.ACCENT, dashed=True, width=2)
    _pointer(sheet, centre, 33.0, 92)
    turn(sheet, centre, 98, 24, 39)
    label(sheet, "target", (232, 44), at(centre, 102, aim))
    label(sheet, "needle, still loose", (232, 84), at(centre, 70, 33))
    label(sheet, "look straight down;", (232, 118))
    label(sheet, "the movement is", (232, 134))
    label(sheet, "at its value", (232, 150))
    return sheet


def stop() -> DrawnSheet:
    """A stop pin: square, glued from behind, the needle's edge against it."""
    sheet = DrawnSheet("Section: a square pin glued from behind; a leaning one")
    for x, good in ((92.0, True), (262.0, False)):
        lean = 0.0 if good else 12.0
        sheet.box(x - 62, 86, 58, 8, fill=ink.BAND)
        sheet.box(x + 4, 86, 58, 8, fill=ink.BAND)
        pin = ((x - 4, 104), (x + 4, 104), (x + 4 + lean, 48), (x - 4 + lean, 48))
        if good:
            sheet.area(((x - 16, 94), (x + 16, 94), (x + 8, 104), (x - 8, 104)), fill=ink.HAIRLINE)
        sheet.area(pin, fill=ink.PAPER, colour=ink.INK)
        sheet.box(x + 5 + lean * 0.8, 54, 34, 9, fill=ink.BAND)
        verdict(sheet, x - 60, 22, "square, fast" if good else "leans, loose", good=good)
    label(sheet, "needle's edge", (140, 46), (128, 56))
    label(sheet, "adhesive from behind, a small drop", (20, 134), (84, 104))
    label(sheet, "must not turn", (232, 154), (262, 105))
    return sheet


def face() -> DrawnSheet:
    """The face lifted straight over the shafts; a shaft in the middle of its hole."""
    sheet = DrawnSheet("A face lifted level over two shafts; a shaft centred in its hole")
    sheet.box(22, 112, 196, 12, fill=ink.BAND)
    for x in (70.0, 170.0):
        sheet.box(x - 3, 72, 6, 40)
    for left, right in ((22, 63), (77, 163), (177, 218)):
        sheet.box(left, 52, right - left, 5, fill=ink.PAPER)
    for x in (34.0, 206.0):
        arrow(sheet, (x, 46), (x, 16))
    label(sheet, "at the rim, level", (120, 34), anchor="middle")
    label(sheet, "board and movements", (120, 146), anchor="middle")
    for x, shift, good in ((254.0, 0.0, True), (328.0, 9.0, False)):
        sheet.circle(x, 70, 18, fill=ink.BAND)
        sheet.circle(x + shift, 70, 6, fill=ink.PAPER)
        verdict(sheet, x - 16, 116, "right" if good else "off", good=good)
    label(sheet, "down each hole", (292, 36), anchor="middle")
    return sheet


def _face(sheet: SumSheet, left: float, right: float, x: float) -> None:
    sheet.box(left, FACE_Y, x - 9 - left, 6, fill=ink.BAND)
    sheet.box(x + 9, FACE_Y, right - x - 9, 6, fill=ink.BAND)
    sheet.box(x - 4, FACE_Y - 40, 8, 70, fill=ink.PAPER)


def _needle(sheet: SumSheet, x: float, foot: float, *, cut: bool = False) -> None:
    """Hub and bar from the side; cut: the bore shows, with the shaft in it."""
    sheet.area(
        ((x + 12, foot - 26), (x + 128, foot - 20), (x + 128, foot - 15), (x + 12, foot - 10)),
        fill=ink.BAND,
        colour=ink.INK,
    )
    sheet.box(x - 44, foot - 24, 32, 12, fill=ink.BAND)
    sheet.box(x - 14, foot - 36, 28, 36, fill=ink.BAND)
    if cut:
        sheet.box(x - 4, foot - 30, 8, 30, fill=ink.PAPER)
        sheet.box(x - 4, FACE_Y - 40, 8, 40, fill=ink.PAPER)


def _dial(sheet: SumSheet, centre: Point) -> None:
    sheet.line(tuple(arc(centre, 104, -120, 90)))
    for deg in range(-120, 91, 15):
        long = 12 if deg % 30 == 0 else 7
        sheet.line((at(centre, 104, deg), at(centre, 104 - long, deg)), width=1.3)


def _pointer(sheet: SumSheet, centre: Point, deg: float, length: float) -> None:
    places = (
        at(centre, length, deg),
        at(at(centre, 5, deg + 90), 0, 0),
        at(centre, 26, deg + 180),
        at(at(centre, 5, deg - 90), 0, 0),
    )
    sheet.area(places, fill=ink.BAND, colour=ink.INK)
    sheet.circle(*centre, 12, fill=ink.PAPER)
