"""One dial of a proof: rows before and after, the rule over the scale, the budget."""

from collections.abc import Iterator, Sequence
from typing import Final

from needlewright.families.model import Dial, Family
from needlewright.proofs.before_after import before_after
from needlewright.proofs.budget import budget_of
from needlewright.proofs.proof_model import (
    Budget,
    DialRecord,
    LimitRecord,
    RowRecord,
    RuleRecord,
    SideRecord,
)
from needlewright.proofs.verdict_model import DialVerdict, RowVerdict, RunVerdict, worst_row
from needlewright.readings.evidence import Evidence
from needlewright.rules.decision import COVERAGE_K, people_words
from needlewright.rules.model import Rule

SAMPLES: Final = 48
"""Places along a scale at which a rule is asked for its limits."""


def dial_records(
    family: Family, found: RunVerdict, left: RunVerdict | None, evidence: Evidence
) -> tuple[DialRecord, ...]:
    """Gather what a proof says of every dial.

    Parameters
    ----------
    family
        The cluster design.
    found
        Verdicts on the run as found.
    left
        Verdicts on the run as left; None: there is none.
    evidence
        Of the run the proof is about: as left where there is one.

    Returns
    -------
    tuple of DialRecord
        In the family's order.
    """
    records = []
    for dial in family.dials:
        before, after = found.dial(dial.id), None if left is None else left.dial(dial.id)
        budget, about = None, after or before
        if about is not None:
            budget = budget_of(dial, about, family.eccentricity_mm, evidence)
        records.append(dial_record(dial, before, after, budget))
    return tuple(records)


def dial_record(
    dial: Dial, found: DialVerdict | None, left: DialVerdict | None, budget: Budget | None
) -> DialRecord:
    """Gather what a proof says of one dial.

    Parameters
    ----------
    dial
        The dial.
    found
        Verdict on it as found; None where that run has no row of it.
    left
        Verdict on it as left; None where there is no such run, or no row of it.
    budget
        Of the run the proof is about.

    Returns
    -------
    DialRecord
        Plain values.
    """
    verdict = left or found
    rule = verdict.rule if verdict is not None else None
    told = [r.true_value for v in (found, left) if v for r in v.rows if r.true_value is not None]
    return DialRecord(
        dial=dial.id,
        quantity=dial.quantity,
        unit=dial.unit,
        is_speedometer=dial.is_speedometer,
        rule=None if rule is None else rule_record(rule),
        marks=tuple(zip(dial.scale.values, dial.scale.angles_deg, strict=True)),
        allowed=() if rule is None else tuple(_stretches(rule, _sampled(dial, rule, told))),
        programme=_programme(dial),
        found=None if found is None else _side_record(found),
        left=None if left is None else _side_record(left),
        pairs=_pairs(found, left),
        budget=budget,
    )


def rule_record(rule: Rule) -> RuleRecord:
    """A rule as plain values."""
    return RuleRecord(
        code=rule.code,
        title=rule.title,
        formula=rule.formula,
        applies=rule.applies,
        source=rule.source,
        allows_reading_low=rule.allows_reading_low,
        check_points=rule.check_points(),
    )


def _side_record(verdict: DialVerdict) -> SideRecord:
    worst = worst_row(verdict.rows)
    return SideRecord(
        code=verdict.code,
        words=people_words(verdict.code),
        summary=verdict.summary,
        complete=verdict.complete,
        missing=verdict.missing,
        rows=tuple(_row_record(row) for row in verdict.rows),
        worst=next((i for i, row in enumerate(verdict.rows) if row is worst), None),
    )


def _row_record(verdict: RowVerdict) -> RowRecord:
    row, limits = verdict.row, verdict.limits
    deviation, expanded = _deviation(verdict)
    return RowRecord(
        commanded=verdict.true_value,
        approach=row.approach,
        shown=verdict.shown,
        basis=verdict.basis,
        lower=None if limits is None else limits.lower,
        upper=None if limits is None else limits.upper,
        limits_unit=verdict.limits_unit,
        deviation=deviation,
        deviation_unit="deg" if verdict.basis == "rest" else row.unit,
        expanded=expanded,
        margin=verdict.margin,
        guard_band=verdict.expanded,
        probability=verdict.probability,
        code=verdict.code,
        words=verdict.words,
        notes=verdict.notes,
        angle_deg=row.angle_deg,
        u_angle_deg=row.u_angle_deg,
        u_commanded=row.u_commanded,
        temperature_c=row.temperature_c,
        flags=row.flags,
        photo=row.photo,
    )


def _deviation(verdict: RowVerdict) -> tuple[float | None, float | None]:
    """How far off, with its expanded uncertainty; by angle under the rest limit."""
    limits = verdict.limits
    if verdict.basis != "rest":
        return verdict.error, None if verdict.u_error is None else COVERAGE_K * verdict.u_error
    if verdict.judged is None or limits is None or limits.lower is None or limits.upper is None:
        return None, None
    return verdict.judged - (limits.lower + limits.upper) / 2, verdict.expanded


def _pairs(
    found: DialVerdict | None, left: DialVerdict | None
) -> tuple[tuple[int | None, int | None], ...]:
    rows = (found.rows if found else ()), (left.rows if left else ())
    if found is None or left is None:
        return tuple(
            (i if found else None, i if left else None) for i in range(sum(map(len, rows)))
        )
    paired = before_after(_alone(found), _alone(left))
    return tuple((_index(rows[0], p.found), _index(rows[1], p.left)) for p in paired)


def _alone(verdict: DialVerdict) -> RunVerdict:
    return RunVerdict("", "", (verdict,), verdict.code)


def _index(rows: Sequence[RowVerdict], wanted: RowVerdict | None) -> int | None:
    return next((i for i, row in enumerate(rows) if row is wanted), None)


def _sampled(dial: Dial, rule: Rule, told: Sequence[float]) -> list[float]:
    """Values along the scale: evenly, and wherever something was told or must be."""
    first, last = dial.scale.values[0], dial.scale.values[-1]
    last = max([last, *told])
    step = (last - first) / SAMPLES
    evenly = [first + i * step for i in range(SAMPLES)]
    inside = [v for v in (*told, *rule.check_points()) if first <= v <= last]
    just_above = first + step / 1000  # a speed rule says nothing at standstill
    return sorted({*evenly, *inside, just_above, last})


def _stretches(rule: Rule, values: Sequence[float]) -> Iterator[tuple[LimitRecord, ...]]:
    """Neighbouring values at which the rule speaks."""
    stretch: list[LimitRecord] = []
    for value in values:
        limits = rule.limits(value)
        if limits is not None:
            lower = None if limits.lower is None else limits.lower - value
            upper = None if limits.upper is None else limits.upper - value
            stretch.append(LimitRecord(value, lower, upper))
        elif stretch:
            yield tuple(stretch)
            stretch = []
    if stretch:
        yield tuple(stretch)


def _programme(dial: Dial) -> tuple[tuple[float, float], ...]:
    first, last = dial.scale.values[0], dial.scale.values[-1]
    knots = {first, *(v for v in dial.programme.true_values if first < v < last), last}
    if not dial.programme.true_values:
        return ()
    return tuple((v, dial.programme.shown_at(v) - v) for v in sorted(knots))
