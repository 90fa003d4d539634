"""Drawings of the board: movement, joints, vias, resistors, lamps, display, the mat it lies on."""

from needlewright.papers import ink
from needlewright.papers.guide_drawings.shapes import (
    COPPER,
    SOLDER,
    DrawnSheet,
    arc,
    arrow,
    board_section,
    joint_section,
    label,
    turn,
    verdict,
)
from needlewright.papers.sums_sheet import SMALL_PX


def movement() -> DrawnSheet:
    """A movement and its four pins: from below, and lifted off the board."""
    sheet = DrawnSheet("A movement from below with four pins and its mark; lifted level")
    sheet.box(26, 34, 112, 104, fill=ink.BAND)
    sheet.circle(82, 66, 17, fill=ink.PAPER)
    sheet.circle(82, 66, 5, fill=ink.PAPER)
    for number, (x, y) in enumerate(((42, 106), (68, 122), (96, 122), (122, 106)), start=1):
        sheet.circle(x, y, 6, fill=SOLDER)
        sheet.words(x, y - 11, str(number), anchor="middle", size=SMALL_PX)
    sheet.area(((26, 34), (44, 34), (26, 52)), fill=ink.INK)
    label(sheet, "mark", (20, 24), (32, 38))
    label(sheet, "all four clear, then lift", (82, 158), anchor="middle")
    board_section(sheet, 176, 344, 126, 10)
    sheet.box(206, 62, 108, 34, fill=ink.BAND)
    sheet.box(256, 40, 8, 22)
    for pin in (218.0, 246.0, 274.0, 302.0):
        sheet.box(pin - 2, 96, 4, 18, fill=SOLDER)
        sheet.line(((pin - 4, 126), (pin - 4, 136)), colour=COPPER, width=2.2)
        sheet.line(((pin + 4, 126), (pin + 4, 136)), colour=COPPER, width=2.2)
        sheet.line(((pin, 126), (pin, 136)), colour=ink.PAPER, width=5)
    arrow(sheet, (194, 108), (194, 66))
    arrow(sheet, (326, 108), (326, 66))
    label(sheet, "level, without force", (260, 24), anchor="middle")
    label(sheet, "pins free in their holes", (260, 158), (246, 138), "middle")
    return sheet


def joint() -> DrawnSheet:
    """A sound joint beside a cracked one, in section."""
    sheet = DrawnSheet("Section of a sound joint, and of one with a ring crack round its pin")
    joint_section(sheet, 92, 92, cracked=False)
    joint_section(sheet, 268, 92, cracked=True)
    verdict(sheet, 34, 26, "sound", good=True)
    verdict(sheet, 214, 26, "cracked", good=False)
    label(sheet, "smooth, hollow foot", (92, 158), anchor="middle")
    label(sheet, "dark ring round the pin", (268, 158), anchor="middle")
    label(sheet, "pad", (154, 76), (124, 92))
    label(sheet, "pin", (112, 52), (98, 62))
    return sheet


def via() -> DrawnSheet:
    """A via eaten through, and mended with a wire."""
    sheet = DrawnSheet("Section of a via: its barrel eaten through; mended with a wire")
    for x, mended in ((92.0, False), (268.0, True)):
        board_section(sheet, x - 66, x - 8, 70, 40)
        board_section(sheet, x + 8, x + 66, 70, 40)
        for side in (-1, 1):
            for y in (70.0, 110.0):
                sheet.line(((x + side * 8, y), (x + side * 34, y)), colour=COPPER, width=3.4)
            wall = ((70, 80), (100, 110)) if not mended else ((70, 76), (104, 110))
            for top, foot in wall:
                sheet.line(((x + side * 8, top), (x + side * 8, foot)), colour=COPPER, width=3.4)
        if mended:
            wire = ((x - 24, 65), (x - 4, 65), (x, 69), (x, 111), (x + 4, 115), (x + 24, 115))
            sheet.line(wire, width=5)
            sheet.line(wire, colour=SOLDER, width=2.6)
        else:
            for side in (-1, 1):
                eaten = tuple((x + side * (7 + (n % 2) * 4), 82 + n * 4) for n in range(5))
                sheet.line(eaten, colour=ink.NOT_GOOD, width=1.8)
    verdict(sheet, 40, 40, "eaten", good=False)
    verdict(sheet, 206, 40, "mended", good=True)
    label(sheet, "no way through", (92, 146), anchor="middle")
    label(sheet, "wire through, soldered twice", (264, 146), anchor="middle")
    label(sheet, "wire", (306, 54), (290, 64))
    return sheet


def resistor() -> DrawnSheet:
    """A chip resistor: a cracked foot, and the iron that flows one end after the other."""
    sheet = DrawnSheet("A chip resistor with a cracked foot; iron on pad and end together")
    for x in (90.0, 266.0):
        board_section(sheet, x - 72, x + 72, 112, 14)
        sheet.box(x - 36, 80, 72, 26, fill=ink.BAND)
        for side in (-1, 1):
            near, far = x + side * 36, x + side * 62
            sheet.line(((x + side * 24, 111), (far, 111)), colour=COPPER, width=3.4)
            foot = ((near, 82), (near + side * 6, 98), (far, 109), (near - side * 14, 109))
            sheet.area(foot, fill=SOLDER, colour=ink.INK, width=1.1)
    crack = ((124, 80), (130, 90), (126, 98), (132, 109))
    sheet.line(crack, colour=ink.PAPER, width=5)
    sheet.line(crack, colour=ink.NOT_GOOD, width=2.2)
    verdict(sheet, 24, 30, "line across the foot", good=False)
    label(sheet, "crack", (140, 70), (129, 88))
    sheet.area(((316, 98), (322, 102), (352, 50), (334, 42)), fill=ink.PAPER, colour=ink.INK)
    label(sheet, "iron on pad and end", (216, 30))
    label(sheet, "1", (320, 146), anchor="middle")
    label(sheet, "then 2", (212, 146), anchor="middle")
    label(sheet, "body flat, both ends wetted", (90, 146), anchor="middle")
    return sheet


def mat() -> DrawnSheet:
    """The board on its mat: mat and wrist strap to one earth point through 1 megohm each."""
    sheet = DrawnSheet("Board on an ESD mat; mat and wrist strap each by 1 megohm to one earth")
    sheet.area(((20, 112), (196, 112), (226, 72), (50, 72)), fill=ink.BAND, colour=ink.INK)
    board = ((78, 102), (160, 102), (176, 82), (94, 82))
    sheet.area(board, fill=ink.PAPER, colour=ink.INK)
    sheet.box(112, 88, 16, 8, fill=ink.INK)
    sheet.line(tuple(arc((262, 48), 15, 0, 360)), width=4)
    label(sheet, "wrist strap", (262, 24), anchor="middle")
    for x, y in ((206.0, 99.0), (262.0, 63.0)):
        foot = 148.0
        sheet.line(((x, y), (x, 112)))
        sheet.box(x - 6, 112, 12, 22, fill=ink.PAPER)
        sheet.line(((x, 134), (x, foot)))
    sheet.line(((206, 148), (286, 148)))
    for n, half in enumerate((13, 8, 3)):
        sheet.line(((286 - half, 148 + n * 5), (286 + half, 148 + n * 5)), width=2)
    label(sheet, "1 MΩ each", (272, 127))
    label(sheet, "one earth", (300, 155))
    label(sheet, "touch the board at its edges", (20, 136))
    label(sheet, "new part stays in its bag", (20, 54))
    return sheet


def lamp() -> DrawnSheet:
    """A lamp holder: from the side in its hole, and the quarter turn from behind."""
    sheet = DrawnSheet("A lamp in its holder through the board; a quarter turn from behind")
    board_section(sheet, 20, 72, 84, 10)
    board_section(sheet, 116, 168, 84, 10)
    sheet.area(tuple(arc((94, 52), 15, 0, 360)), fill=ink.PAPER, colour=ink.INK)
    sheet.line(((88, 70), (90, 52), (94, 58), (98, 52), (100, 70)), width=1.2)
    sheet.area(((84, 66), (104, 66), (110, 94), (78, 94)), fill=ink.BAND, colour=ink.INK)
    sheet.box(64, 94, 60, 12, fill=ink.BAND)
    sheet.box(82, 106, 24, 10, fill=ink.BAND)
    for left in (56.0, 120.0):
        sheet.line(((left, 95), (left + 12, 95)), colour=COPPER, width=3.4)
    label(sheet, "contact on track", (94, 146), (124, 98), "middle")
    label(sheet, "lamp", (130, 46), (109, 52))
    for x, home in ((232.0, False), (316.0, True)):
        sheet.circle(x, 84, 27, fill=ink.BAND)
        tall = ((x - 5, 66), (x + 5, 66), (x + 5, 102), (x - 5, 102))
        flat = ((x - 18, 79), (x + 18, 79), (x + 18, 89), (x - 18, 89))
        sheet.area(flat if home else tall, fill=ink.PAPER, colour=ink.INK)
        label(sheet, "home" if home else "out", (x, 132), anchor="middle")
    turn(sheet, (232, 84), 36, 8, 82)
    label(sheet, "a quarter turn", (274, 36), anchor="middle")
    return sheet


def display() -> DrawnSheet:
    """Measuring a display's supplies before anything is touched: one hand, insulated probes."""
    sheet = DrawnSheet("A display's row of pins, filament at both ends; a meter on it")
    sheet.box(30, 34, 206, 60, fill=ink.BAND)
    sheet.box(44, 46, 178, 32, fill=ink.PAPER)
    for y in (54.0, 62.0, 70.0):
        sheet.line(((48, y), (218, y)), colour=ink.FAINT, width=0.8)
    for n in range(13):
        x = 43 + n * 15
        end = n in (0, 12)
        sheet.line(
            ((x, 94), (x, 116)), colour=ink.ACCENT if end else ink.INK, width=3 if end else 2
        )
    label(sheet, "filament at both ends", (133, 26), anchor="middle")
    label(sheet, "anodes and grids between them", (133, 158), (133, 118), "middle")
    sheet.box(270, 46, 72, 48, fill=ink.PAPER)
    sheet.box(279, 54, 54, 18, fill=ink.BAND)
    sheet.words(306, 67, "0.0 V", anchor="middle", size=SMALL_PX)
    sheet.circle(306, 83, 6)
    sheet.line(((284, 94), (262, 134), (223, 120)), width=1.8)
    sheet.line(((328, 94), (300, 146), (43, 138), (43, 118)), width=1.8)
    label(sheet, "below 5 V: touch", (350, 36), anchor="end")
    return sheet
