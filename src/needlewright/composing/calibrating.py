"""What photos and a sound unit's run say about a family, and the family with it put in."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from needlewright.errors import RunError
from needlewright.families.differences import differences, differences_in_words
from needlewright.families.folder import load_family, write_family
from needlewright.families.model import Dial, Family, Needle
from needlewright.findings.signatures.explain import explain_dial
from needlewright.plans.programme_fit import ProgrammeFit, fit_programme
from needlewright.proofs.rehearsed import NOT_SEEN
from needlewright.proofs.verdicts import judge_dial
from needlewright.readings.complete import complete_run
from needlewright.readings.runs import Run, RunRow
from needlewright.readings.standing.measure import NeedleStands

SURELY: Final = 0.8
"""A fault of at least this probability bars a run."""
TOLD_FAULTS: Final = 3
"""Rows named that do not conform; more are counted."""


@dataclass(frozen=True, slots=True)
class Written:
    """What was put into a family."""

    family: Family
    changes: tuple[str, ...]
    """A sentence each."""


def programme_fits(family: Family, run: Run, dials: Sequence[str] = ()) -> tuple[ProgrammeFit, ...]:
    """Fit the programmes of dials to a run of a unit that is known to be sound.

    Parameters
    ----------
    family
        The cluster design.
    run
        Of the unit; completed here.
    dials
        Which; none: every dial the run has rows of.

    Returns
    -------
    tuple of ProgrammeFit
        In the family's order; one whose run does not conform to the dial's rule shows a fault.

    Raises
    ------
    RunError
        If the run does not fit the family, or has no row of a dial.
    """
    whole = complete_run(run, family)
    found = []
    for dial in family.dials:
        rows = whole.of_dial(dial.id)
        if dials and dial.id not in dials:
            continue
        if not rows:
            if dials:
                raise RunError(
                    f"run '{run.name}': there is no row of dial '{dial.id}'; leave it out, or take "
                    "a run that has some"
                )
            continue
        fit = fit_programme(dial, rows, family.eccentricity_mm)
        against = (*_failing(dial, rows), *_looks_like(dial, rows, fit))
        if against:
            fit = replace(fit, faults=(*fit.faults, *against), points=())
        found.append(fit)
    return tuple(found)


def refuse_rehearsed(family: Family, run: Run, *, is_wanted: bool) -> None:
    """Let a run no real cluster was seen in say nothing of one.

    A rehearsed cluster turns its needles by the family: what it shows is put in again, with
    whatever fault was rehearsed.

    Parameters
    ----------
    family
        That the run is to be put into.
    run
        The run.
    is_wanted
        Whether somebody said that a rehearsed run is meant.

    Raises
    ------
    RunError
        If it was rehearsed, and the family is not invented or nobody said that it is meant; if it
        was not, and somebody said so.
    """
    if is_wanted and not run.is_rehearsed:
        raise RunError(
            f"run '{run.name}' was taken on a cluster, and is said to be a rehearsed one "
            "(--rehearsed); leave that out, or give the run that is meant"
        )
    if run.is_rehearsed and family.is_invented and not is_wanted:
        raise RunError(
            f"run '{run.name}' was rehearsed: {NOT_SEEN}; add --rehearsed if it is to be put into "
            f"the invented family '{family.name}' all the same"
        )
    if run.is_rehearsed and not family.is_invented:
        raise RunError(
            f"run '{run.name}' was rehearsed: {NOT_SEEN}, so no programme is taken from it; take "
            'the run on a sound unit, or state "invented": true in family.json where the family '
            "is invented too"
        )


def calibrated(
    family: Family, needles: Sequence[NeedleStands], programmes: Sequence[ProgrammeFit]
) -> Family:
    """The family with what was measured put in.

    Parameters
    ----------
    family
        The cluster design.
    needles
        As photos say; what they do not tell stays.
    programmes
        Those that are to be put in; one whose run shows a fault is never.

    Returns
    -------
    Family
        Not written yet.
    """
    stands = {one.dial: one for one in needles}
    told = {one.dial: one for one in programmes if one.points and not one.faults}
    dials = []
    for dial in family.dials:
        changed = dial
        if dial.id in stands:
            changed = replace(changed, needle=_needle(dial.needle, stands[dial.id]))
        if dial.id in told:
            changed = replace(changed, programme=told[dial.id].programme)
        dials.append(changed)
    return replace(family, dials=tuple(dials))


def write_calibrated(before: Family, after: Family) -> Written:
    """Write a family with what was measured, and say what that changed.

    Parameters
    ----------
    before
        As loaded.
    after
        As `calibrated` gives it.

    Returns
    -------
    Written
        Nothing is written where nothing changes.

    Raises
    ------
    FamilyError
        If it cannot be written; the file is then as it was.
    """
    old = load_family(before.folder)
    write_family(after, before.folder)
    new = load_family(before.folder)
    return Written(new, differences_in_words(differences(old, new)))


def _needle(needle: Needle, stands: NeedleStands) -> Needle:
    height, thickness = stands.height_mm.value, stands.thickness_mm.value
    changed = needle
    if height is not None:
        changed = replace(changed, height_mm=round(height, 2))
    if thickness is not None:
        changed = replace(changed, thickness_mm=round(thickness, 2))
    if changed.thickness_mm > changed.height_mm:  # what stays may not fit what was measured
        changed = replace(changed, thickness_mm=changed.height_mm)
    return changed


def _looks_like(dial: Dial, rows: Sequence[RunRow], fit: ProgrammeFit) -> tuple[str, ...]:
    """The fault the rows show all the same, with the programme taken as it was fitted."""
    if not fit.points:
        return ()
    explained = explain_dial(replace(dial, programme=fit.programme), rows)
    first = None if explained is None else explained.faults[0]
    if first is None or first.fault == "sound" or first.probability < SURELY:
        return ()
    return (
        f"the rows look like {first.fault.replace('_', ' ')} (probability {first.probability:.2f})",
    )


def _failing(dial: Dial, rows: Sequence[RunRow]) -> tuple[str, ...]:
    """Rows that do not conform to the dial's rule or rest limit: no sound unit has any."""
    verdict = judge_dial(dial, rows)
    failing = [
        row
        for row in verdict.rows  # what it shows when told zero is the programme's to say
        if row.code == "fail" and (row.basis != "rest" or row.true_value is None)
    ]
    named = []
    for one in failing[:TOLD_FAULTS]:
        at = "at rest" if one.true_value is None else f"at {one.true_value:g} {dial.unit}"
        by = "its rest limit" if one.basis == "rest" else "its rule"
        named.append(f"{at} ({one.row.approach}) it does not conform to {by}")
    if len(failing) > TOLD_FAULTS:
        named.append(f"nor at {len(failing) - TOLD_FAULTS} further rows")
    return tuple(named)
