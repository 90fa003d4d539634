"""Guides once they were checked: plain records, each with everything its sheet says."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Step:
    """What is done; the drawing that shows it, or none."""

    words: str
    drawing: str | None = None
    part: str = ""
    """The part of the work it begins; empty: it goes on."""
    rows: tuple[str, ...] = ()
    """Lines of the family that belong under it."""
    key: str = ""
    """By which it is found again; made of its words before anything is put in."""


@dataclass(frozen=True, slots=True)
class Check:
    """What is checked afterwards, and the command of this program that does it."""

    words: str
    command: str | None = None


@dataclass(frozen=True, slots=True)
class Counted:
    """A line of parts counted out and in: how many, where it is known."""

    what: str
    count: int | None = None
    tightness: str = ""


@dataclass(frozen=True, slots=True)
class Guide:
    """A sheet of paper's worth of how something is done.

    Parameters
    ----------
    name, title
        What it is asked for by; what stands over it.
    operations
        Of the catalogue, that it tells how to do.
    cautions
        Sentences, in the order of the sheet.
    tools, steps, good, photos, counted, checks
        What is needed, done, aimed at, photographed, counted out and in, and checked afterwards.
    open_first, close_after
        How the cluster is opened for it and closed again, in order.
    source
        Where it comes from.
    see_also
        Names of other guides for the same operations.
    """

    name: str
    title: str
    operations: tuple[str, ...]
    cautions: tuple[str, ...]
    tools: tuple[str, ...]
    steps: tuple[Step, ...]
    good: tuple[str, ...]
    photos: tuple[str, ...]
    counted: tuple[Counted, ...]
    checks: tuple[Check, ...]
    open_first: tuple[str, ...]
    close_after: tuple[str, ...]
    source: str
    see_also: tuple[str, ...] = ()
    family: str | None = None
    invented: bool = False


@dataclass(frozen=True, slots=True)
class Refit:
    """The sheet for whoever puts a cluster back.

    Parameters
    ----------
    title, cautions, good, checks, source
        As of a guide.
    steps
        In the order of refitting; the first says the wait.
    fasteners, loose_parts, connectors
        Of the family, in its own order; empty where it says nothing of them.
    family, tag
        Whose; of which job, or none.
    """

    title: str
    family: str
    tag: str | None
    cautions: tuple[str, ...]
    steps: tuple[Step, ...]
    fasteners: tuple[Counted, ...]
    loose_parts: tuple[Counted, ...]
    connectors: tuple[Counted, ...]
    good: tuple[str, ...]
    checks: tuple[Check, ...]
    source: str
    invented: bool
