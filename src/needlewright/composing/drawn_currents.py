"""What a bench run says beside its commanded rows: its currents, and its rests as evidence."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from needlewright.bench.outcome import Outcome
from needlewright.composing.series_summary import outcome_of
from needlewright.families.model import Family
from needlewright.findings.evidence import Evidence
from needlewright.findings.key_cycle import KeyCycleFinding, key_cycle_evidence
from needlewright.findings.supply import (
    CurrentFinding,
    Drawn,
    current_evidence,
    fails_together,
    judge_current,
    together_evidence,
)


def rest_currents(outcome: Outcome) -> tuple[Drawn, ...]:
    """What a cluster drew at rest after each key-on, in that order."""
    return tuple(
        Drawn(one.amperes, f"after {one.key_ons} key-on{'' if one.key_ons == 1 else 's'}")
        for one in sorted(outcome.rest_current, key=lambda each: each.key_ons)
    )


def current_findings(family: Family, run_csv: Path) -> tuple[CurrentFinding, ...]:
    """Hold the currents of a run against the family's ranges.

    Parameters
    ----------
    family
        The cluster design; one that states no range gives nothing.
    run_csv
        The run's file, beside which its outcome lies.

    Returns
    -------
    tuple of CurrentFinding
        At rest and in the sweep, as far as read and stated.

    Raises
    ------
    RunError
        If the outcome is damaged.
    """
    supply = family.supply
    if supply is None or (supply.rest_a is None and supply.sweep_a is None):
        return ()
    return currents_of(family, outcome_of(run_csv))


def currents_of(family: Family, outcome: Outcome) -> tuple[CurrentFinding, ...]:
    """Hold the currents of a run against the family's ranges.

    Parameters
    ----------
    family
        The cluster design; one that states no range gives nothing.
    outcome
        What the run gave beside its rows.

    Returns
    -------
    tuple of CurrentFinding
        At rest and in the sweep, as far as read and stated.
    """
    supply = family.supply
    if supply is None:
        return ()
    sweep = outcome.sweep
    swept = () if sweep is None or sweep.mean_a is None else (Drawn(sweep.mean_a, "in the sweep"),)
    found = (
        judge_current("rest", rest_currents(outcome), supply.rest_a),
        judge_current("sweep", swept, supply.sweep_a),
    )
    return tuple(one for one in found if one is not None)


def drop_evidence(outcome: Outcome, name: str) -> tuple[Evidence, ...]:
    """What changes of the current from one key-on to the next say.

    Parameters
    ----------
    outcome
        What the run gave beside its rows.
    name
        Of the run.

    Returns
    -------
    tuple of Evidence
        One, or none where none is known to have dropped.
    """
    return together_evidence(fails_together([], 0.0, rest_currents(outcome)), 0, name)


def current_document(one: CurrentFinding) -> dict[str, Any]:
    """What a current says, as JSON."""
    return {
        "state": one.state,
        "side": one.side,
        "amperes": round(one.amperes, 5),
        "u_amperes": round(one.u_amperes, 5),
        "range_a": list(one.range_a),
        "current_off_ratio": float(f"{one.ratio:.6g}"),
        "words": one.words,
    }


def seen_beside(
    rests: Mapping[str, KeyCycleFinding], currents: Sequence[CurrentFinding], name: str
) -> tuple[Evidence, ...]:
    """What a run shows beside its commanded rows, as evidence.

    Parameters
    ----------
    rests
        Over the key-ons, by dial.
    currents
        At rest and in the sweep.
    name
        Of the run's file.

    Returns
    -------
    tuple of Evidence
        Of every dial's rests, and of the current.
    """
    of_rests = (piece for one in rests.values() for piece in key_cycle_evidence(one, name))
    return (*of_rests, *current_evidence(currents, name))
