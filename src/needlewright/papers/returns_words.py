"""How many of such clusters come back under warranty, said one way on papers and pages."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal

Kind = Literal["nearly_all", "in_hundred", "one_in", "rare", "number", "hardly"]
MOST_SURE: Final = 0.995
"""Probability from which a return is as good as certain."""
COMMON: Final = 0.2
"""Probability from which it is told as so many in 100: `about 1 in 2` says too little."""
FEWEST: Final = 0.01
HARDLY: Final = 0.005
"""Expected number below which two decimals say nothing."""
PROBABILITY: Final = "come back under warranty"
NUMBER: Final = "returns to be expected under warranty"
_WORDS: Final[Mapping[Kind, str]] = {
    "nearly_all": "nearly every one",
    "in_hundred": "about {n} in 100",
    "one_in": "about 1 in {n}",
    "rare": "fewer than 1 in 100",
    "number": "{n}",
    "hardly": "fewer than 0.01",
}


@dataclass(frozen=True, slots=True)
class ReturnsSaid:
    """What is said of returns.

    Parameters
    ----------
    kind
        Which words; those of a number of returns are `number` and `hardly`.
    n
        The figure in them; empty: none.
    """

    kind: Kind
    n: str = ""

    @property
    def is_number(self) -> bool:
        """Whether it is an expected number of returns and no share of clusters."""
        return self.kind in ("number", "hardly")

    @property
    def heading(self) -> str:
        """What the words are said of."""
        return NUMBER if self.is_number else PROBABILITY

    @property
    def words(self) -> str:
        """As papers say it: `about 45 in 100`."""
        return _WORDS[self.kind].format(n=self.n)


def returns_of(option: Mapping[str, Any]) -> ReturnsSaid:
    """Say how many come back.

    Parameters
    ----------
    option
        Of a plan. Where it has `any_return`, the probability of at least one return, that is said:
        a share of clusters. Else its `expected_returns`, which is a number and may pass 1, since
        several things of one cluster may fail.

    Returns
    -------
    ReturnsSaid
        In words.
    """
    probability = option.get("any_return")
    if probability is None:
        expected = float(option["expected_returns"])
        is_some = expected >= HARDLY
        return ReturnsSaid("number", f"{expected:.2f}") if is_some else ReturnsSaid("hardly")
    if probability >= MOST_SURE:
        return ReturnsSaid("nearly_all")
    if probability >= COMMON:
        return ReturnsSaid("in_hundred", f"{100 * probability:.0f}")
    if probability >= FEWEST:
        return ReturnsSaid("one_in", f"{1 / probability:.0f}")
    return ReturnsSaid("rare")
