"""Whether a unit that passes warm is good enough for the family's winter."""

from dataclasses import dataclass
from typing import Final, Literal

from needlewright.findings.cold.onset import TENTH, Onset

Winter = Literal["enough", "less", "not_shown"]

OFTEN: Final = TENTH
"""A movement that fails one demanding move in ten is not sound at that temperature."""
ALLOWED: Final = 0.05
"""So probable a failure at the winter figure is let pass without a word."""


@dataclass(frozen=True, slots=True)
class WinterMargin:
    """A dial against the family's winter figure.

    Parameters
    ----------
    winter
        `enough`: the margin is there; `less`: it is rather not; `not_shown`: between the two, or
        nothing was tried cold enough.
    winter_degc
        The family's figure.
    margin_c
        What is left between the figure and where one move in two fails, degC, above 0 where the
        movement still holds at the figure; None where only a bound is known.
    probability
        That at `judged_c` one demanding move in ten or more fails; None where nothing failed.
    judged_c
        The figure; or the coldest that was tried where failing begins there already and the figure
        is colder still, so that at the figure it is at least as probable.
    """

    winter: Winter
    winter_degc: float
    margin_c: float | None
    probability: float | None
    judged_c: float

    @property
    def warns(self) -> bool:
        """Whether something is to be said."""
        return self.winter != "enough"


def winter_margin(onset: Onset, winter_degc: float) -> WinterMargin | None:
    """Compare where a dial fails with the coldest its family must work at.

    Parameters
    ----------
    onset
        Of the dial.
    winter_degc
        The family's figure.

    Returns
    -------
    WinterMargin or None
        None where the movement fails at all temperatures tried, or regardless of them: then it is
        no unit that passes warm.
    """
    if onset.where in ("above", "beyond_warm", "regardless", "one_temperature"):
        return None
    if onset.where == "below":
        shown = onset.high_c is not None and onset.high_c <= winter_degc
        return WinterMargin(
            "enough" if shown else "not_shown", winter_degc, None, None, winter_degc
        )
    beyond = onset.where == "beyond_cold" and winter_degc < onset.coldest_c
    judged_c = onset.coldest_c if beyond else winter_degc
    probability = onset.chance_of_failing(judged_c, OFTEN)
    if probability is None:
        return None
    winter: Winter = "enough" if probability <= ALLOWED and not beyond else "not_shown"
    if probability > 1 / 2:
        winter = "less"
    margin = None if onset.at_c is None else winter_degc - onset.at_c
    return WinterMargin(winter, winter_degc, margin, probability, judged_c)
