"""How probabilities are said to people, the same everywhere."""

from typing import Final

_NEARLY: Final = 0.99


def share_words(probability: float) -> str:
    """A probability for people, no nearer to certain than a hundred drawn dials can show.

    Parameters
    ----------
    probability
        From 0 to 1.

    Returns
    -------
    str
        In per cent.
    """
    if probability > _NEARLY:
        return "over 99 %"
    if probability < 1 - _NEARLY:
        return "under 1 %"
    return f"{100 * probability:.0f} %"
