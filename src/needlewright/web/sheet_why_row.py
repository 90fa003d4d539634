"""Why a row of a run says what it says: the reading, its uncertainty, its limits, its result."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from math import degrees, hypot
from typing import Any, Final

from needlewright.composing.judged import Side
from needlewright.families.model import Dial, Family
from needlewright.papers.dial_blocks import formula_words
from needlewright.papers.wording import (
    number,
    probability,
    sentence_for_people,
    short,
    unit_words,
)
from needlewright.proofs.budget import budget_of
from needlewright.proofs.certificate import MeasuredRun
from needlewright.proofs.proof_model import Budget
from needlewright.proofs.verdict_model import DialVerdict, RowVerdict
from needlewright.readings.complete import BY_EYE
from needlewright.readings.flags import FLAGS, REASONS
from needlewright.rules.decision import COVERAGE_K
from needlewright.web.sheet_run_view import DialView, allowed_words
from needlewright.web.sheet_why_model import Section, squares, u_text, with_u, words_of
from needlewright.web.texts import Texts

_DEG: Final = "°"


@dataclass(frozen=True, slots=True)
class About:
    """What every section of an answer draws on."""

    t: Texts
    family: Family
    measured: MeasuredRun
    """The run, with its evidence."""
    dial: Dial


def row_sections(about: About, view: DialView, side: Side, index: int) -> tuple[Section, ...]:
    """Answer for one row.

    Parameters
    ----------
    about
        Texts, family, run and dial.
    view
        The dial, judged.
    side
        Which run.
    index
        Of the row among the dial's.

    Returns
    -------
    tuple of Section
        In the order in which one follows from another.
    """
    verdict = view.judged.side(side)
    assert verdict is not None
    row, document = verdict.rows[index], view.judged.document[side]["rows"][index]
    t, dial = about.t, about.dial
    sections = [_shown(t, dial, row)]
    if row.row.angle_deg is not None:
        sections.append(_uncertainty(about, row))
    if row.true_value is not None:
        sections.append(_error(about, verdict, row))
    sections += [_allowed(t, dial, verdict, row, document), _result(t, row, document)]
    return tuple(sections)


def _shown(t: Texts, dial: Dial, row: RowVerdict) -> Section:
    r, unit = row.row, unit_words(dial.unit)
    notes = words_of(r.flags, {**REASONS, **FLAGS})
    if r.angle_deg is None:
        words = row.reason or t("why.shown.not_read")
        return Section("shown", t("why.shown.heading"), words, notes=notes)
    angle, scale = dial.scale.on_branch(r.angle_deg), dial.scale
    expanded = None if r.u_angle_deg is None else COVERAGE_K * r.u_angle_deg
    inputs = [(t("why.shown.direction"), with_u(angle, expanded, _DEG))]
    if r.indicated is None:
        return Section(
            "shown",
            t("why.shown.heading"),
            t("why.shown.beyond"),
            inputs=tuple(inputs),
            notes=notes,
        )
    i = _segment(dial, angle)
    (v0, v1), (a0, a1) = scale.values[i : i + 2], scale.angles_deg[i : i + 2]
    inputs += [
        (t("why.shown.mark", value=f"{v0:g} {unit}"), f"{short(a0)}°"),
        (t("why.shown.mark", value=f"{v1:g} {unit}"), f"{short(a1)}°"),
    ]
    u_shown = None if r.u_indicated is None else COVERAGE_K * r.u_indicated
    typed = BY_EYE in r.flags
    formula = (
        f"{short(v0)} + ({number(angle, 2)} − {_taken(a0)}) × ({short(v1)} − {_taken(v0)}) "
        f"/ ({short(a1)} − {_taken(a0)}) "
        f"= {number(r.indicated, 3)}"
    )
    return Section(
        "shown",
        t("why.shown.heading"),
        with_u(r.indicated, u_shown, unit),
        formula="" if typed else formula,
        inputs=tuple(inputs),
        source=t("why.shown.typed" if typed else "why.shown.source"),
        notes=notes,
    )


def _taken(value: float) -> str:
    """A number that is taken away: two signs beside each other need brackets."""
    return f"({short(value)})" if value < 0 else short(value)


def _segment(dial: Dial, angle_deg: float) -> int:
    """The pair of marks a needle stands between; the end pairs beyond them."""
    marks = dial.scale.angles_deg
    sense = dial.scale.sense
    inside = [i for i in range(len(marks) - 1) if sense * marks[i] <= sense * angle_deg]
    return inside[-1] if inside else 0


def _uncertainty(about: About, row: RowVerdict) -> Section:
    t, dial, family = about.t, about.dial, about.family
    r, unit = row.row, unit_words(dial.unit)
    seen = about.measured.evidence.needle(r.photo, dial.id)
    parts = () if seen is None else tuple(seen.components_deg.items())
    seat_deg = degrees(family.eccentricity_mm / dial.needle.length_mm)
    inputs = list(squares(parts, _DEG))
    inputs.append((t("why.u.direction"), u_text(r.u_angle_deg, _DEG)))
    formula = ""
    if r.u_indicated is not None and r.u_angle_deg is not None and r.angle_deg is not None:
        slope = abs(dial.scale.slope_at(dial.scale.on_branch(r.angle_deg)))
        said = f"{family.eccentricity_mm:g} mm / {dial.needle.length_mm:g} mm"
        inputs += [
            (t("why.u.seat", said=said), u_text(seat_deg, _DEG)),
            (t("why.u.slope"), f"{slope:.4g} {unit}/°"),
        ]
        if BY_EYE not in r.flags and _adds_up(r.u_indicated, slope, r.u_angle_deg, seat_deg):
            formula = (
                f"u = {slope:.4g} × √({r.u_angle_deg:.3g}² + {seat_deg:.3g}²) "
                f"= {r.u_indicated:.3g} {unit};  U = {COVERAGE_K:g} × u = "
                f"{COVERAGE_K * r.u_indicated:.3g} {unit}"
            )
    key = "why.u.by_eye" if BY_EYE in r.flags else "why.u.source"
    answer = u_text(None if r.u_indicated is None else COVERAGE_K * r.u_indicated, unit)
    return Section(
        "uncertainty",
        t("why.u.heading"),
        f"U = {answer}",
        formula=formula,
        inputs=tuple(inputs),
        source=t(key),
    )


def _adds_up(u: float, slope: float, u_angle: float, seat: float) -> bool:
    return abs(u - slope * hypot(u_angle, seat)) <= 0.02 * u


def _error(about: About, verdict: DialVerdict, row: RowVerdict) -> Section:
    t, dial, family = about.t, about.dial, about.family
    unit = unit_words(dial.unit)
    if row.error is None or row.shown is None or row.true_value is None:
        return Section("error", t("why.error.heading"), t("why.error.none"))
    expanded = None if row.u_error is None else COVERAGE_K * row.u_error
    alone = replace(verdict, rows=(row,))
    budget = budget_of(dial, alone, family.eccentricity_mm, about.measured.evidence)
    return Section(
        "error",
        t("why.error.heading"),
        with_u(row.error, expanded, unit, signed=True),
        formula=f"{number(row.shown, 3)} − {short(row.true_value)} = "
        f"{number(row.error, 3, signed=True)}",
        table=() if budget is None else tuple(_budget(t, budget, unit)),
        source=t("why.error.source"),
    )


def _budget(t: Texts, budget: Budget, unit: str) -> Iterator[tuple[str, ...]]:
    yield t("why.budget.component"), t("why.budget.angle"), unit, t("why.budget.from")
    for line in budget.lines:
        name = line.component if line.contained else t("why.budget.apart", what=line.component)
        in_unit = "–" if line.u is None else f"{line.u:.3g}"
        yield name, u_text(line.u_deg, _DEG), in_unit, line.source
    yield t("why.budget.combined"), "", f"{budget.combined:.3g}", t("why.budget.k1")
    expanded = t("why.budget.expanded")
    yield expanded, "", f"{budget.expanded:.3g}", f"k = {budget.coverage_k:g}"


def _allowed(
    t: Texts, dial: Dial, verdict: DialVerdict, row: RowVerdict, document: Mapping[str, Any]
) -> Section:
    heading = t("why.allowed.heading")
    if row.basis == "rest" and row.limits is not None:
        low, high = row.limits.lower or 0.0, row.limits.upper or 0.0
        half = (high - low) / 2
        needle = dial.needle
        return Section(
            "allowed",
            heading,
            t("why.allowed.rest", half=number(half, 2), at=number((low + high) / 2, 1)),
            formula=f"0.5 × {needle.tip_width_mm:g} mm / {needle.length_mm:g} mm × 180/π = "
            f"{number(half, 2)}°",
            source=t("why.allowed.rest_source"),
        )
    rule = verdict.rule
    if rule is None or row.limits is None:
        return Section("allowed", heading, row.reason or t("why.allowed.nothing"))
    told = "" if row.true_value is None else f"{short(row.true_value)} {unit_words(dial.unit)}"
    return Section(
        "allowed",
        heading,
        f"{allowed_words(document, 2)} {unit_words(dial.unit)}",
        formula=formula_words(rule.formula),
        inputs=(
            (t("why.allowed.rule"), rule.title),
            (t("why.allowed.true"), told),
            (t("why.allowed.applies"), sentence_for_people(rule.applies)),
        ),
        source=rule.source,
    )


def _result(t: Texts, row: RowVerdict, document: Mapping[str, Any]) -> Section:
    decision, unit = row.decision, row.limits_unit
    notes = tuple(map(sentence_for_people, document["notes"]))
    if decision is None or decision.margin is None:
        return Section("result", t("why.result.heading"), row.words, notes=notes)
    said = _DEG if unit == "deg" else unit_words(unit)
    guard = decision.expanded
    inputs = [(t("why.result.room"), with_u(decision.margin, guard, said, signed=True))]
    inputs.append((t("why.result.probability"), probability(decision.probability)))
    return Section(
        "result",
        t("why.result.heading"),
        row.words,
        inputs=tuple(inputs),
        formula=t("why.result.rule"),
        source=t("why.result.source"),
        notes=notes,
    )
