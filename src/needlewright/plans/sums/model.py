"""What a sum of the workbench is: what it asks, how it answers, and what stands behind it."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Final, Generic, Literal, TypeVar

R = TypeVar("R")
Result = Literal["good", "bad", "none"]
"""`none`: told, and not judged."""


@dataclass(frozen=True, slots=True)
class Amount:
    """An input that is a number."""

    name: str
    """As commands and forms name it: `supply`."""
    words: str
    """For people: `Supply voltage`."""
    unit: str
    """Symbol of `bench_units`; empty for a plain number. The sum gets the number in this unit."""
    least: float
    most: float
    default: float | None
    """None: may be left empty."""
    hint: str = ""
    whole: bool = False
    """A count."""
    group: str = ""
    """Title of those it stands with, which most people leave empty; empty: it stands alone."""


@dataclass(frozen=True, slots=True)
class Choice:
    """An input that is one of a few words."""

    name: str
    words: str
    choices: tuple[tuple[str, str], ...]
    """`(as typed, for people)`."""
    default: str
    hint: str = ""


@dataclass(frozen=True, slots=True)
class Pasted:
    """An input that is a text of several lines, such as a table; a command names its file."""

    name: str
    words: str
    example: str
    """Stands in the field of the page until something else does."""
    longest: int = 2_000_000
    """Characters."""
    hint: str = ""


@dataclass(frozen=True, slots=True)
class Line:
    """An input that is a short text, such as a marking; the sum reads it."""

    name: str
    words: str
    example: str
    """Stands in the field of the page, and is used where nothing is given."""
    hint: str = ""


Input = Amount | Choice | Pasted | Line


@dataclass(frozen=True, slots=True)
class Given:
    """The inputs of a sum after they were read: numbers in their inputs' own units."""

    numbers: Mapping[str, float] = field(default_factory=dict)
    words: Mapping[str, str] = field(default_factory=dict)
    """Of choices, lines and pasted texts."""

    def number(self, name: str) -> float:
        """A number that is always there."""
        return self.numbers[name]

    def maybe(self, name: str) -> float | None:
        """A number that may have been left empty."""
        return self.numbers.get(name)

    def word(self, name: str) -> str:
        """A choice, a line, or a pasted text."""
        return self.words[name]


@dataclass(frozen=True, slots=True)
class HeldTo:
    """What a figure was held to, and whose limits those are."""

    low: float | None
    """In the figure's unit; None: not limited."""
    high: float | None
    low_of: str
    """For programs: `standard`, `paste`; empty where there is none."""
    high_of: str


@dataclass(frozen=True, slots=True)
class Figure:
    """One number of an answer."""

    name: str
    """For programs: `series_ohm`."""
    words: str
    value: float | None
    unit: str = ""
    low: float | None = None
    """What it may be at least and at most, where the source gives a range or a tolerance does."""
    high: float | None = None
    digits: int = 3
    """Significant ones, for people."""
    said: str = ""
    """Instead of the number, for people: `E24 value 470 ohm`."""
    held_to: HeldTo | None = None


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the working."""

    words: str
    """What is worked out."""
    formula: str
    put_in: str
    """The same with the numbers put in, and what comes out."""


@dataclass(frozen=True, slots=True)
class Judged:
    """What an answer means, where there is something to judge."""

    result: Result
    words: str
    """A sentence."""


@dataclass(frozen=True, slots=True)
class Told:
    """An answer for people and programs."""

    figures: tuple[Figure, ...]
    """The first is the answer, the others stand beside it."""
    steps: tuple[Step, ...]
    judged: tuple[Judged, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Sum(Generic[R]):
    """A sum of the workbench."""

    name: str
    """As the command and the page's address have it: `lamp-life`."""
    title: str
    what_for: str
    """A sentence: when a technician wants it."""
    inputs: tuple[Input, ...]
    work: Callable[[Given], R]
    """The pure function, handed what was read."""
    told: Callable[[R], Told]
    source: str
    """Document and clause, or that there is none."""
    limits: str
    """How far it is good: a sentence."""
    drawing: str
    """What the drawing shows, for those who do not see it."""
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Answered(Generic[R]):
    """A sum that was worked out."""

    sum: Sum[R]
    given: Given
    result: R
    told: Told


SUPPLY_OFF: Final = (
    "Switch the supply off, and let it discharge, before anything is soldered or cut."
)
HIGH_VOLTAGE: Final = (
    "Supplies of displays and backlights can carry tens to hundreds of volts: measure before "
    "touching."
)
FUSE_POLARITY: Final = (
    "Fuse and current limit first; check the polarity before power is switched on."
)
