"""Judge a run: every row by the dial's rule, or by the rest limit at zero and at rest."""

from collections.abc import Sequence

from needlewright.errors import RunError
from needlewright.families.model import Dial, Family
from needlewright.proofs.row_verdicts import judge_row
from needlewright.proofs.verdict_model import DialVerdict, RowVerdict, RunVerdict, worst
from needlewright.proofs.verdict_words import summary_of
from needlewright.readings.complete import complete_run
from needlewright.readings.runs import Run, RunRow
from needlewright.rules.book import rule_for
from needlewright.rules.decision import VerdictCode
from needlewright.rules.model import Rule

__all__ = ["DialVerdict", "RowVerdict", "RunVerdict", "judge_dial", "judge_run", "rule_of"]


def judge_run(family: Family, run: Run, *, max_speed: float | None = None) -> RunVerdict:
    """Judge every row of a run and every dial of the family.

    Parameters
    ----------
    family
        Says what the dials are and which rule each answers to.
    run
        Rows in the dials' own units; what they leave open is completed as `readings.complete` does.
    max_speed
        The vehicle's maximum design speed in the speedometer's unit; None takes its last mark.

    Returns
    -------
    RunVerdict
        Dials in the family's order; a dial with no row is not complete.

    Raises
    ------
    RunError
        If a row is of a dial the family does not have, in another unit, or has no commanded
        value although the needle was not at rest.
    RuleError
        If a dial's rule is unknown or does not fit it.
    """
    _require_commands(run)
    whole = complete_run(run, family)
    dials = tuple(
        judge_dial(dial, whole.of_dial(dial.id), max_speed=max_speed) for dial in family.dials
    )
    return RunVerdict(run.name, family.name, dials, worst(tuple(d.code for d in dials)))


def judge_dial(
    dial: Dial, rows: Sequence[RunRow], *, max_speed: float | None = None
) -> DialVerdict:
    """Judge the rows of one dial.

    Parameters
    ----------
    dial
        With its rule, or without one: then only the rest limit counts and it is not complete.
    rows
        Of that dial, completed (`readings.complete`).
    max_speed
        As for `judge_run`.

    Returns
    -------
    DialVerdict
        Its code is the worst of its rows, `not complete` ranking behind an outright failure.

    Raises
    ------
    RuleError
        If the dial's rule is unknown or does not fit it.
    """
    rule = rule_of(dial, max_speed=max_speed)
    verdicts = tuple(judge_row(dial, rule, row) for row in rows)
    missing = _missing_points(rule, verdicts)
    by_rule = any(v.basis == "rule" and v.decision is not None for v in verdicts)
    complete = by_rule and not missing
    codes: tuple[VerdictCode, ...] = tuple(v.code for v in verdicts)
    code = worst(codes if complete else (*codes, "not complete"))
    return DialVerdict(
        dial=dial.id,
        unit=dial.unit,
        is_speedometer=dial.is_speedometer,
        rule=rule,
        rows=verdicts,
        code=code,
        complete=complete,
        missing=missing,
        summary=summary_of(dial, rule, verdicts, code, missing),
    )


def rule_of(dial: Dial, *, max_speed: float | None = None) -> Rule | None:
    """The dial's rule bound to it; None when the family states none.

    Parameters
    ----------
    dial
        Names the rule.
    max_speed
        The vehicle's maximum design speed; used for speedometers only.

    Returns
    -------
    Rule or None
        In the dial's unit.

    Raises
    ------
    RuleError
        If the rule is unknown or does not fit the dial.
    """
    if dial.rule is None:
        return None
    return rule_for(
        dial.rule,
        unit=dial.unit,
        scale_values=(dial.scale.values[0], dial.scale.values[-1]),
        graduation=dial.graduation_or_step,
        max_speed=max_speed if dial.is_speedometer else None,
    )


def _missing_points(rule: Rule | None, verdicts: Sequence[RowVerdict]) -> tuple[float, ...]:
    if rule is None:
        return ()
    return tuple(
        point
        for point in rule.check_points()
        if not any(_stands_for(rule, point, verdict) for verdict in verdicts)
    )


def _stands_for(rule: Rule, point: float, verdict: RowVerdict) -> bool:
    if verdict.basis != "rule" or verdict.true_value is None or verdict.shown is None:
        return False
    return rule.covers(point, verdict.true_value, verdict.shown)


def _require_commands(run: Run) -> None:
    for number, row in enumerate(run.rows, start=1):
        if row.commanded is None and row.approach != "rest":
            raise RunError(
                f"run '{run.name}', row {number}, dial '{row.dial}': 'commanded' is empty and the "
                f"approach is '{row.approach}'; write what the dial was told, or 'rest' as the "
                "approach"
            )
