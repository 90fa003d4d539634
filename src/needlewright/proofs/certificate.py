"""What a certificate must contain, and whether it may be issued.

A certificate is issued only if every speedometer conforms, in doubt or not, at every row and is
complete, and the odometer shows the mileage it came in with, or zero by the law's procedure.
Where its rule is silent it may not read lower than
the rule allows where it speaks: "not judged" is no licence to read low. Other dials that do not
conform become exceptions, which stand in the title and first on the paper. Anything else is a
report, never a certificate.
"""

from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from needlewright.errors import JobError, PaperError
from needlewright.families.model import Family
from needlewright.proofs.dial_record import dial_records
from needlewright.proofs.job_facts import JobFacts
from needlewright.proofs.job_file import missing_mileage
from needlewright.proofs.needle_records import needle_records
from needlewright.proofs.odometer import OdometerJudgement, judge_odometer, note_odometer
from needlewright.proofs.proof_content import Outcome, proof_of
from needlewright.proofs.proof_model import Comparison, Kind, Proof
from needlewright.proofs.rehearsed import owning_up
from needlewright.proofs.statements import CHANGED_MILEAGE
from needlewright.proofs.verdict_model import DialVerdict, RunVerdict
from needlewright.proofs.verdict_words import where_in_run
from needlewright.proofs.verdicts import judge_run
from needlewright.readings.evidence import NO_EVIDENCE, Evidence
from needlewright.readings.runs import Run, RunRow
from needlewright.rules.decision import COVERAGE_K
from needlewright.rules.model import Rule


@dataclass(frozen=True, slots=True)
class MeasuredRun:
    """A run with what stands behind it."""

    run: Run
    """Completed with its family."""
    evidence: Evidence = NO_EVIDENCE
    folder: Path | None = None
    """Where its rows' photos lie; None: not known."""


def certify(family: Family, job: JobFacts, found: MeasuredRun, left: MeasuredRun) -> Proof:
    """Say what is proved of a rebuilt cluster.

    Parameters
    ----------
    family
        The cluster design.
    job
        What no photo knows.
    found
        The run as found.
    left
        The run as left.

    Returns
    -------
    Proof
        A certificate, a certificate with exceptions, or a report that says why it is none.

    Raises
    ------
    PaperError
        If the two runs are one and the same, or one was rehearsed and the job is not invented.
    JobError
        If the job names a variant the family does not have, or no mileage as returned.
    RunError, RuleError
        As `judge_run`.

    Notes
    -----
    **Source** ISO/IEC 17025:2017, 7.8.2.1, 7.8.4.1 and 7.8.6: the content.
    """
    _require_two_runs(found, left)
    job = owning_up(job, (found.run, left.run))
    if job.odometer.none_fitted is None and job.odometer.as_returned is None:
        raise JobError(f"job {job.tag}: {missing_mileage('as_returned')}")
    before = judge_run(family, found.run, max_speed=job.max_speed)
    after = judge_run(family, left.run, max_speed=job.max_speed)
    odometer = judge_odometer(job.odometer.facts, job.received, job.issued)
    why_not = tuple(_why_not(after, odometer))
    exceptions = tuple(_exceptions(after))
    kind: Kind = "certificate"
    if why_not:
        kind = "not_conforming_report"
    elif exceptions:
        kind = "certificate_with_exceptions"
    dials = dial_records(family, before, after, left.evidence)
    outcome = Outcome(kind, odometer, why_not, exceptions)
    return proof_of(family, job, dials, (found.run, left.run), outcome)


def report_as_found(family: Family, job: JobFacts, found: MeasuredRun) -> Proof:
    """Say how a cluster came in.

    Parameters
    ----------
    family
        The cluster design.
    job
        What no photo knows.
    found
        The run as found.

    Returns
    -------
    Proof
        A report, whatever the verdicts are.

    Raises
    ------
    PaperError
        If the run was rehearsed and the job is not invented.
    JobError
        If the job names a variant the family does not have.
    RunError, RuleError
        As `judge_run`.
    """
    job = owning_up(job, (found.run,))
    before = judge_run(family, found.run, max_speed=job.max_speed)
    odometer = note_odometer(job.odometer.facts)
    dials = dial_records(family, before, None, found.evidence)
    needles = needle_records(family, found.run, max_speed=job.max_speed)
    outcome = Outcome("as_found_report", odometer, needle_set=needles)
    return proof_of(family, job, dials, (found.run,), outcome)


def compare(family: Family, found: MeasuredRun, left: MeasuredRun) -> Comparison:
    """Set two runs side by side, without a job and without a paper's claims.

    Parameters
    ----------
    family
        The cluster design.
    found
        The run as found.
    left
        The run as left.

    Returns
    -------
    Comparison
        Every dial before and after.

    Raises
    ------
    PaperError
        If the two runs are one and the same.
    RunError, RuleError
        As `judge_run`.
    """
    _require_two_runs(found, left)
    before, after = judge_run(family, found.run), judge_run(family, left.run)
    return Comparison(
        family=family.name,
        found_run=found.run.name,
        left_run=left.run.name,
        dials=dial_records(family, before, after, left.evidence),
        coverage_k=COVERAGE_K,
        rehearsed_runs=tuple(r.run.name for r in (found, left) if r.run.is_rehearsed),
    )


def _require_two_runs(before: MeasuredRun, after: MeasuredRun) -> None:
    """Refuse one run taken for two, by its angles, its photos' names or their content."""
    found, left = before.run, after.run
    if [_seen(row) for row in found.rows] == [_seen(row) for row in left.rows]:
        raise PaperError(
            f"the runs '{found.name}' and '{left.name}' hold the same angles in every row; give "
            "the run as it came in for --found and the run after the rebuild for --left"
        )
    named = {row.photo for row in found.rows} & {row.photo for row in left.rows} - {None}
    by_content = {p.sha256: p.photo for p in before.evidence.photos if p.sha256 is not None}
    twice = [p.photo for p in after.evidence.photos if p.sha256 in by_content]
    if twice or (found.name == left.name and named):
        photo = twice[0] if twice else min(map(str, named))
        raise PaperError(
            f"the runs '{found.name}' and '{left.name}' share the photo '{photo}'; take new photos "
            "of the cluster as left, or give the run they belong to"
        )
    when_found, when_left = _times(found), _times(left)
    if when_found and when_left and max(when_left) < min(when_found):
        raise PaperError(
            f"the run '{left.name}' ended on {max(when_left)}, before '{found.name}' began on "
            f"{min(when_found)}; swap --found and --left, or take the run as left again"
        )


def _seen(row: RunRow) -> tuple[object, ...]:
    return row.dial, row.commanded, row.approach, row.angle_deg, row.time


def _times(run: Run) -> list[datetime]:
    """When its rows were taken, as far as they say so in a form that can be compared."""
    times = []
    for row in run.rows:
        with suppress(ValueError):
            times.append(datetime.fromisoformat(row.time or "").replace(tzinfo=None))
    return times


def _why_not(after: RunVerdict, odometer: OdometerJudgement) -> Iterable[str]:
    for dial in after.dials:
        if dial.is_speedometer and not dial.conforms:
            yield f"Speedometer {dial.summary}."
        elif dial.is_speedometer:
            yield from _low_where_silent(dial)
    if not any(dial.is_speedometer for dial in after.dials) and not any(
        dial.conforms for dial in after.dials
    ):
        yield "No dial of this cluster passes."
    if not odometer.certifiable:
        yield odometer.sentence
    if odometer.lawful and not odometer.certifiable:
        yield CHANGED_MILEAGE


def _low_where_silent(dial: DialVerdict) -> Iterable[str]:
    """Say of a conforming speedometer where it reads low and its rule has nothing to say."""
    allowed = _most_low(dial.rule)
    for row in dial.rows:
        if row.code != "not_judged" or row.shown is None or row.true_value is None:
            continue
        low_by = row.true_value - row.shown
        if allowed is not None and low_by > allowed:
            yield (
                f"Speedometer {dial.dial}: at {where_in_run(row)}, where its rule says nothing, it "
                f"reads low by {low_by:.3g} {dial.unit}, more than the {allowed:.3g} {dial.unit} "
                "that the rule allows where it speaks."
            )
            return


def _most_low(rule: Rule | None) -> float | None:
    """How far below true a rule lets a speedometer read at its check points; None: not said."""
    if rule is None:
        return None
    limits = [(point, rule.limits(point)) for point in rule.check_points()]
    lows = [point - at.lower for point, at in limits if at is not None and at.lower is not None]
    return max(lows, default=None)


def _exceptions(after: RunVerdict) -> Iterable[str]:
    for dial in after.dials:
        if not dial.is_speedometer and not dial.conforms:
            yield f"{dial.summary}."
