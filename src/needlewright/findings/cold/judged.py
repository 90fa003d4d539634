"""What a temperature series says of one dial, in words and as evidence."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import betaln

from needlewright.families.model import Dial
from needlewright.findings.cold.law import MISREAD, Prior, log_average_over
from needlewright.findings.cold.moves import Move, Moves, RunInCold, moves_of
from needlewright.findings.cold.onset import TENTH, Onset, Range, onset_of
from needlewright.findings.cold.winter import WinterMargin, winter_margin
from needlewright.findings.evidence import Evidence, ratio_within
from needlewright.findings.wording import share_words

ANALYSIS: Final = "cold"
TRIED_C: Final = (-25.0, 15.0)
"""A movement with a fault of the cold begins to fail somewhere between these (common practice, no
source): a freezer's temperature, and a cool room."""
WHOLE_RUN_OFF: Final = 0.05
"""How often something else (a slipped connector, a wrong reference) spoils one run as a whole."""
REGARDLESS: Final = 0.2
"""Share of movements without a fault of the cold that fail anyhow, warm and cold."""
LARGEST_RATIO: Final = 10.0
"""No series is surer: in `benchmarks/cold.py` 105 of 120 with a cold fault had a ratio above 10; so
had none of 360 sound ones, but 27 of 180 whose needle scatters. With `REGARDLESS` of such units
that bounds false alarms at one in twenty (95 %, one-sided)."""
SMALLEST_RATIO: Final = 0.1
"""Nor the other way: 5 of 120 series with a cold fault speak against it there."""

SAYS_NOTHING: Final = (0.9, 1.1)
"""A ratio between these is no evidence."""


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
        One; none where the series says nothing either way, as where all moves were in the warm.
    """
    onset = found.onset
    if onset.where == "one_temperature" or onset.coldest_c > TRIED_C[1]:
        return ()
    if SAYS_NOTHING[0] < found.ratio < SAYS_NOTHING[1]:
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
    span = _span(onset)
    if onset.where == "found":
        tenth = onset.where_fails(TENTH)
        first = "" if tenth is None else f"; one in ten at {_range(tenth)}"
        half = _range((onset.low_c or 0.0, onset.at_c or 0.0, onset.high_c or 0.0))
        return f"{dial}: half of the demanding moves fail at {half}{first} (95 %); {counted} {span}"
    if onset.at_end is not None:
        return f"{dial}: {_beyond_words(onset, onset.at_end)}; {counted} {span}"
    if onset.where == "below":
        return (
            f"{dial}: no move failed {span}; if half of the demanding moves fail anywhere, then "
            f"below {onset.high_c:.1f} °C (95 %, one-sided)"
        )
    if onset.where == "above":
        return (
            f"{dial}: every move failed {span}; half of the demanding moves fail at "
            f"{onset.low_c:.1f} °C or warmer (95 %, one-sided), so this is no matter of cold alone"
        )
    if onset.where == "regardless":
        return f"{dial}: {counted} {span}, as often warm as cold: it does not come from the cold"
    return (
        f"{dial}: {counted}, all at about {onset.warmest_c:.0f} °C; one temperature does not say "
        "where it begins, take one warmer and one colder"
    )


def _span(onset: Onset) -> str:
    low, high = round(onset.coldest_c), round(onset.warmest_c)
    return f"at about {low} °C" if low == high else f"from {low} to {high} °C"


def _range(found: Range) -> str:
    low, middle, high = found
    return f"{middle:.1f} °C, {low:.1f} to {high:.1f}"


def _beyond_words(onset: Onset, at_end: tuple[int, int]) -> str:
    """What can be said where the temperatures tried do not bracket where half fail."""
    cold = onset.where == "beyond_cold"
    failed, of = at_end
    end = onset.coldest_c if cold else onset.warmest_c
    tried = f"at {round(end)} °C, the {'coldest' if cold else 'warmest'} tried"
    limit = onset.high_c if cold else onset.low_c
    side = "colder" if cold else "warmer"
    rest = (
        f"nothing {side} was tried"
        if limit is None
        else f"that is {'below' if cold else 'above'} {limit:.1f} °C (95 %, one-sided), and "
        f"nothing {side} was tried"
    )
    if cold and 2 * failed < of:
        return (
            f"some moves already fail {tried} ({failed} of {of}); where half fail was not reached: "
            f"{rest}"
        )
    return f"{failed} of {of} moves fail {tried}; where half fail is not settled: {rest}"


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
    figure = f"the family's winter figure, {winter.winter_degc:g} °C"
    if winter.winter == "enough":
        return None
    if winter.probability is None:
        return (
            f"{dial}: not shown to work at {figure}: it was tried down to "
            f"{onset.coldest_c:.0f} °C, and what is shown is {onset.high_c:.1f} (95 %)"
        )
    share = share_words(winter.probability)
    there = "there"
    if winter.judged_c != winter.winter_degc:
        there = f"at {winter.judged_c:.0f} °C already, the coldest tried"
    if winter.winter == "less":
        return (
            f"{dial}: passes warm, but not at {figure}: with {share} probability one move in ten "
            f"or more fails {there}"
        )
    return (
        f"{dial}: its margin at {figure} is not sure: with {share} probability one move in ten or "
        f"more fails {there}"
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
