"""The odometer's outcome: mileage recorded and never altered, or the law's procedure followed."""

from dataclasses import dataclass
from datetime import date
from typing import Final, Literal

from needlewright.amounts import THIN, grouped

LAW: Final = "49 USC 32704(a)"
Outcome = Literal[
    "received", "unchanged", "zero_with_notice", "local_law", "none_fitted", "refused"
]


@dataclass(frozen=True, slots=True)
class ZeroNotice:
    """The written notice that stands on the vehicle when an odometer was set to zero."""

    mileage_before: float
    day: date
    attached_to: str
    """Where on the vehicle; the law names the left door frame."""


@dataclass(frozen=True, slots=True)
class OdometerFacts:
    """Mileage as received and as returned, in `unit`."""

    unit: str
    as_received: float | None
    as_returned: float | None
    notice: ZeroNotice | None = None
    none_fitted: str | None = None
    """Why the cluster has no odometer, where it has none; then there is no mileage either."""
    law: str = LAW
    """The law that holds where the shop is; any but `LAW` is followed in the shop's own words."""
    procedure: str = ""
    """What was done under a local law, in words."""


@dataclass(frozen=True, slots=True)
class OdometerJudgement:
    """What the odometer's outcome is, and the sentence that says so on a paper."""

    outcome: Outcome
    sentence: str

    @property
    def lawful(self) -> bool:
        """Whether the cluster may go back with it."""
        return self.outcome != "refused"

    @property
    def certifiable(self) -> bool:
        """Whether a certificate may be issued with it: never with another mileage but zero."""
        return self.outcome not in ("refused", "local_law")


def judge_odometer(facts: OdometerFacts, received: date, issued: date) -> OdometerJudgement:
    """Judge what happened to the mileage while the cluster was in the shop.

    Parameters
    ----------
    facts
        Mileage in and out, and the notice where there is one.
    received
        Day it came in: a notice is dated on it or later.
    issued
        Day of the paper: a notice is dated on it or earlier.

    Returns
    -------
    OdometerJudgement
        `unchanged`, or `zero_with_notice`; any third outcome is `refused` with the reason, but
        `local_law` where another law holds and its procedure is recorded.

    Notes
    -----
    **Source** 49 USC 32704(a): service may leave the mileage unchanged; where it cannot, the
    odometer is set to zero and a written notice with the mileage before and the date is attached
    to the left door frame. Facts of the text, not legal advice; defer to local law. What a
    local law asks for is not judged: its procedure stands in the shop's words, with the same
    written notice (house decision).
    """
    before, after = facts.as_received, facts.as_returned
    if facts.none_fitted is not None:
        return OdometerJudgement(
            "none_fitted", f"This cluster has no odometer: {facts.none_fitted}."
        )
    if before is None or after is None:
        return _refused(facts, "the mileage as received and as returned must both be recorded")
    if before == after:
        return OdometerJudgement(
            "unchanged", f"The odometer shows {_said(after, facts)}, as it did when received."
        )
    if facts.law != LAW:
        return _judge_locally(facts, before, after, received, issued)
    if after != 0:
        return _refused(
            facts,
            f"it came in at {_said(before, facts)} and goes out at {_said(after, facts)}; set it "
            f"back to {_said(before, facts)}, or where that cannot be done to zero with the "
            "written notice",
        )
    return _judge_notice(facts, before, received, issued)


def note_odometer(facts: OdometerFacts) -> OdometerJudgement:
    """Say what the odometer showed when the cluster came in; nothing is judged yet."""
    if facts.none_fitted is not None or facts.as_received is None:
        why = facts.none_fitted or "none stated"
        return OdometerJudgement("none_fitted", f"This cluster has no odometer: {why}.")
    said = _said(facts.as_received, facts)
    return OdometerJudgement("received", f"The odometer showed {said} when received.")


def _judge_notice(
    facts: OdometerFacts, before: float, received: date, issued: date
) -> OdometerJudgement:
    notice = facts.notice
    if notice is None:
        return _refused(
            facts,
            f"it came in at {_said(before, facts)} and was set to zero, and there is no written "
            "notice with the mileage before and the date",
        )
    if why := _why_no_notice(facts, notice, before, received, issued):
        return _refused(facts, why)
    return OdometerJudgement(
        "zero_with_notice",
        f"The odometer could not keep its mileage and was set to zero on {notice.day}; the mileage "
        f"before was {_said(before, facts)}. A written notice with that mileage and date belongs "
        f"on the vehicle's {notice.attached_to}, and stays there ({LAW}).",
    )


def _judge_locally(
    facts: OdometerFacts, before: float, after: float, received: date, issued: date
) -> OdometerJudgement:
    notice, procedure = facts.notice, facts.procedure.strip().rstrip(".")
    if notice is None or not procedure:
        return _refused(
            facts,
            f"it came in at {_said(before, facts)} and goes out at {_said(after, facts)}; set it "
            f"back to {_said(before, facts)}, or where that cannot be done record the procedure "
            "of that law, and the written notice with the mileage before and the date",
        )
    if why := _why_no_notice(facts, notice, before, received, issued):
        return _refused(facts, why)
    followed = (
        f"the procedure of {facts.law} was followed: {procedure}. A written notice states the "
        f"mileage before and the date, {notice.day}."
    )
    if after == 0:
        return OdometerJudgement(
            "zero_with_notice",
            f"The odometer could not keep its mileage and was set to zero on {notice.day}; the "
            f"mileage before was {_said(before, facts)}; {followed}",
        )
    return OdometerJudgement(
        "local_law",
        f"The odometer came in at {_said(before, facts)} and goes out at {_said(after, facts)}; "
        f"{followed}",
    )


def _why_no_notice(
    facts: OdometerFacts, notice: ZeroNotice, before: float, received: date, issued: date
) -> str:
    """Why the notice does not fit the job; empty where it does."""
    if notice.mileage_before != before:
        return (
            f"the notice states {_said(notice.mileage_before, facts)} as the mileage before, and "
            f"the odometer came in at {_said(before, facts)}"
        )
    if not received <= notice.day <= issued:
        return (
            f"the notice is dated {notice.day}, outside the job's days from {received} to {issued}"
        )
    return ""


def _refused(facts: OdometerFacts, why: str) -> OdometerJudgement:
    return OdometerJudgement(
        "refused", f"The odometer's outcome is not a lawful one: {why} ({facts.law})."
    )


def _said(mileage: float, facts: OdometerFacts) -> str:
    number = grouped(mileage, 1 if mileage % 1 else 0)
    return f"{number.replace(THIN, ' ')} {facts.unit}"  # as papers that are issued have it
