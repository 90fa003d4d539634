"""How sure a photo of lamps may be: what the drawn cases support, and no more.

Where n cases of a kind were judged rightly without one error, the error rate is below 3 / n at
95 %, and no ratio of likelihoods beyond n / 3 is supported by them.

Source: the "rule of three" for no event in n, from memory; the counts are those of
`benchmarks/light.py`, in docs/measured/light.json.
"""

from typing import Final

from needlewright.findings.evidence import ratio_within

MOST: Final = {
    "dark": (11.0, 5.0),
    "dark, print": (11.0, 5.0),
    "dim": (5.0, 1.5),
    "dim, print": (4.0, 1.3),
    "sign": (11.0, 5.0),
    "segment": (6.0, 2.0),
    "fading": (20.0, 20.0),
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
