"""What was said of past jobs beside what a person decided, and how often it held."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from math import isfinite
from typing import Final

import numpy as np
from scipy import stats

from needlewright.errors import KnowledgeError
from needlewright.findings.troubleshooting.model import SOUND, code_of

SURE: Final = 0.95
"""Coverage of the interval of a share."""
BINS: Final = 10


@dataclass(frozen=True, slots=True)
class Opinion:
    """What a person decided of a dial or of a system of the whole, beside what was said of it.

    Parameters
    ----------
    decided
        Codes of the causes there are, `code/part` where the part is known; empty: it is sound. A
        dial has one at most.
    said
        Probability by code as the program had it at that moment; of a dial with `sound`.
    why
        The person's reason.
    dial
        Of which dial; None: of a system of the whole.

    Raises
    ------
    KnowledgeError
        If a dial has more than one cause, or a probability is not between 0 and 1.
    """

    decided: tuple[str, ...]
    said: Mapping[str, float] = field(default_factory=dict)
    why: str = ""
    dial: str | None = None

    def __post_init__(self) -> None:
        if self.dial is not None and len(self.decided) > 1:
            raise KnowledgeError(
                f"dial '{self.dial}' is decided to have {', '.join(self.decided)}; a dial has one "
                "main cause, so keep one"
            )
        for code, probability in self.said.items():
            if not isfinite(probability) or not 0 <= probability <= 1:
                raise KnowledgeError(
                    f"'{code}' was said with {probability}; a probability lies between 0 and 1"
                )

    @property
    def truly(self) -> frozenset[str]:
        """Codes that hold by the person: of a sound dial, `sound`."""
        codes = frozenset(map(code_of, self.decided))
        return codes if codes or self.dial is None else frozenset((SOUND,))

    @property
    def is_overruled(self) -> bool:
        """Whether the person decided otherwise than was most probable."""
        if not self.said:
            return False
        if self.dial is not None:
            return max(self.said, key=lambda code: self.said[code]) not in self.truly
        return {code for code, p in self.said.items() if p > 0.5} != self.truly

    def statements(self) -> tuple[tuple[float, bool], ...]:
        """Every probability that was said, and whether it held; what nobody thought of is a 0."""
        if not self.said:
            return ()
        unsaid = [(0.0, True) for code in sorted(self.truly) if code not in self.said]
        return (*((p, code in self.truly) for code, p in self.said.items()), *unsaid)


@dataclass(frozen=True, slots=True)
class Bin:
    """Statements whose probability lay between two bounds.

    Parameters
    ----------
    low, high
        Bounds; the lower one belongs to it, and 1 to the last.
    count
        Statements.
    held
        How many of them held.
    said
        Their mean probability.
    share_low, share_high
        Interval of the share that holds, 95 % (Jeffreys: beta of held + 1/2 and not held + 1/2).
    """

    low: float
    high: float
    count: int
    held: int
    said: float
    share_low: float
    share_high: float


@dataclass(frozen=True, slots=True)
class TrackRecord:
    """How often what was said held.

    Parameters
    ----------
    bins
        Those with statements, by probability.
    statements
        How many there are.
    expected_error
        Mean distance between said and held over the bins, by their statements (expected
        calibration error).
    brier
        Mean squared distance between probability and outcome.
    overruled
        Opinions that decided otherwise than was most probable.
    opinions
        Opinions beside which something was said.
    """

    bins: tuple[Bin, ...]
    statements: int
    expected_error: float
    brier: float
    overruled: int
    opinions: int


def track_record(opinions: Iterable[Opinion]) -> TrackRecord | None:
    """How far what was said of past jobs held.

    Parameters
    ----------
    opinions
        Those that count; beside which nothing was said, they say nothing here.

    Returns
    -------
    TrackRecord or None
        None: nothing was ever said.

    Notes
    -----
    A person's decision is taken for the truth, and people see what was said before they decide: it
    flatters. **Source** reliability diagrams and the Brier score: any textbook of forecast
    verification; Jeffreys' interval: any textbook of Bayesian statistics.
    """
    spoken = [one for one in opinions if one.said]
    pairs = [pair for one in spoken for pair in one.statements()]
    if not pairs:
        return None
    said, held = np.array([p for p, _ in pairs]), np.array([h for _, h in pairs])
    # a hair above, as 0.3 is a little less than 3 of 10 in floating point
    place = np.minimum((said * BINS + 1e-9).astype(int), BINS - 1)
    bins = tuple(
        _bin(number, said[place == number], held[place == number]) for number in np.unique(place)
    )
    error = sum(abs(one.held - one.said * one.count) for one in bins) / len(pairs)
    brier = float(np.mean((said - held) ** 2))
    overruled = sum(one.is_overruled for one in spoken)
    return TrackRecord(bins, len(pairs), float(error), brier, overruled, len(spoken))


def _bin(number: int, said: np.ndarray, held: np.ndarray) -> Bin:
    count, yes = len(said), int(held.sum())
    interval = stats.beta(yes + 0.5, count - yes + 0.5).interval(SURE)
    low, high = int(number) / BINS, (int(number) + 1) / BINS
    mean = float(said.mean())
    return Bin(low, high, count, yes, mean, float(interval[0]), float(interval[1]))
