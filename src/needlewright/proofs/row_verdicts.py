"""Judge one row: by the dial's rule, or by the rest limit at zero and at rest."""

from dataclasses import replace
from math import hypot

from needlewright.families.model import Dial
from needlewright.proofs.verdict_model import RowVerdict
from needlewright.proofs.verdict_words import with_unit
from needlewright.readings.runs import REHEARSED, RunRow
from needlewright.rules.decision import COVERAGE_K, NOT_READ, Decision, decide
from needlewright.rules.model import Rule
from needlewright.rules.rest import is_zero, rest_limits, zero_targets_deg

ON_STOP_NOTE = "the needle stands on its stop, so how far off it is cannot be said"


def judge_row(dial: Dial, rule: Rule | None, row: RunRow) -> RowVerdict:
    """Judge one row of a dial.

    Parameters
    ----------
    dial
        The row's dial.
    rule
        Bound to the dial; None: none stated.
    row
        Completed (`readings.complete`), in the dial's unit.

    Returns
    -------
    RowVerdict
        With `not_read` where there is neither angle nor value, `not_judged` where the rule is
        silent.
    """
    targets = _rest_targets_deg(dial, row)
    error, u_error = _error(row)
    verdict = RowVerdict(
        row=row,
        code="not_read",
        basis="rest" if targets else "rule",
        true_value=None if row.approach == "rest" else row.commanded,
        limits=None,
        limits_unit="deg" if targets else dial.unit,
        judged=None,
        shown=row.indicated,
        error=error,
        u_error=u_error,
        decision=NOT_READ,
    )
    if targets:
        return _by_rest_limit(verdict, dial, targets)
    return _by_rule(verdict, rule)


def _rest_targets_deg(dial: Dial, row: RunRow) -> tuple[float, ...]:
    """Where the needle belongs at rest or at zero; empty at any other commanded value."""
    first_mark, first_mark_deg = dial.scale.values[0], dial.scale.angles_deg[0]
    if row.approach == "rest" or row.commanded is None:
        return (dial.rest_target_deg,)
    if not is_zero(row.commanded, first_mark, speedometer=dial.is_speedometer):
        return ()
    return zero_targets_deg(
        first_mark_deg=first_mark_deg,
        rest_deg=dial.rest_angle_deg,
        sense=dial.scale.sense,
        may_rest_below=dial.rest_mark == "rest",
    )


def _by_rest_limit(verdict: RowVerdict, dial: Dial, targets: tuple[float, ...]) -> RowVerdict:
    angle = verdict.row.angle_deg
    if angle is None:
        limits = rest_limits(targets[0], dial.needle.tip_width_mm, dial.needle.length_mm)
        return replace(verdict, limits=limits, reason=_why_not_read(verdict.row))
    turned = {target: _turned_near(angle, target) for target in targets}
    nearest = min(targets, key=lambda target: abs(turned[target] - target))
    limits = rest_limits(nearest, dial.needle.tip_width_mm, dial.needle.length_mm)
    angle = turned[nearest]
    decision = decide(limits, angle, verdict.row.u_angle_deg)
    return replace(
        verdict,
        code=decision.code,
        limits=limits,
        judged=angle,
        decision=decision,
        notes=_doubt_notes(decision),
    )


def _turned_near(angle_deg: float, target_deg: float) -> float:
    """The same direction, whole turns away, nearest to a target."""
    return angle_deg - 360.0 * round((angle_deg - target_deg) / 360.0)


def _by_rule(verdict: RowVerdict, rule: Rule | None) -> RowVerdict:
    row, shown, true_value = verdict.row, verdict.shown, verdict.true_value
    limits = None if rule is None or true_value is None else rule.limits(true_value)
    if shown is None:
        return replace(verdict, limits=limits, reason=_why_not_read(row))
    low_note = _low_note(rule, verdict)
    if limits is None:
        silent = "the family states no rule" if rule is None else _silent(rule)
        return replace(
            verdict, code="not_judged", basis="none", decision=None, reason=silent, notes=low_note
        )
    decision = decide(limits, shown, row.u_indicated, row.u_commanded)
    if row.on_stop and decision.code == "pass":
        decision = replace(decision, code="conditional_pass")
    return replace(
        verdict,
        code=decision.code,
        limits=limits,
        judged=shown,
        decision=decision,
        notes=(
            *low_note,
            *_doubt_notes(decision),
            *((ON_STOP_NOTE,) if row.on_stop else ()),
        ),
    )


def _silent(rule: Rule) -> str:
    return f"{rule.code} says nothing at this value"


def _low_note(rule: Rule | None, verdict: RowVerdict) -> tuple[str, ...]:
    """Under a rule that allows it, say of a row that it may read low, and by how much."""
    if rule is None or not rule.allows_reading_low:
        return ()
    if verdict.shown is None or verdict.true_value is None:
        return ()
    u_shown = verdict.row.u_indicated
    if u_shown is None:
        return ("may read low; by how much is not known, as the uncertainty is not stated",)
    u = hypot(u_shown, verdict.row.u_commanded or 0.0)
    low_by = verdict.true_value - verdict.shown + COVERAGE_K * u
    if low_by <= 0:
        return ()
    return (f"may read low, by up to {with_unit(f'{low_by:.3g}', rule.unit)}",)


def _doubt_notes(decision: Decision) -> tuple[str, ...]:
    return ("reading uncertainty not stated",) if decision.probability is None else ()


def _error(row: RunRow) -> tuple[float | None, float | None]:
    """Shown minus true; a needle on a stop has none, its row says only "there or beyond"."""
    if row.indicated is None or row.commanded is None or row.approach == "rest" or row.on_stop:
        return None, None
    u_error = None if row.u_indicated is None else hypot(row.u_indicated, row.u_commanded or 0.0)
    return row.indicated - row.commanded, u_error


def _why_not_read(row: RunRow) -> str:
    if row.angle_deg is not None:
        return "the needle stands too far beyond the scale"
    why = [flag for flag in row.flags if flag != REHEARSED]
    return ", ".join(why).replace("_", " ") or "no value in the row"
