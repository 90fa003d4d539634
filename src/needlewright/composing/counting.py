"""Small parts counted out of a cluster and back in: what does not come out even, in words."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from needlewright.records.views.ticks import TickView

Even = Literal["", "all", "missing", "more", "not_in", "not_out", "other"]
"""Nothing counted; all back; too few; too many; not back yet; never counted out; another number
came out than there should be."""


@dataclass(frozen=True, slots=True)
class Counts:
    """One kind of part.

    Parameters
    ----------
    what
        In words.
    out, back
        How many were counted out and in; None: not counted.
    expected
        How many there should be; None: nobody knows.
    """

    what: str
    out: int | None
    back: int | None
    expected: int | None = None

    @property
    def even(self) -> Even:
        """Whether it comes out even."""
        if self.out is None:
            return "" if self.back is None else "not_out"
        if self.back is not None and self.back != self.out:
            return "missing" if self.back < self.out else "more"
        if self.expected is not None and self.out != self.expected:
            return "other"
        return "not_in" if self.back is None else "all"

    @property
    def is_wrong(self) -> bool:
        """Whether something is to be looked for before the cluster is closed."""
        return self.even in ("missing", "more", "not_out", "other")

    @property
    def words_before_closing(self) -> str:
        """The same where the cluster is about to be closed: what was not counted in is missing."""
        if self.even != "not_in":
            return self.words
        return (
            f"{self.what}: {self.out} out, none counted in, {self.out} missing; count them in first"
        )

    @property
    def words(self) -> str:
        """What is to be said of it; empty where it comes out even, or nothing was counted."""
        out, back = self.out or 0, self.back or 0
        match self.even:
            case "missing":
                said = f"{out} out, {back} in, {out - back} missing; find before closing"
            case "more":
                said = f"{out} out, {back} in, {back - out} too many; count again"
            case "not_in":
                said = f"{out} out, not counted in yet"
            case "not_out":
                said = f"{back} in, and nothing counted out; count again"
            case "other":
                said = f"{out} out, and there should be {self.expected}; count again, or note why"
            case _:
                return ""
        return f"{self.what}: {said}"


def counts_of(what: str, lines: Iterable[TickView], expected: int | None = None) -> Counts:
    """Put the counts of one line of a sheet together.

    Parameters
    ----------
    what
        The part, in words.
    lines
        Marks of that line.
    expected
        How many there should be; None: nobody knows.

    Returns
    -------
    Counts
        Out and in.
    """
    found = {one.mark: one.value for one in lines if one.mark in ("out", "in")}
    out, back = found.get("out"), found.get("in")
    return Counts(
        what,
        None if out is None else int(out),
        None if back is None else int(back),
        expected,
    )


def not_even(ticks: Iterable[TickView]) -> tuple[str, ...]:
    """What of all that was counted in a job is not back, whichever sheet it was counted on.

    Parameters
    ----------
    ticks
        Of the job.

    Returns
    -------
    tuple of str
        One sentence for each part that was counted out and not counted back in as many; parts that
        are only counted in are of the vehicle, and say nothing of the cluster.
    """
    by_line: dict[tuple[str, str], list[TickView]] = {}
    for one in ticks:
        if one.mark in ("out", "in"):
            by_line.setdefault((one.sheet, one.key), []).append(one)
    counted = [counts_of(lines[0].words or key, lines) for (_, key), lines in by_line.items()]
    said = (one.words_before_closing for one in counted if one.even != "not_out")
    return tuple(words for words in said if words)
