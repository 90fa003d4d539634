"""How sure a photo of lamps may be: what the drawn cases support, and no more.

Of so many cases with so few errors, the rate of errors is below a bound at 95 %; what was found,
over the bound of what was called wrongly, is the largest ratio of likelihoods that they support.

Source: bounds by C. J. Clopper and E. S. Pearson, 1934, from memory; the counts are those of
`benchmarks/light.py`, in docs/measured/light.json, and a test holds `MOST` against them. Of series
only the line was drawn, never a photo: what a fading display does to photos was not measured, and
their limit is not borne out by any count but set far below that of the line (common practice, no
source).
"""

from typing import Final

from needlewright.findings.evidence import ratio_within

MOST: Final = {
    "dark": (45.0, 6.5),
    "dark, print": (36.0, 5.0),
    "dim": (13.0, 3.0),
    "dim, print": (12.0, 2.8),
    "sign": (40.0, 25.0),
    "segment": (24.0, 10.0),
    "fading": (5.0, 5.0),
}
"""By what is judged: the largest ratio for a yes, and the largest for a no."""


def held(kind: str, ratio: float) -> float:
    """A ratio of likelihoods kept within what the error rates support.

    Parameters
    ----------
    kind
        One of `MOST`.
    ratio
        Above 1: for a yes.

    Returns
    -------
    float
        Not beyond the limits of its kind.
    """
    most_yes, most_no = MOST[kind]
    return min(max(ratio, 1 / most_no), most_yes)


def odds_ratio(probability: float, prior: float) -> float:
    """By how much a probability's odds are above those beforehand.

    Parameters
    ----------
    probability
        Afterwards.
    prior
        Beforehand, above 0 and below 1.

    Returns
    -------
    float
        Within what evidence may claim.
    """
    yes = probability * (1 - prior)
    no = (1 - probability) * prior
    return ratio_within(yes, no)
