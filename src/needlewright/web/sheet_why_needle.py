"""Why a needle is to be turned, or not: the rows behind it, and how far each is off."""

from math import pi

from needlewright.families.model import Dial, Family
from needlewright.papers.wording import (
    number,
    sentence_for_people,
    short,
    unit_words,
    with_degree_signs,
)
from needlewright.plans.needle_set import NeedleSet
from needlewright.plans.seat import fit_seat, seat_rows
from needlewright.proofs.certificate import MeasuredRun
from needlewright.rules.decision import COVERAGE_K
from needlewright.web.sheet_why_model import Section, squares, with_u
from needlewright.web.texts import Texts


def needle_sections(
    t: Texts, family: Family, measured: MeasuredRun, dial: Dial, one: NeedleSet
) -> tuple[Section, ...]:
    """Answer for one needle.

    Parameters
    ----------
    t
        The page's texts.
    family
        The cluster design.
    measured
        The run as found.
    dial
        The dial.
    one
        What was decided about its needle.

    Returns
    -------
    tuple of Section
        The turn, the hand's measures, the rows.
    """
    sections = [_turn(t, one)]
    if one.verdict == "turn" and one.turn_deg is not None:
        sections.append(_measures(t, dial, one.turn_deg))
    sections.append(_rows(t, family, measured, dial))
    return tuple(sections)


def _turn(t: Texts, one: NeedleSet) -> Section:
    expanded = None if one.u_turn_deg is None else COVERAGE_K * one.u_turn_deg
    answer = t("why.needle.no_turn")
    if one.turn_deg is not None:
        answer = with_u(one.turn_deg, expanded, "°", signed=True)
    return Section(
        "turn",
        t("why.needle.heading"),
        answer,
        formula=t(f"why.needle.formula.{one.target}") if one.turn_deg is not None else "",
        inputs=squares(one.components_deg, "°"),
        source=t("why.needle.source"),
        notes=(with_degree_signs(sentence_for_people(one.reason)),),
    )


def _measures(t: Texts, dial: Dial, turn_deg: float) -> Section:
    needle, scale = dial.needle, dial.scale
    sweep = abs(scale.angles_deg[-1] - scale.angles_deg[0])
    turn = abs(turn_deg)
    widths = turn * pi / 180 * needle.length_mm / needle.tip_width_mm
    count = turn * scale.span / sweep / dial.graduation_or_step
    return Section(
        "measures",
        t("why.needle.measures"),
        t("why.needle.measured", widths=number(widths, 1), count=number(count, 2)),
        formula=(
            f"{number(turn, 2)}° × π/180 × {needle.length_mm:g} mm / {needle.tip_width_mm:g} mm "
            f"= {number(widths, 2)};  {number(turn, 2)}° × {short(scale.span)} / {short(sweep)}° "
            f"/ {dial.graduation_or_step:g} = {number(count, 2)}"
        ),
        source=t("why.needle.measures_source"),
    )


def _rows(t: Texts, family: Family, measured: MeasuredRun, dial: Dial) -> Section:
    rows = seat_rows(dial, measured.run.of_dial(dial.id), family.eccentricity_mm)
    fit = fit_seat(dial, rows)
    weights = {} if fit is None else dict(zip(map(id, fit.used), fit.weights, strict=True))
    unit = unit_words(dial.unit)
    table: list[tuple[str, ...]] = [
        (
            t("why.needle.told", unit=unit),
            t("why.needle.way"),
            t("why.needle.stands"),
            t("why.needle.off"),
            t("why.needle.weight"),
        )
    ]
    for row in rows:
        weight = weights.get(id(row))
        table.append(
            (
                short(row.told),
                row.row.approach,
                f"{number(row.angle_deg, 2)}°",
                f"{number(row.error_deg, 2, signed=True)}°",
                t("why.needle.on_stop") if row.on_stop else _weight(weight),
            )
        )
    answer = "" if fit is None else f"s = {number(fit.seat_deg, 2, signed=True)}°"
    return Section(
        "rows", t("why.needle.rows"), answer, table=tuple(table), source=t("why.needle.rows_source")
    )


def _weight(weight: float | None) -> str:
    return "–" if weight is None else f"{weight:.3f}"
