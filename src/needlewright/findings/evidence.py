"""What an analysis saw, as evidence: it speaks for or against one finding of the knowledge file."""

from dataclasses import dataclass
from math import isfinite

from needlewright.errors import KnowledgeError

MOST_RATIO = 1e4
"""No analysis is surer than this: beyond it, something nobody thought of is likelier."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """One thing that an analysis saw.

    Parameters
    ----------
    finding
        Id of a finding of the knowledge file, such as `creeps_home`.
    dial
        Of which dial; None: of the whole.
    ratio
        How much likelier what was seen is with the finding being a yes than with it being a no:
        above 1 it speaks for a yes, 1 says nothing. Between 1 / `MOST_RATIO` and `MOST_RATIO`.
    words
        One sentence for people, with the figures.
    seen_in
        Where, for people and for a tap to the evidence: a run's name, a photo, a step.
    size
        Its size, if it has one.
    u_size
        Standard uncertainty (k = 1) of the size; None: not known.
    unit
        Of both: `deg`, `ratio`, `degC`, `A`; None: without a unit or without a size.
    part
        The part inside a dial that this points at (`movement`, `needle`, `driver`, `stop`, ...);
        None: at none above the others.
    analysis
        Which kind of analysis saw it (`sweep`, `key_cycles`, ...). Two pieces of one analysis on
        the same finding of the same dial are not independent, and do not add up; those without a
        name count as one analysis.

    Raises
    ------
    KnowledgeError
        If the ratio is not within its limits.
    """

    finding: str
    dial: str | None
    ratio: float
    words: str
    seen_in: str
    size: float | None = None
    u_size: float | None = None
    unit: str | None = None
    part: str | None = None
    analysis: str | None = None

    def __post_init__(self) -> None:
        if not isfinite(self.ratio) or not 1 / MOST_RATIO <= self.ratio <= MOST_RATIO:
            raise KnowledgeError(
                f"evidence '{self.finding}' in {self.seen_in}: a ratio of likelihoods lies between "
                f"{1 / MOST_RATIO:g} and {MOST_RATIO:g}; got {self.ratio}"
            )


def ratio_within(likely_yes: float, likely_no: float) -> float:
    """A ratio of two likelihoods, kept within what evidence may claim.

    Parameters
    ----------
    likely_yes
        How likely what was seen is with the finding being a yes.
    likely_no
        The same with it being a no.

    Returns
    -------
    float
        Between 1 / `MOST_RATIO` and `MOST_RATIO`.

    Raises
    ------
    KnowledgeError
        If one is negative or not finite, or both are zero.
    """
    both = (likely_yes, likely_no)
    if not all(isfinite(one) and one >= 0 for one in both) or max(both) == 0:
        raise KnowledgeError(
            f"likelihoods must be 0 or more and one of them above 0; got {likely_yes} and "
            f"{likely_no}"
        )
    if likely_no * MOST_RATIO <= likely_yes:
        return MOST_RATIO
    return max(likely_yes / likely_no, 1 / MOST_RATIO)
