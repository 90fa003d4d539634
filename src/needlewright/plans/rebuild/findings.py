"""What is believed to be wrong, as a plan takes it: a probability for every fault and place."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from math import isfinite
from typing import Final

from needlewright.errors import PlanError
from needlewright.families.model import Family
from needlewright.findings.troubleshooting.model import (
    SOUND,
    Cause,
    Knowledge,
    Scope,
    code_of,
    part_of,
)

LEAST: Final = Fraction(1, 200)
"""Probability from which a fault counts as something that may be wrong."""
WHOLE: Final = "whole"
"""What stands for the whole cluster where a dial could stand."""
DIGITS: Final = 9
"""Decimal places to which probabilities are taken."""

Place = str | None
"""A dial's id, or None: the whole."""


@dataclass(frozen=True, slots=True)
class Findings:
    """Probabilities of what is wrong now.

    Parameters
    ----------
    states
        By place and `code/part`, or `code` of what has no parts; faults inside the cluster. Those
        of one dial exclude one another.
    vehicle
        Faults outside the cluster, by place and code.
    decided
        By place and code, of what a person decided: by whom and when, in words.
    """

    states: Mapping[tuple[Place, str], Fraction]
    vehicle: Mapping[tuple[Place, str], Fraction]
    decided: Mapping[tuple[Place, str], str] = field(default_factory=dict)

    def of_place(self, place: Place) -> dict[str, Fraction]:
        """The states of one place."""
        return {state: p for (where, state), p in self.states.items() if where == place}


def exact(probability: float) -> Fraction:
    """A probability as an exact number, of nine decimal places."""
    return Fraction(str(round(probability, DIGITS)))


def findings_from(
    shares: Mapping[tuple[str, str], float], knowledge: Knowledge, family: Family
) -> Findings:
    """Take what is believed.

    Parameters
    ----------
    shares
        Probability by dial, or `whole`, and fault: `code` or `code/part`. A code without part lies
        in its parts as often as the knowledge file says. `sound` may stand there and says nothing.
    knowledge
        Of causes and their parts.
    family
        Of the dials.

    Returns
    -------
    Findings
        Faults of no probability are left out.

    Raises
    ------
    PlanError
        If a dial, fault or part is not known, a probability is none, those of a dial add up to
        more than one, or nothing is wrong.
    """
    states: dict[tuple[Place, str], Fraction] = {}
    vehicle: dict[tuple[Place, str], Fraction] = {}
    for (where, fault), given in shares.items():
        if fault == SOUND:
            continue
        place, cause = _place_and_cause(where, fault, knowledge, family)
        p = _probability(f"{where}:{fault}", given)
        if p == 0:
            continue
        if not cause.inside:
            vehicle[place, cause.code] = p
            continue
        for state, share in _split(fault, cause):
            if (place, state) in states:
                raise PlanError(
                    f"{where}: '{cause.code}' is given with a part and without; give it one way"
                )
            states[place, state] = p * share
    _refuse_sums(states, vehicle)
    if not any(p >= LEAST for p in (*states.values(), *vehicle.values())):
        raise PlanError(
            "there is nothing to plan for: no finding says that anything is wrong; look for the "
            "cause first (needlewright troubleshoot), or give a fault, such as "
            "--fault speed:lost_steps=0.9"
        )
    return Findings(states, vehicle)


def _place_and_cause(
    where: str, fault: str, knowledge: Knowledge, family: Family
) -> tuple[Place, Cause]:
    dials = [dial.id for dial in family.dials]
    if where != WHOLE and where not in dials:
        raise PlanError(
            f"family '{family.name}' has no dial '{where}'; use one of {', '.join(dials)}, or "
            f"{WHOLE}"
        )
    code, part = code_of(fault), part_of(fault)
    cause = knowledge.causes.get(code)
    scope: Scope = "whole" if where == WHOLE else "dial"
    if cause is None or cause.scope != scope:
        known = ", ".join(sorted(one.code for one in knowledge.of_scope(scope)))
        of = "the whole" if where == WHOLE else "a dial"
        raise PlanError(f"{where}: there is no fault '{code}' of {of}; known: {known}")
    if part is not None and part not in cause.parts:
        known = ", ".join(cause.parts) or "none"
        raise PlanError(f"{where}: '{code}' has no part '{part}'; its parts: {known}")
    return (None if where == WHOLE else where), cause


def _probability(name: str, given: float) -> Fraction:
    if not (isfinite(given) and 0 <= given <= 1):
        raise PlanError(f"{name}: expected a probability from 0 to 1, found {given:g}")
    return exact(given)


def _split(fault: str, cause: Cause) -> tuple[tuple[str, Fraction], ...]:
    if part_of(fault) is not None or not cause.parts:
        return ((fault, Fraction(1)),)
    return tuple((f"{cause.code}/{part}", exact(share)) for part, share in cause.parts.items())


def _refuse_sums(
    states: Mapping[tuple[Place, str], Fraction], vehicle: Mapping[tuple[Place, str], Fraction]
) -> None:
    """The causes of one dial exclude one another."""
    sums: dict[str, Fraction] = {}
    for (place, _), p in (*states.items(), *vehicle.items()):
        if place is not None:
            sums[place] = sums.get(place, Fraction(0)) + p
    for place, total in sums.items():
        if total > 1 + Fraction(1, 10_000):
            raise PlanError(
                f"{place}: the probabilities of its faults add up to {float(total):.4g}; they "
                "exclude one another, so at most to 1"
            )
