"""What a temperature series says of one dial, in words and as evidence."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import betaln

from needlewright.families.model import Dial
from needlewright.findings.cold.moves import Move, Moves, RunInCold, moves_of
from needlewright.findings.cold.onset import MISREAD, Onset, Prior, log_average_over, onset_of
from needlewright.findings.cold.winter import WinterMargin, winter_margin
from needlewright.findings.evidence import Evidence, ratio_within

ANALYSIS: Final = "cold"
TRIED_C: Final = (-25.0, 15.0)
"""A movement with a fault of the cold begins to fail somewhere between these (common practice, no
source): a freezer's temperature, and a cool room."""
WHOLE_RUN_OFF: Final = 0.05
"""How often something else (a slipped connector, a wrong reference) spoils one run as a whole."""
REGARDLESS: Final = 0.2
"""Share of movements without a fault of the cold that fail anyhow, warm and cold."""
LARGEST_RATIO: Final = 100.0
"""No series is surer: in `benchmarks/cold.py` none of 360 sound series had a ratio above 10, which
bounds false alarms at 0.8 % (95 %, one-sided)."""
SMALLEST_RATIO: Final = 0.05
"""Nor the other way: one series in twenty with a cold fault speaks against it there."""


@dataclass(frozen=True, slots=True, eq=False)
class ColdFinding:
    """One dial in a series."""

    dial: str
    moves: Moves
    onset: Onset
    winter: WinterMargin | None
    """None where the family states no winter figure, or it does not pass warm."""
    ratio: float
    """How much likelier the moves are with a fault of the cold than without."""
    words: str
    """One sentence."""
    winter_words: str | None
    """The warning; None: there is none."""


def judge_cold(
    dial: Dial, runs: Sequence[RunInCold], winter_degc: float | None = None
) -> ColdFinding | None:
    """Judge a dial by a temperature series.

    Parameters
    ----------
    dial
        The dial.
    runs
        Of the series, completed with the family.
    winter_degc
        The coldest the family must work at; None: not stated.

    Returns
    -------
    ColdFinding or None
        None where no move of the dial can be judged.
    """
    moves = moves_of(dial, runs)
    if not moves.moves:
        return None
    onset = onset_of(moves.moves)
    winter = None if winter_degc is None else winter_margin(onset, winter_degc)
    return ColdFinding(
        dial.id,
        moves,
        onset,
        winter,
        _ratio(moves.moves),
        onset_words(dial.id, onset),
        None if winter is None else winter_words(dial.id, onset, winter),
    )


def cold_evidence(found: ColdFinding, seen_in: str) -> tuple[Evidence, ...]:
    """What a series says, as evidence.

    Parameters
    ----------
    found
        Of one dial.
    seen_in
        The series.

    Returns
    -------
    tuple of Evidence
        One; none where the series says nothing either way.
    """
    onset = found.onset
    if onset.where == "one_temperature":
        return ()
    sized = onset.where == "found"
    return (
        Evidence(
            "cold_wrong",
            found.dial,
            found.ratio,
            found.words,
            seen_in,
            onset.at_c if sized else None,
            onset.u_c if sized else None,
            "degC" if sized else None,
            "movement",
            ANALYSIS,
        ),
    )


def onset_words(dial: str, onset: Onset) -> str:
    """Where a dial begins to fail, in one sentence.

    Parameters
    ----------
    dial
        Its id.
    onset
        What was found.

    Returns
    -------
    str
        With the interval and what it rests on.
    """
    counted = f"{onset.failed} of {onset.moves} moves failed"
    span = f"from {onset.coldest_c:.0f} to {onset.warmest_c:.0f} degC"
    if onset.where == "found":
        return (
            f"{dial}: the movement starts to slip or stall at {onset.at_c:.1f} degC, "
            f"{onset.low_c:.1f} to {onset.high_c:.1f} (95 %); {counted} {span}"
        )
    if onset.where == "below":
        return (
            f"{dial}: no move failed {span}; if it slips or stalls at all, then below "
            f"{onset.high_c:.1f} degC (95 %, one-sided)"
        )
    if onset.where == "above":
        return (
            f"{dial}: every move failed {span}; it slips or stalls up to {onset.low_c:.1f} degC or "
            "warmer (95 %, one-sided), so this is no matter of cold alone"
        )
    if onset.where == "regardless":
        return f"{dial}: {counted} {span}, as often warm as cold: it does not come from the cold"
    return (
        f"{dial}: {counted}, all at about {onset.warmest_c:.0f} degC; one temperature does not say "
        "where it begins, take one warmer and one colder"
    )


def winter_words(dial: str, onset: Onset, winter: WinterMargin) -> str | None:
    """The warning of a margin that is too small, in one sentence.

    Parameters
    ----------
    dial
        Its id.
    onset
        Where it begins to fail.
    winter
        Its margin.

    Returns
    -------
    str or None
        None: the margin is there.
    """
    figure = f"the family's winter figure, {winter.winter_degc:g} degC"
    if winter.winter == "enough":
        return None
    if winter.probability is None:
        return (
            f"{dial}: not shown to work at {figure}: it was tried down to "
            f"{onset.coldest_c:.0f} degC, and what is shown is {onset.high_c:.1f} (95 %)"
        )
    sure = winter.probability > 0.99
    share = "more than 99 %" if sure else f"{100 * winter.probability:.0f} %"
    if winter.winter == "less":
        return (
            f"{dial}: passes warm, but not at {figure}: with {share} probability one move in ten "
            "or more fails there"
        )
    return (
        f"{dial}: its margin at {figure} is not sure: with {share} probability one move in ten or "
        "more fails there"
    )


def _ratio(moves: Sequence[Move]) -> float:
    """How much likelier the moves are with a fault of the cold than without."""
    yes = log_average_over(moves, *TRIED_C, Prior())
    failed = np.array([move.failed for move in moves])
    fails, holds = int(failed.sum()), int((~failed).sum())
    sound = _log_sound(fails, holds)
    spoilt = []
    for run in sorted({move.run for move in moves}):
        inside = np.array([move.run == run for move in moves])
        bad, good = int((failed & inside).sum()), int((~failed & inside).sum())
        spoilt.append(_log_sound(fails - bad, holds - good) + _log_any(bad, good))
    usual = np.logaddexp(
        np.log(1 - WHOLE_RUN_OFF) + sound,
        np.log(WHOLE_RUN_OFF / len(spoilt)) + float(np.logaddexp.reduce(spoilt)),
    )
    no = np.logaddexp(np.log(1 - REGARDLESS) + usual, np.log(REGARDLESS) + _log_any(fails, holds))
    ratio = ratio_within(float(np.exp(np.clip(yes - no, -50, 50))), 1.0)
    return min(max(ratio, SMALLEST_RATIO), LARGEST_RATIO)


def _log_sound(fails: int, holds: int) -> float:
    return fails * float(np.log(MISREAD)) + holds * float(np.log(1 - MISREAD))


def _log_any(fails: int, holds: int) -> float:
    """With one share of failures that may be anything, rather near none or all (Jeffreys)."""
    return float(betaln(fails + 0.5, holds + 0.5) - betaln(0.5, 0.5))
