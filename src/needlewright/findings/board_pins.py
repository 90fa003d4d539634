"""Pins that a person sets on photos of a board's two sides: what is there, and how it is."""

from dataclasses import dataclass
from typing import Final, Literal, get_args

from needlewright.errors import JobError

BoardSide = Literal["front", "back"]
BoardMoment = Literal["before", "after"]
PinWhat = Literal["via", "joint", "connector", "coating"]
PinState = Literal["ok", "cracked", "corroded", "lifted", "removed", "restored"]
PinPart = Literal["supply", "display", "movement"]
"""What the place belongs to, where the person knows: the cluster's supply (connector, regulator),
a display's feed, a dial's movement or its driver."""

SIDES: Final[tuple[BoardSide, ...]] = get_args(BoardSide)
WHATS: Final[tuple[PinWhat, ...]] = get_args(PinWhat)
STATES: Final[tuple[PinState, ...]] = get_args(PinState)
PARTS: Final[tuple[PinPart, ...]] = get_args(PinPart)
OF_COATING: Final[tuple[PinState, ...]] = ("removed", "restored")
"""States that only a coating can have."""
BAD: Final[tuple[PinState, ...]] = ("cracked", "corroded", "lifted")
GOOD: Final[tuple[PinState, ...]] = ("ok", "restored")
SIDE_WORDS: Final[dict[BoardSide, str]] = {"front": "the front", "back": "the back"}
STATE_WORDS: Final[dict[PinState, str]] = {
    "ok": "sound",
    "cracked": "cracked",
    "corroded": "corroded",
    "lifted": "lifted",
    "removed": "removed",
    "restored": "restored",
}
CORRODED_COATING: Final = "corroded beneath"


@dataclass(frozen=True, slots=True)
class Pin:
    """One place of a board, or all of one kind on a side.

    Parameters
    ----------
    number
        By which people name it; from 1 in the order of setting.
    side
        Of the board.
    moment
        On a photo from before the work, or after it.
    what
        What is there.
    state
        How it is.
    x
        Share of the photo's width from its left edge; None: every one of its kind on this side.
    y
        Share of its height from the top; None with `x`.
    part
        What it belongs to; None: not said.
    dial
        Which dial's movement; None with any other part.
    note
        Anything else.
    of
        Number of the earlier pin of the same place that this one answers; None: a place of its own.
    """

    number: int
    side: BoardSide
    moment: BoardMoment
    what: PinWhat
    state: PinState
    x: float | None = None
    y: float | None = None
    part: PinPart | None = None
    dial: str | None = None
    note: str = ""
    of: int | None = None

    @property
    def is_bad(self) -> bool:
        """Whether it is a fault of the board."""
        return self.state in BAD

    @property
    def words(self) -> str:
        """In short, as in "joint on the back, cracked (pin 3)"."""
        state = STATE_WORDS[self.state]
        if self.what == "coating" and self.state == "corroded":
            state = CORRODED_COATING
        kind = f"every {self.what}" if self.x is None and self.what != "coating" else self.what
        return f"{kind} on {SIDE_WORDS[self.side]}{self._of_what}, {state} (pin {self.number})"

    @property
    def _of_what(self) -> str:
        if self.part == "movement":
            return f" of {self.dial}'s movement"
        return "" if self.part is None else f" of the {self.part}"


def check_pin(pin: Pin, where: str) -> None:
    """Refuse a pin that cannot be meant.

    Parameters
    ----------
    pin
        As it is to be kept.
    where
        Named first in the sentence, as in "job EX-1, board".

    Raises
    ------
    JobError
        If it lies outside its photo, a state does not belong to what is there, a movement's dial is
        missing, or nothing but sound stands for all of a side.
    """
    named = f"{where}, pin {pin.number}"
    for name, share in (("x", pin.x), ("y", pin.y)):
        if share is not None and not 0 <= share <= 1:
            raise JobError(
                f"{named}: lies outside the photo ({name} = {share:g}; 0 to 1 is inside); set it "
                "on the board"
            )
    if (pin.x is None) != (pin.y is None):
        raise JobError(f"{named}: has one of x and y; give both, or neither for all of its kind")
    if pin.state in OF_COATING and pin.what != "coating":
        raise JobError(
            f"{named}: a {pin.what} is not '{pin.state}', only coating is; choose ok, cracked, "
            "corroded or lifted"
        )
    if pin.x is None and pin.state != "ok":
        raise JobError(
            f"{named}: '{pin.state}' is said of one place; set the pin on the photo where it is"
        )
    if (pin.part == "movement") != (pin.dial is not None):
        raise JobError(
            f"{named}: a movement is one dial's, and only a movement is; name the dial, or choose "
            "another part"
        )
