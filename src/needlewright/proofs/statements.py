"""The sentences of a proof that follow from its facts: method, decision rule, cautions.

The wording of a proof's statements stands here and nowhere else, so that another language can be
put beside it.
"""

from collections.abc import Sequence
from typing import Final

from needlewright.families.model import Family
from needlewright.proofs.job_facts import JobFacts
from needlewright.proofs.proof_model import ConditionRecord, DialRecord, Kind
from needlewright.readings.runs import Run

REFERENCE_C: Final = (18.0, 28.0)
"""Reference temperature of UN Regulation No. 39: 23 +/- 5 degC."""

TITLES: Final[dict[Kind, str]] = {
    "certificate": "Certificate of check after rebuild",
    "certificate_with_exceptions": "Certificate of check after rebuild, with exceptions",
    "not_conforming_report": "Report of check after rebuild: not conforming",
    "as_found_report": "Report of check as found",
}

CHANGED_MILEAGE: Final = (
    "A certificate is issued with the mileage as received, or with zero and its notice, and with "
    "no other mileage."
)

METHOD_PHOTO: Final = (
    "Each dial was told the value stated and its needle photographed. The photo was registered to "
    "the face's artwork, and the direction of the needle in the plane of the face was fitted with "
    "its sideways offset left free, so that the camera's place does not turn it. The value shown "
    "follows from the marks of the printed scale."
)
METHOD_EYE: Final = (
    "Each dial was told the value stated, and what its needle showed was read by eye and typed in."
)
METHOD_MIXED: Final = "Rows without a photo were read by eye and typed in."
METHOD_ERROR: Final = (
    "Error is the value shown minus the true value, which is what the dial was told. Up and down "
    "say whether that value was rising or falling."
)
METHOD_REST: Final = (
    "At rest and at zero the needle's own direction is judged: it must lie within half its tip "
    "width of where the family says it belongs (common practice, no source). Degrees are positive "
    "clockwise."
)

DECISION: Final = (
    "Decision rule: ILAC-G8:09/2019, 4.2.3, with guard band w = U, the expanded uncertainty "
    "(k = 2). Conforms: the value lies inside the limits by U or more. Conforms, in doubt: "
    "inside by less than U. Does not conform, in doubt: outside by U or less. Does not conform: "
    "outside by more.",
    "The probability of conformity beside a result is that of JCGM 106:2012, 7.4, for a normal "
    "distribution of the stated uncertainty.",
    "The statement of conformity applies to the results in the tables of this paper, each dial "
    "held against the rule named above its table.",
)

UNCERTAINTY: Final = (
    "Uncertainties behind ± are expanded uncertainties U = k u with k = 2, which for a normal "
    "distribution covers about 95 %, evaluated after JCGM 100:2008.",
)
STIMULUS_UNKNOWN: Final = (
    "The uncertainty of the stimulus, of what the dials were told, is not known for at least one "
    "row and is not contained in U there."
)
BY_EYE_NOTE: Final = (
    "Where no uncertainty of a value read by eye is stated, half a graduation with a rectangular "
    "distribution was taken."
)

NO_ACCREDITATION: Final = "No accreditation is claimed for this shop or this work."
ONLY_THE_ITEM: Final = "The results relate only to the item described, in the state it was checked."
IN_FULL: Final = "This paper is to be passed on in full only."
NO_SAMPLING: Final = "No sampling plan applies: one item was checked."
OWN_RESULTS: Final = "No result of an external provider is stated to be contained."

AIRBAG: Final = (
    "Refit: before work near a steering column with an airbag disconnect the battery and wait 10 "
    "minutes, unless the vehicle's own manual says otherwise."
)
AIRBAG_BY_MANUAL: Final = (
    "Refit: before work near a steering column with an airbag disconnect the battery and wait as "
    "this vehicle's own manual says: {wait}"
)
NO_OHMMETER: Final = "Never put an ohmmeter on an airbag circuit."
BENCH_SUPPLY: Final = "Bench supply: set a current limit and a fuse, check polarity before power."
HIGH_VOLTAGE: Final = "Display and backlight supplies can carry tens to hundreds of volts."
READS_LOW: Final = (
    "A speedometer that reads low is dangerous and in many places unlawful. Do not return this "
    "cluster to the road on the strength of this report."
)
RULE_LETS_READ_LOW: Final = (
    "The rule of dial '{dial}' lets it read low; rows that may do so say by how much."
)
IN_DOUBT: Final = (
    "Dial '{dial}' conforms in doubt: it is inside its limits by less than the uncertainty."
)
INVENTED: Final = "Invented demonstration: no such shop, customer or vehicle is meant."


def method_sentences(runs: Sequence[Run]) -> tuple[str, ...]:
    """How the values were obtained, as far as the runs tell."""
    with_photo = {row.photo is not None for run in runs for row in run.rows}
    if with_photo == {True}:
        how: tuple[str, ...] = (METHOD_PHOTO,)
    elif with_photo == {False}:
        how = (METHOD_EYE,)
    else:
        how = (METHOD_PHOTO, METHOD_MIXED)
    return (*how, METHOD_ERROR, METHOD_REST)


def uncertainty_sentences(runs: Sequence[Run]) -> tuple[str, ...]:
    """What stands behind the sign ±, and what it does not contain."""
    rows = [row for run in runs for row in run.rows]
    unknown = any(row.u_commanded is None for row in rows if row.commanded is not None)
    by_eye = any("u_by_graduation" in row.flags for row in rows)
    return (
        *UNCERTAINTY,
        *((STIMULUS_UNKNOWN,) if unknown else ()),
        *((BY_EYE_NOTE,) if by_eye else ()),
    )


def traceability_sentences(job: JobFacts) -> tuple[str, ...]:
    """What the results can be traced to, as far as the job states it."""
    if not job.instruments:
        return ("Metrological traceability: none stated; no instrument is named for this job.",)
    traced = [i for i in job.instruments if i.traceable_to is not None]
    overdue = [i for i in job.instruments if i.due is not None and i.due < job.work]
    sentences = [
        f"{i.name}, number {i.number}: traceable to {i.traceable_to}." for i in traced
    ] or ["Metrological traceability: the instruments are named, their traceability is not stated."]
    sentences += [
        f"{i.name}, number {i.number}, was due on {i.due}, before the day of the work."
        for i in overdue
    ]
    return tuple(sentences)


def condition_sentences(job: JobFacts) -> tuple[str, ...]:
    """Conditions in the job's own words."""
    said = (("Temperature", job.temperature), ("Supply", job.supply))
    return tuple(f"{what}: {words}" for what, words in said if words is not None)


def deviation_sentences(
    job: JobFacts, conditions: Sequence[ConditionRecord], dials: Sequence[DialRecord]
) -> tuple[str, ...]:
    """Deviations from the method: those stated, and those the runs show."""
    sentences = [] if job.deviations is None else [job.deviations]
    r39 = [d for d in dials if d.rule is not None and d.rule.code == "un-r39"]
    for condition in conditions if r39 else ():
        low, high = condition.temperature_low_c, condition.temperature_high_c
        if low is None or high is None:
            sentences.append(
                f"Run '{condition.run}': the temperature was not recorded; UN Regulation No. 39 "
                "refers to 23 ± 5 °C."
            )
        elif low < REFERENCE_C[0] or high > REFERENCE_C[1]:
            sentences.append(
                f"Run '{condition.run}' was taken at {low:g} to {high:g} °C; UN Regulation No. 39 "
                "refers to 23 ± 5 °C."
            )
    return tuple(sentences)


def fixed_statements(job: JobFacts) -> tuple[str, ...]:
    """What every proof states."""
    external = job.external_results
    return (
        NO_ACCREDITATION,
        ONLY_THE_ITEM,
        IN_FULL,
        NO_SAMPLING,
        OWN_RESULTS if external is None else f"Results of an external provider: {external}",
    )


def caution_sentences(
    job: JobFacts,
    family: Family,
    kind: Kind,
    dials: Sequence[DialRecord],
    odometer: str | None,
) -> tuple[str, ...]:
    """The cautions that apply to this item, this outcome and what comes next."""
    sentences = [] if odometer is None else [odometer]
    for dial in dials:
        side = dial.left or dial.found
        passes = side is not None and side.code in ("pass", "conditional_pass")
        if kind == "not_conforming_report" and dial.is_speedometer and not passes:
            sentences.append(READS_LOW)
        if dial.is_speedometer and dial.rule is not None and dial.rule.allows_reading_low:
            sentences.append(RULE_LETS_READ_LOW.format(dial=dial.dial))
        if side is not None and side.code == "conditional_pass":
            sentences.append(IN_DOUBT.format(dial=dial.dial))
    if kind == "as_found_report":
        sentences.append(BENCH_SUPPLY)
        raw = family.raw or {}
        if raw.get("displays") or raw.get("backlight"):
            sentences.append(HIGH_VOLTAGE)
        return tuple(sentences)
    wait = job.battery_wait
    return (*sentences, AIRBAG if wait is None else AIRBAG_BY_MANUAL.format(wait=wait), NO_OHMMETER)
