"""The content of a proof, gathered from a job, its runs and their verdicts."""

from collections.abc import Sequence
from dataclasses import dataclass

from needlewright.errors import JobError
from needlewright.families.model import Family
from needlewright.proofs import statements
from needlewright.proofs.job_facts import JobFacts, paper_name
from needlewright.proofs.odometer import OdometerJudgement
from needlewright.proofs.proof_model import (
    ConditionRecord,
    DialRecord,
    InstrumentRecord,
    ItemRecord,
    Kind,
    NeedleRecord,
    OdometerRecord,
    Proof,
)
from needlewright.readings.runs import Run
from needlewright.rules.decision import COVERAGE_K


@dataclass(frozen=True, slots=True)
class Outcome:
    """What kind of paper it becomes, and why."""

    kind: Kind
    odometer: OdometerJudgement
    why_not: tuple[str, ...] = ()
    exceptions: tuple[str, ...] = ()
    needle_set: tuple[NeedleRecord, ...] = ()


def proof_of(
    family: Family,
    job: JobFacts,
    dials: tuple[DialRecord, ...],
    runs: Sequence[Run],
    outcome: Outcome,
) -> Proof:
    """Gather everything a paper says.

    Parameters
    ----------
    family
        The cluster design.
    job
        What no photo knows.
    dials
        In the family's order.
    runs
        The runs the paper is about.
    outcome
        What kind of paper it is.

    Returns
    -------
    Proof
        Plain values.

    Raises
    ------
    JobError
        If the job names a variant the family does not have.
    """
    conditions = tuple(_conditions(run) for run in runs)
    odometer = outcome.odometer
    noticed = odometer.sentence if odometer.outcome == "zero_with_notice" else None
    as_found = outcome.kind == "as_found_report"
    number = f"{job.paper_number}-as-found" if as_found else job.paper_number
    mileage = job.odometer
    return Proof(
        kind=outcome.kind,
        title=statements.TITLES[outcome.kind],
        number=number,
        version=job.version,
        name=paper_name(number, job.version),
        replaces=job.replaces and job.replaces.replace(job.paper_number, number, 1),
        replaces_because=job.replaces_because,
        invented=job.invented,
        issued_as_certificate=outcome.kind in ("certificate", "certificate_with_exceptions"),
        why_not=outcome.why_not,
        exceptions=outcome.exceptions,
        shop=job.shop,
        place=job.place,
        customer=job.customer,
        customer_contact=job.customer_contact,
        authorised_by=job.authorised_by,
        item=_item(family, job),
        received=job.received,
        found_on=job.found_on,
        work=None if as_found else job.work,
        issued=(job.found_on or job.issued) if as_found else job.issued,
        odometer=OdometerRecord(
            mileage.unit,
            mileage.as_received,
            None if as_found else mileage.as_returned,
            odometer.outcome,
            odometer.lawful,
            odometer.sentence,
        ),
        work_done=() if as_found else job.work_done,
        needle_set=outcome.needle_set,
        dials=dials,
        coverage_k=COVERAGE_K,
        conditions=conditions,
        conditions_stated=statements.condition_sentences(job),
        method=statements.method_sentences(runs),
        decision_rule=statements.DECISION,
        uncertainty=statements.uncertainty_sentences(runs),
        traceability=statements.traceability_sentences(job),
        instruments=tuple(
            InstrumentRecord(i.name, i.number, i.due, i.traceable_to) for i in job.instruments
        ),
        deviations=statements.deviation_sentences(job, conditions, dials),
        statements=statements.fixed_statements(job),
        cautions=statements.caution_sentences(job, family, outcome.kind, dials, noticed),
        remarks=job.remarks,
    )


def _item(family: Family, job: JobFacts) -> ItemRecord:
    known = {variant.id: variant for variant in family.variants}
    if job.variant is not None and known and job.variant not in known:
        raise JobError(
            f"variant: family '{family.name}' has no variant '{job.variant}'; it has "
            f"{', '.join(known)}; state the one on the bench, or leave it out"
        )
    variant = known.get(job.variant) if job.variant is not None else None
    return ItemRecord(
        family=family.name,
        variant=job.variant,
        variant_told_apart_by=(variant.told_apart_by or None) if variant else None,
        serial=job.serial,
        tag=job.tag,
        vehicle=job.vehicle,
        condition=job.condition,
        family_version=job.family_version,
    )


def _conditions(run: Run) -> ConditionRecord:
    celsius = [row.temperature_c for row in run.rows if row.temperature_c is not None]
    volts = [row.supply_v for row in run.rows if row.supply_v is not None]
    return ConditionRecord(
        run=run.name,
        temperature_low_c=min(celsius, default=None),
        temperature_high_c=max(celsius, default=None),
        supply_low_v=min(volts, default=None),
        supply_high_v=max(volts, default=None),
        rows=len(run.rows),
        photos=len({row.photo for row in run.rows} - {None}),
    )
