"""As found against as left, row by row."""

from collections import defaultdict
from dataclasses import dataclass

from needlewright.proofs.verdict_model import RowVerdict, RunVerdict
from needlewright.readings.runs import Approach

_Key = tuple[str, float | None, Approach]

_DIGITS = 9
"""Decimal places to which two commanded values are the same: rounding of a file, no more."""


@dataclass(frozen=True, slots=True)
class BeforeAfterRow:
    """One point of one dial in both runs; None where a run does not have it."""

    dial: str
    commanded: float | None
    """In the dial's unit; None at rest."""
    approach: Approach
    found: RowVerdict | None
    left: RowVerdict | None

    @property
    def change(self) -> float | None:
        """Shown as left minus shown as found, in the dial's unit; None unless both were read."""
        if self.found is None or self.left is None:
            return None
        if self.found.shown is None or self.left.shown is None:
            return None
        return self.left.shown - self.found.shown


def before_after(found: RunVerdict, left: RunVerdict) -> tuple[BeforeAfterRow, ...]:
    """Pair the rows of two runs by dial, commanded value and approach.

    Parameters
    ----------
    found
        Verdicts on the run as found.
    left
        Verdicts on the run as left.

    Returns
    -------
    tuple of BeforeAfterRow
        In the time order of the run as left; rows only the run as found has come after them.
        Points visited several times pair first with first, second with second.
    """
    waiting = _by_key(found)
    pairs = [
        _paired(key, waiting[key].pop(0) if waiting.get(key) else None, row)
        for key, row in _keyed_rows(left)
    ]
    pairs += [_paired(key, row, None) for key, rows in waiting.items() for row in rows]
    return tuple(pairs)


def _paired(key: _Key, found: RowVerdict | None, left: RowVerdict | None) -> BeforeAfterRow:
    dial, _, approach = key
    present = left if left is not None else found
    commanded = present.true_value if present is not None else None
    return BeforeAfterRow(dial, commanded, approach, found, left)


def _by_key(run: RunVerdict) -> dict[_Key, list[RowVerdict]]:
    rows: dict[_Key, list[RowVerdict]] = defaultdict(list)
    for key, row in _keyed_rows(run):
        rows[key].append(row)
    return rows


def _keyed_rows(run: RunVerdict) -> list[tuple[_Key, RowVerdict]]:
    return [
        ((dial.dial, _rounded(row.true_value), row.row.approach), row)
        for dial in run.dials
        for row in dial.rows
    ]


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, _DIGITS)
