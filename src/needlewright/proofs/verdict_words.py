"""Sentences that say a dial's verdict to people."""

from collections.abc import Sequence

from needlewright.families.model import Dial
from needlewright.proofs.verdict_model import RowVerdict, worst_row
from needlewright.rules.decision import VerdictCode, people_words
from needlewright.rules.model import Rule


def summary_of(
    dial: Dial,
    rule: Rule | None,
    rows: Sequence[RowVerdict],
    code: VerdictCode,
    missing: Sequence[float],
) -> str:
    """One sentence on a dial: the words, what was judged, the closest row, what lacks.

    Parameters
    ----------
    dial
        The dial.
    rule
        Bound to it; None: none stated.
    rows
        Judged.
    code
        The dial's verdict.
    missing
        Check points with no row that was read.

    Returns
    -------
    str
        Without a full stop.
    """
    parts = [f"{dial.id}: {people_words(code)}", _counted(rows)]
    row = worst_row(tuple(rows))
    if row is not None:
        parts.append(_least_room(row))
    if rule is None:
        parts.append("the family states no rule for this dial")
    elif missing:
        points = ", ".join(f"{point:.4g}" for point in missing)
        asked = with_unit(points, dial.unit)
        parts.append(f"{rule.code} asks for {asked}, which no row that was read has")
    elif not any(r.basis == "rule" and r.margin is not None for r in rows):
        parts.append(f"no row was judged by {rule.code}")
    return "; ".join(parts)


def where_in_run(row: RowVerdict) -> str:
    """A row's place in the run, as a person says it: `80 km/h, up` or `rest`."""
    if row.true_value is None:
        return "rest"
    return f"{with_unit(f'{row.true_value:.4g}', row.row.unit)}, {row.row.approach}"


def with_unit(number: str, unit: str) -> str:
    """A number with its unit; a unit of several words stands in brackets."""
    return f"{number} ({unit})" if " " in unit else f"{number} {unit}"


def _counted(rows: Sequence[RowVerdict]) -> str:
    if not rows:
        return "no row in this run"
    judged = sum(row.margin is not None for row in rows)
    outside = sum(row.code in ("fail", "conditional_fail") for row in rows)
    unread = sum(row.code == "not_read" for row in rows)
    text = f"{judged} of {len(rows)} rows judged, {outside} outside"
    return f"{text}, {unread} not read" if unread else text


def _least_room(row: RowVerdict) -> str:
    margin = row.margin if row.margin is not None else 0.0
    limit = "its rest limit" if row.basis == "rest" else "the rule"
    amount = with_unit(f"{abs(margin):.3g}", row.limits_unit)
    guard = f" (U {row.expanded:.2g})" if row.expanded is not None else ""
    if margin < 0:
        return f"worst at {where_in_run(row)}: outside {limit} by {amount}{guard}"
    return f"closest at {where_in_run(row)}: within {limit} by {amount}{guard}"
