"""A board's inspection out of its pins: was all looked at, what was found, what was mended.

A fault is a place of its own in a bad state; what was done about it is a later pin of the same
place. One look by one person misses faults and sees some that are not there, so a pin is evidence
of limited weight, and finding nothing is none against places nobody looked at.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from needlewright.findings.board_pins import (
    GOOD,
    SIDE_WORDS,
    SIDES,
    BoardMoment,
    BoardSide,
    Pin,
    PinState,
    PinWhat,
)
from needlewright.findings.evidence import Evidence, ratio_within

SEES: Final = 0.8
"""One person at one look finds so many of the faults there are. Source: the share commonly given
for visual inspection by a person, from memory."""
MISTAKES: Final = 0.02
"""And calls something a fault that is none. Source: common practice, no source."""
ELSEWHERE: Final = 0.1
"""A crack that belongs to something else, where nobody said what it belongs to. Source: common
practice, no source."""
ANALYSIS: Final = "board"
CRACKS: Final[tuple[PinState, ...]] = ("cracked", "lifted")
Cell = tuple[BoardSide | None, PinWhat]
NEEDED: Final[tuple[Cell, ...]] = (
    ("front", "via"),
    ("front", "joint"),
    ("back", "via"),
    ("back", "joint"),
    (None, "connector"),
    (None, "coating"),
)
"""What is looked at before a board counts as inspected; without a side: wherever it is."""


@dataclass(frozen=True, slots=True)
class Look:
    """Whether one kind of thing was looked at on a side."""

    side: BoardSide | None
    """None: on either."""
    what: PinWhat
    is_done: bool
    faults: int
    """How many of them were found bad."""


@dataclass(frozen=True, slots=True)
class Mended:
    """A fault and what became of it."""

    found: Pin
    after: Pin


@dataclass(frozen=True, slots=True)
class BoardInspection:
    """What the pins of a board say.

    Parameters
    ----------
    looks
        What was looked at, in the order of `NEEDED`.
    found
        Faults, in the order they were pinned.
    mended
        Faults whose place is sound after the work, and coating that is restored.
    open_points
        Sentences: what is missing, not mended or not restored.
    pins
        Everything it rests on.
    """

    looks: tuple[Look, ...]
    found: tuple[Pin, ...]
    mended: tuple[Mended, ...]
    open_points: tuple[str, ...]
    pins: tuple[Pin, ...]

    @property
    def is_complete(self) -> bool:
        """Whether nothing is left to look at, mend or restore."""
        return not self.open_points

    @property
    def unlooked(self) -> tuple[str, ...]:
        """The open points that say what nobody looked at."""
        return tuple(_unlooked(look) for look in self.looks if not look.is_done)


def inspect_board(
    pins: Iterable[Pin], photos: Iterable[tuple[BoardSide, BoardMoment]]
) -> BoardInspection:
    """Go through the pins of a board.

    Parameters
    ----------
    pins
        All of them.
    photos
        Side and moment of every photo.

    Returns
    -------
    BoardInspection
        Checklist, faults, and what became of them.
    """
    every = tuple(sorted(pins, key=lambda pin: pin.number))
    own = [pin for pin in every if pin.of is None]
    last = {pin.of: pin for pin in every if pin.of is not None}
    looks = tuple(_look(cell, every) for cell in NEEDED)
    found = tuple(pin for pin in own if pin.is_bad)
    settled = [pin for pin in own if pin.is_bad or pin.state == "removed"]
    mended = tuple(
        Mended(pin, last[pin.number])
        for pin in settled
        if pin.number in last and _settles(last[pin.number], pin)
    )
    shown = set(photos)
    return BoardInspection(
        looks,
        found,
        mended,
        (
            *(f"there is no photo of {SIDE_WORDS[s]} as found" for s in _unshown(shown)),
            *(_unlooked(look) for look in looks if not look.is_done),
            *(
                _unsettled(pin, last.get(pin.number))
                for pin in settled
                if not (pin.number in last and _settles(last[pin.number], pin))
            ),
            *(_uncoated(pin) for pin in last.values() if pin.state == "removed"),
        ),
        every,
    )


def evidence_of_board(inspection: BoardInspection) -> tuple[Evidence, ...]:
    """What an inspection speaks for and against.

    Parameters
    ----------
    inspection
        From `inspect_board`.

    Returns
    -------
    tuple of Evidence
        On `board_corroded`, `board_cracked`, `display_joint`, and each dial's `joint_cracked`;
        empty where nothing was looked at.
    """
    first = [pin for pin in inspection.pins if pin.of is None and pin.moment == "before"]
    first += [pin for pin in inspection.found if pin.moment == "after"]  # seen late, there before
    pieces = [
        _of_corrosion(first, inspection.looks),
        _of_supply(first, inspection.looks),
        _of_part(first, "display_joint", "display", None),
        *(
            _of_part(first, "joint_cracked", "movement", dial)
            for dial in sorted({pin.dial for pin in first if pin.dial is not None})
        ),
    ]
    return tuple(piece for piece in pieces if piece is not None)


def _look(cell: Cell, pins: tuple[Pin, ...]) -> Look:
    side, what = cell
    there = [pin for pin in pins if pin.what == what and side in (None, pin.side)]
    there = [pin for pin in there if pin.of is None]
    return Look(side, what, bool(there), sum(pin.is_bad for pin in there))


def _settles(after: Pin, found: Pin) -> bool:
    return after.state in (("restored",) if found.state == "removed" else GOOD)


def _unshown(photos: set[tuple[BoardSide, BoardMoment]]) -> list[BoardSide]:
    return [side for side in SIDES if (side, "before") not in photos]


def _unlooked(look: Look) -> str:
    where = "either side" if look.side is None else SIDE_WORDS[look.side]
    plural = {"via": "vias", "joint": "joints", "connector": "connector", "coating": "coating"}
    return f"nobody has looked at the {plural[look.what]} on {where}"


def _unsettled(pin: Pin, after: Pin | None) -> str:
    if pin.state == "removed":
        return f"{pin.words}: is not restored; coat the place again and pin it as restored"
    if after is None or after.state == "removed":
        return f"{pin.words}: is not pinned after the work; mend it, or say what became of it"
    return f"{pin.words}: is {after.state} after the work still (pin {after.number})"


def _uncoated(pin: Pin) -> str:
    return f"{pin.words}: the coating over a mended place is not restored; coat it and pin it so"


def _share(looks: tuple[Look, ...], whats: tuple[PinWhat, ...]) -> float:
    asked = [look.is_done for look in looks if look.what in whats]
    return sum(asked) / len(asked)


def _of_corrosion(pins: list[Pin], looks: tuple[Look, ...]) -> Evidence | None:
    seen = [pin for pin in pins if pin.state == "corroded"]
    if seen:
        ratio = ratio_within(SEES, MISTAKES)
        return _said("board_corroded", ratio, _listed("corrosion is pinned", seen), seen)
    share = _share(looks, ("via", "joint", "connector"))
    return _nothing("board_corroded", share, "no via, joint or connector is pinned as corroded")


def _of_supply(pins: list[Pin], looks: tuple[Look, ...]) -> Evidence | None:
    cracks = [pin for pin in pins if pin.state in CRACKS and pin.what != "coating"]
    named = [pin for pin in cracks if pin.part == "supply" or pin.what == "connector"]
    if named:
        ratio = ratio_within(SEES, MISTAKES)
        return _said(
            "board_cracked", ratio, _listed("an open joint of the supply is pinned", named), named
        )
    unnamed = [pin for pin in cracks if pin.part is None]
    if unnamed:
        words = _listed("an open joint is pinned, and not said of what", unnamed)
        return _said("board_cracked", ratio_within(SEES, MISTAKES + ELSEWHERE), words, unnamed)
    share = _share(looks, ("joint", "connector"))
    return _nothing("board_cracked", share, "no joint of connector or regulator is pinned as open")


def _of_part(pins: list[Pin], finding: str, part: str, dial: str | None) -> Evidence | None:
    """Of a part that is pinned by name: its open places, or that it was seen sound."""
    of_it = [pin for pin in pins if pin.part == part and pin.dial == dial]
    cracks = [pin for pin in of_it if pin.state in CRACKS]
    if cracks:
        ratio, words = ratio_within(SEES, MISTAKES), _listed("an open joint is pinned", cracks)
        return _said(finding, ratio, words, cracks, dial)
    sound = [pin for pin in of_it if pin.state == "ok" and pin.what == "joint"]
    if not sound:
        return None
    ratio = ratio_within(1 - SEES, 1 - MISTAKES)
    return _said(finding, ratio, _listed("its joints were seen sound", sound), sound, dial)


def _nothing(finding: str, share: float, words: str) -> Evidence | None:
    """Nothing was found in the share of the board that was looked at."""
    if share == 0:
        return None
    ratio = ratio_within(1 - SEES * share, 1 - MISTAKES * share)
    looked = f"{words}; {100 * share:.0f} % of what is asked for was looked at"
    return Evidence(finding, None, ratio, looked, "board", analysis=ANALYSIS)


def _listed(how: str, pins: list[Pin]) -> str:
    return f"{how}: {'; '.join(pin.words for pin in pins)}"


def _said(
    finding: str, ratio: float, words: str, pins: list[Pin], dial: str | None = None
) -> Evidence:
    numbers = ", ".join(str(pin.number) for pin in pins)
    where = f"board, pin{'' if len(pins) == 1 else 's'} {numbers}"
    part = "joint" if dial is not None else None
    return Evidence(finding, dial, ratio, words, where, part=part, analysis=ANALYSIS)
