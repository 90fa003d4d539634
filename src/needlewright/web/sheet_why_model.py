"""What answers a "why": inputs, formula, source and evidence of one number."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from needlewright.papers.figures import decimals_for
from needlewright.papers.wording import number, short


@dataclass(frozen=True, slots=True)
class Section:
    """One step of the answer."""

    name: str
    """By which a link finds it: `shown`, `uncertainty`, `error`, `allowed`, `result`."""
    heading: str
    answer: str
    formula: str = ""
    inputs: tuple[tuple[str, str], ...] = ()
    table: tuple[tuple[str, ...], ...] = ()
    """Head first; empty: none."""
    source: str = ""
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Evidence:
    """The picture a number was read from."""

    crop: str
    photo: str
    overlay: str
    caption: str
    sha256: str


@dataclass(frozen=True, slots=True)
class Why:
    """A whole answer."""

    title: str
    answer: str
    back: str
    """Where on the sheet it was asked."""
    sections: tuple[Section, ...]
    evidence: Evidence | None = None
    reading_id: int | None = None
    """A reading that can be rejected."""
    rejected: str = ""
    """Why it was rejected, and by whom."""


def with_u(value: float, expanded: float | None, unit: str, *, signed: bool = False) -> str:
    """A value with its expanded uncertainty, rounded to it."""
    gap = "" if unit == "°" else " "
    if not expanded:
        return f"{short(value)}{gap}{unit}"
    places = decimals_for(expanded)
    text = f"{number(value, places, signed=signed)} ± {number(expanded, places)}"
    return f"{text}{gap}{unit}"


def u_text(u: float | None, unit: str) -> str:
    """A standard uncertainty, three figures."""
    if u is None:
        return "–"
    return f"{u:.3g}{'' if unit == '°' else ' '}{unit}"


def squares(parts: Sequence[tuple[str, float]], unit: str) -> tuple[tuple[str, str], ...]:
    """Named standard uncertainties as inputs."""
    return tuple((name.replace("_", " "), u_text(u, unit)) for name, u in parts)


def words_of(flags: Sequence[str], book: Mapping[str, object]) -> tuple[str, ...]:
    """The long words of flags, where the book has them."""
    return tuple(
        f"{flag.replace('_', ' ')}: {getattr(book[flag], 'long')}"  # noqa: B009
        if flag in book
        else flag.replace("_", " ")
        for flag in flags
    )
