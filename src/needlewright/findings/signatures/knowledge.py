"""What is known before a run is looked at, from the knowledge file."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from needlewright.errors import KnowledgeError
from needlewright.findings.knowledge_file import parse_tables, read_tables
from needlewright.findings.knowledge_tables import KnowledgeTables
from needlewright.findings.signatures.run_tables import (
    CODES,
    UNITS,
    FaultCode,
    Members,
    Sizes,
    Sound,
    Wild,
    pair_of,
)

__all__ = ["CODES", "UNITS", "FaultCode", "Knowledge", "Members", "Sizes", "Sound", "Wild"]
SINGLE: Final = 100.0
"""Weight of all dials with a single fault."""


@dataclass(frozen=True, slots=True)
class Knowledge:
    """Checked, with the weights of every hypothesis."""

    weights: Mapping[Members, float]
    without_gears: Mapping[str, float]
    one_approach: Mapping[str, float]
    sound: Sound
    sizes: Sizes
    wild: Wild

    def prior(self, members: Members, *, gears: bool, both_ways: bool) -> float:
        """Weight of a hypothesis for a kind of movement and of run; 0 where it is not met."""
        weight = self.weights.get(tuple(code for code in CODES if code in members), 0.0)
        for code in members:
            weight *= 1.0 if gears else self.without_gears.get(code, 1.0)
            weight *= 1.0 if both_ways else self.one_approach.get(code, 1.0)
        return weight


def run_knowledge(tables: KnowledgeTables, name: str) -> Knowledge:
    """What a knowledge file says of runs.

    Parameters
    ----------
    tables
        The checked file.
    name
        What it is called in a sentence.

    Returns
    -------
    Knowledge
        Of every fault and pair a run can show. Single faults are met in the proportion of the
        causes' priors, and weigh 100 together; pairs and sound dials are stated against that.

    Raises
    ------
    KnowledgeError
        If the file says nothing of runs.
    """
    if tables.run is None:
        raise KnowledgeError(
            f"{name}: has no [run], so a run cannot be weighed; add it, or leave the run out"
        )
    run = tables.run
    single = {code: tables.cause[code].prior for code in CODES[1:]}
    total = sum(single.values())
    weights: dict[Members, float] = {("sound",): run.dials.sound}
    weights |= {(code,): SINGLE * prior / total for code, prior in single.items()}
    weights |= {pair_of(pair): weight for pair, weight in run.pairs.met.items()}
    movement = run.movement
    return Knowledge(
        weights, movement.without_gears, movement.one_approach, run.sound, run.sizes, run.wild
    )


def parse_knowledge(text: str, name: str = "knowledge.toml") -> Knowledge:
    """Read and check the text of a knowledge file.

    Parameters
    ----------
    text
        TOML.
    name
        What the file is called in a sentence.

    Returns
    -------
    Knowledge
        What it says of runs.

    Raises
    ------
    KnowledgeError
        One sentence on what is wrong in it.
    """
    return run_knowledge(parse_tables(name, text.encode("utf-8")), name)


@lru_cache(maxsize=1)
def shipped_knowledge() -> Knowledge:
    """What travels with the program."""
    return run_knowledge(read_tables(), "knowledge.toml")
