"""What a run at the bench says of the causes of a complaint."""

from collections import defaultdict
from collections.abc import Mapping
from math import exp
from typing import Final

from needlewright.composing.explaining import Explained
from needlewright.errors import KnowledgeError
from needlewright.findings.signatures.explain import Explanation
from needlewright.findings.signatures.knowledge import CODES, Members, shipped_knowledge
from needlewright.findings.signatures.knowledge import Knowledge as RunKnowledge
from needlewright.findings.troubleshooting.model import Knowledge, Weighed

RUN: Final = "bench_wrong"
"""The finding that a run answers with more than yes and no."""
SOUND: Final = "sound"


def run_evidence(
    known: Knowledge, explained: Explained, name: str, of_runs: RunKnowledge | None = None
) -> tuple[Weighed, ...]:
    """Weigh what the rows of every dial show, for the causes behind them.

    Parameters
    ----------
    known
        The knowledge file; its `bench_wrong` says how often each cause shows in a run.
    explained
        The run, dial by dial.
    name
        Of the run, for sentences.
    of_runs
        What the run was explained with; None: what travels with the program.

    Returns
    -------
    tuple of Weighed
        One for each dial that has rows. A cause that does not show looks like a sound dial: a
        sender always, cold mostly.

    Raises
    ------
    KnowledgeError
        If the file has no such finding.
    """
    finding = known.findings.get(RUN)
    if finding is None or finding.scope != "dial":
        raise KnowledgeError(
            f"the knowledge file has no finding '{RUN}' of a dial, so a run cannot be weighed; add "
            "it, or leave the run out"
        )
    weights = (of_runs or shipped_knowledge()).weights
    found = []
    for dial, one in explained.items():
        seen = _likelihoods(one, weights)
        likelihood = {SOUND: seen[SOUND]}
        for cause in known.of_scope("dial"):
            shows = finding.shown_by.get(cause.code, 0.0)
            shown = seen.get(cause.code, seen[SOUND])
            likelihood[cause.code] = shows * shown + (1.0 - shows) * seen[SOUND]
        found.append(Weighed(dial, likelihood, name, RUN))
    return tuple(found)


def _likelihoods(explained: Explanation, weights: Mapping[Members, float]) -> dict[str, float]:
    """How likely the rows are under each code, its pairs with it as often as they are met.

    What a run of one approach makes less likely beforehand is no evidence, and is left out.
    """
    highest = max(one.log_support for _, one in explained.hypotheses)
    likely: dict[str, float] = defaultdict(float)
    often: dict[str, float] = defaultdict(float)
    for _, one in explained.hypotheses:
        weight = weights.get(tuple(code for code in CODES if code in one.members), 0.0)
        likely[one.main] += weight * exp(one.log_support - highest)
        often[one.main] += weight
    return {code: likely[code] / often[code] for code in likely if often[code] > 0}
