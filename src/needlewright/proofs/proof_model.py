"""What a proof says: the plain content of a certificate or a report, and of the JSON beside it.

Values, errors and limits are in the dial's unit unless a field names another; angles are in
degrees, positive clockwise; every expanded uncertainty is k = `coverage_k`. None: not known, or
not applicable where the field says so.
"""

from dataclasses import dataclass
from datetime import date
from typing import Literal

from needlewright.readings.runs import Approach

Kind = Literal[
    "certificate",
    "certificate_with_exceptions",
    "not_conforming_report",
    "as_found_report",
]


@dataclass(frozen=True, slots=True)
class RowRecord:
    """One row of a run, as it was judged."""

    commanded: float | None
    approach: Approach
    shown: float | None
    basis: str
    """What it was held against: `rule`, `rest` (where the needle lies) or `none`."""
    lower: float | None
    upper: float | None
    limits_unit: str
    """Of `lower`, `upper` and `margin`: the dial's unit, or `deg` under the rest limit."""
    deviation: float | None
    """Shown minus true; under the rest limit the needle's angle from where it belongs, deg."""
    deviation_unit: str
    expanded: float | None
    """Of `deviation`."""
    margin: float | None
    guard_band: float | None
    probability: float | None
    """Of conformity."""
    code: str
    words: str
    notes: tuple[str, ...]
    angle_deg: float | None
    u_angle_deg: float | None
    """Standard uncertainty, k = 1."""
    u_commanded: float | None
    """Standard uncertainty of the stimulus, k = 1."""
    temperature_c: float | None
    flags: tuple[str, ...]
    photo: str | None


@dataclass(frozen=True, slots=True)
class SideRecord:
    """One dial in one run."""

    code: str
    words: str
    summary: str
    complete: bool
    missing: tuple[float, ...]
    """Check points of the rule with no row that was read."""
    rows: tuple[RowRecord, ...]
    worst: int | None
    """Index of the row that decides."""


@dataclass(frozen=True, slots=True)
class RuleRecord:
    """The rule a dial answers to."""

    code: str
    title: str
    formula: str
    applies: str
    source: str
    allows_reading_low: bool
    check_points: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class LimitRecord:
    """What the rule allows at one true value, as an error."""

    true_value: float
    lower: float | None
    upper: float | None


@dataclass(frozen=True, slots=True)
class BudgetLine:
    """One component of the uncertainty, k = 1."""

    component: str
    u_deg: float | None
    u: float | None
    """In the dial's unit; None: not known."""
    contained: bool
    """Whether the combined uncertainty contains it."""
    source: str


@dataclass(frozen=True, slots=True)
class Budget:
    """The uncertainty of one row's error, by component."""

    commanded: float | None
    approach: Approach
    lines: tuple[BudgetLine, ...]
    combined: float
    coverage_k: float
    expanded: float


@dataclass(frozen=True, slots=True)
class DialRecord:
    """One dial, before and after."""

    dial: str
    quantity: str
    unit: str
    is_speedometer: bool
    rule: RuleRecord | None
    marks: tuple[tuple[float, float], ...]
    """`(value, angle_deg)` of the scale's marks."""
    allowed: tuple[tuple[LimitRecord, ...], ...]
    """Stretches of the scale over which the rule speaks, each sampled from end to end."""
    programme: tuple[tuple[float, float], ...]
    """`(true value, error)` of a sound unit; empty where it shows the true value."""
    found: SideRecord | None
    left: SideRecord | None
    pairs: tuple[tuple[int | None, int | None], ...]
    """Rows of `found` and `left` that belong together, by index."""
    budget: Budget | None
    """Of the row that decides; None where no uncertainty is stated."""


@dataclass(frozen=True, slots=True)
class NeedleRecord:
    """What one needle needs."""

    dial: str
    verdict: str | None
    """`leave`, `turn` or `not_the_seat`; None where too little was read to say."""
    turn_deg: float | None
    u_turn_deg: float | None
    """Standard uncertainty, k = 1."""
    sentence: str


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two runs side by side."""

    family: str
    found_run: str
    left_run: str
    dials: tuple[DialRecord, ...]
    coverage_k: float
    rehearsed_runs: tuple[str, ...] = ()
    """Those of the two in which no real cluster was seen."""


@dataclass(frozen=True, slots=True)
class ItemRecord:
    """What was checked."""

    family: str
    variant: str | None
    variant_told_apart_by: str | None
    serial: str
    tag: str
    vehicle: str
    condition: str
    family_version: str | None = None
    """Which version of the family it was worked by; None: not kept by versions."""


@dataclass(frozen=True, slots=True)
class OdometerRecord:
    """Mileage in and out, and whether the outcome is lawful."""

    unit: str
    as_received: float | None
    as_returned: float | None
    outcome: str
    lawful: bool
    sentence: str


@dataclass(frozen=True, slots=True)
class InstrumentRecord:
    """An instrument used."""

    name: str
    number: str
    due: date | None
    traceable_to: str | None


@dataclass(frozen=True, slots=True)
class ConditionRecord:
    """Conditions of one run."""

    run: str
    temperature_low_c: float | None
    temperature_high_c: float | None
    supply_low_v: float | None
    supply_high_v: float | None
    rows: int
    photos: int


@dataclass(frozen=True, slots=True)
class Proof:
    """Everything a certificate or report says."""

    kind: Kind
    title: str
    number: str
    version: int
    name: str
    """Number and version, as every page carries it."""
    replaces: str | None
    replaces_because: str | None
    invented: bool
    issued_as_certificate: bool
    why_not: tuple[str, ...]
    """Why no certificate is issued; empty where one is."""
    exceptions: tuple[str, ...]
    """What a certificate excepts: other dials that do not conform."""
    shop: str
    place: str
    customer: str
    customer_contact: str | None
    authorised_by: str
    item: ItemRecord
    received: date
    found_on: date | None
    """Day of the check as found."""
    work: date | None
    """Day of the rebuild and of the check as left."""
    issued: date
    odometer: OdometerRecord
    work_done: tuple[str, ...]
    needle_set: tuple[NeedleRecord, ...]
    """What the needles need; a report as found carries it."""
    dials: tuple[DialRecord, ...]
    coverage_k: float
    conditions: tuple[ConditionRecord, ...]
    conditions_stated: tuple[str, ...]
    method: tuple[str, ...]
    decision_rule: tuple[str, ...]
    uncertainty: tuple[str, ...]
    traceability: tuple[str, ...]
    instruments: tuple[InstrumentRecord, ...]
    deviations: tuple[str, ...]
    statements: tuple[str, ...]
    cautions: tuple[str, ...]
    remarks: tuple[str, ...]
