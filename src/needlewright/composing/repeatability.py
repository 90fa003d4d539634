"""Repeatability put together for a person: the study of every dial, its document, its strips."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot
from typing import Any, Final

import numpy as np

from needlewright.errors import RunError, ScaleError
from needlewright.families.model import Dial, Family
from needlewright.papers.repeatability_strips import DialStrips, PersonStrip, Repeated
from needlewright.proofs.certificate import MeasuredRun
from needlewright.proofs.repeatability.studies import (
    Anova,
    Spread,
    analyse_variance,
    average_and_range,
)
from needlewright.proofs.repeatability.table import (
    By,
    Named,
    Part,
    Place,
    StudyTable,
    place_of,
    study_tables,
)
from needlewright.proofs.repeatability.tolerance import WIDTHS, narrowest_tolerance_deg
from needlewright.proofs.repeatability.views import LEAST_VIEWS, View, ViewSpread, view_spread
from needlewright.readings.evidence import Evidence
from needlewright.readings.runs import RunRow
from needlewright.readings.uncertainty import VIEW
from needlewright.rules.decision import COVERAGE_K
from needlewright.units import unit_for_people

MOVED_DEG: Final = 0.5
"""Views of one needle that differ by more than this were probably not of one unmoved needle.

Common practice, no source: a good reading differs by a tenth of it."""


@dataclass(frozen=True, slots=True)
class DialStudy:
    """One dial: its table, and what both ways of estimating make of it."""

    dial: Dial
    table: StudyTable
    by_range: Spread
    anova: Anova
    tolerance_deg: float | None

    @property
    def tolerance_share(self) -> float | None:
        """What the reading takes of the narrowest tolerance; None without one."""
        if not self.tolerance_deg:
            return None
        return WIDTHS * self.anova.spread.grr / self.tolerance_deg

    @property
    def grr_value(self) -> float:
        """The reading's part as a shown value, where the scale is most crowded."""
        scale = self.dial.scale
        slopes = [abs(scale.slope_at(scale.on_branch(p.angle_deg))) for p in self.table.positions]
        return self.anova.spread.grr * max(slopes)

    @property
    def remark(self) -> str | None:
        """What makes the figures hollow, in a sentence; None where nothing does."""
        if self.anova.spread.grr > 0:
            return None
        return (
            f"dial '{self.dial.id}': every reading of a position is the same, so ndc has no bound; "
            "the readings are rounded too coarsely to show what repeats, or one photo stands for "
            "several"
        )


@dataclass(frozen=True, slots=True)
class DialViews:
    """One dial: what its unmoved needles differ by from view to view."""

    dial: Dial
    spread: ViewSpread
    groups: tuple[tuple[RunRow, ...], ...]
    on_top: tuple[str, ...] = ()
    """Runs whose readings may hold the family's part already, with no evidence to tell it apart."""

    @property
    def to_keep_deg(self) -> float:
        """The dial's whole view-dependent part: what it holds counts where this came on top."""
        held = self.dial.view_u_deg if self.on_top else 0.0
        return hypot(held, self.spread.u_view_deg)

    @property
    def remark(self) -> str | None:
        """Why the figure may be none of the view; None where nothing speaks against it."""
        if self.spread.u_view_deg <= MOVED_DEG:
            return None
        return (
            f"dial '{self.dial.id}': views differ by {self.spread.spread_deg:.2f} deg; look "
            "whether the needle moved between them"
        )


def study(family: Family, runs: Sequence[Named], by: By, part: Part) -> tuple[DialStudy, ...]:
    """Judge repeatability and reproducibility of every dial.

    Parameters
    ----------
    family
        The cluster design.
    runs
        Completed with it.
    by
        What the runs' names are of.
    part
        What makes rows the same position.

    Returns
    -------
    tuple of DialStudy
        In the family's order.

    Raises
    ------
    RunError
        As `study_tables`.
    """
    tables = {table.dial: table for table in study_tables(runs, by, part)}
    return tuple(
        DialStudy(
            dial,
            table,
            average_and_range(table.angles_deg),
            analyse_variance(table.angles_deg),
            narrowest_tolerance_deg(dial, table.positions),
        )
        for dial in family.dials
        if (table := tables.get(dial.id)) is not None
    )


def study_views(family: Family, runs: Sequence[MeasuredRun], part: Part) -> tuple[DialViews, ...]:
    """Find the view-dependent part of every dial.

    Parameters
    ----------
    family
        The cluster design.
    runs
        Completed with it; rows of one run, dial and position are views of one unmoved needle.
    part
        What makes rows the same position.

    Returns
    -------
    tuple of DialViews
        In the family's order.

    Raises
    ------
    RunError
        If no needle has views enough.
    """
    found = []
    for dial in family.dials:
        groups: dict[tuple[int, Place], list[RunRow]] = {}
        views: dict[tuple[int, Place], list[View]] = {}
        on_top: list[str] = []
        for number, one in enumerate(runs):
            for row in one.run.of_dial(dial.id):
                if row.angle_deg is not None and row.u_angle_deg is not None:
                    key = number, place_of(row, part)
                    groups.setdefault(key, []).append(row)
                    u = _without_view(row, one.evidence)
                    views.setdefault(key, []).append(View(row.angle_deg, u))
                    if _may_hold_view(dial, row, one.evidence):
                        on_top.append(row.run)
        if max((len(of_one) for of_one in views.values()), default=0) < LEAST_VIEWS:
            continue
        kept = tuple(tuple(rows) for rows in groups.values() if len(rows) > 1)
        spread = view_spread(list(views.values()))
        found.append(DialViews(dial, spread, kept, tuple(dict.fromkeys(on_top))))
    if not found:
        raise RunError(
            f"no needle was read from {LEAST_VIEWS} views or more; photograph one unmoved needle "
            "from at least that many places (ten are good) and give them one command in the run"
        )
    return tuple(found)


def _without_view(row: RunRow, evidence: Evidence) -> float:
    """What a reading states, without the part that this study is to find."""
    needle = evidence.needle(row.photo, row.dial)
    known = 0.0 if needle is None else needle.components_deg.get(VIEW, 0.0)
    return float(np.sqrt(max((row.u_angle_deg or 0.0) ** 2 - known**2, 0.0)))


def _may_hold_view(dial: Dial, row: RunRow, evidence: Evidence) -> bool:
    """Whether a reading may hold the family's part: one that states less than it does not."""
    needle = evidence.needle(row.photo, row.dial)
    told_apart = needle is not None and bool(needle.components_deg)
    return not told_apart and 0.0 < dial.view_u_deg <= (row.u_angle_deg or 0.0)


def study_document(one: DialStudy) -> dict[str, Any]:
    """What `needlewright repeatability --json` says of one dial by person or camera."""
    table, anova = one.table, one.anova
    positions, people, photos = table.angles_deg.shape
    return {
        "positions": positions,
        "people": people,
        "photos": photos,
        "average_and_range": _spread_document(one.by_range),
        "anova": {
            **_spread_document(anova.spread),
            "interaction_pooled": anova.pooled,
            "table": [
                {
                    "source": row.source,
                    "sum_of_squares": row.sum_of_squares,
                    "degrees_of_freedom": row.freedom,
                    "mean_square": row.mean_square,
                    "f": row.f,
                    "p": row.p,
                }
                for row in anova.rows
            ],
        },
        "grr_value": _six(one.grr_value),
        "unit": one.dial.unit,
        "tolerance_deg": _six(one.tolerance_deg),
        "tolerance_share": _six(one.tolerance_share),
    }


def _spread_document(spread: Spread) -> dict[str, Any]:
    return {
        "repeatability_deg": _six(spread.repeatability),
        "between_deg": _six(spread.between),
        "interaction_deg": _six(spread.interaction),
        "grr_deg": _six(spread.grr),
        "positions_deg": _six(spread.positions),
        "total_deg": _six(spread.total),
        "grr_share": _six(spread.grr_share),
        "ndc": spread.ndc,
    }


def views_document(one: DialViews) -> dict[str, Any]:
    """What `needlewright repeatability --by view --json` says of one dial."""
    spread = one.spread
    return {
        "needles": spread.needles,
        "views": spread.views,
        "spread_deg": _six(spread.spread_deg),
        "stated_deg": _six(spread.stated_deg),
        "u_view_deg": _six(spread.u_view_deg),
        "u_view_interval_deg": [_six(spread.low_deg), _six(spread.high_deg)],
    }


def _six(number: float | None) -> float | None:
    return None if number is None else round(number, 6)


def strips_of(one: DialStudy) -> DialStrips:
    """The strips of one dial, a strip for each person or camera."""
    dial, table = one.dial, one.table
    means = table.angles_deg.mean(axis=(1, 2))
    values = [_place(dial, p.commanded, p.angle_deg) for p in table.positions]
    strips = []
    for i, who in enumerate(table.people):
        away = table.angles_deg[:, i, :] - means[:, np.newaxis]
        cells = zip(values, away, strict=True)
        strips.append(PersonStrip(who, tuple(Repeated(v, tuple(map(float, a))) for v, a in cells)))
    ev = one.anova.spread.repeatability
    subtitle = (
        f"repeatability {ev:.3f}°, reproducibility {one.anova.spread.reproducibility:.3f}° (k = 1);"
        f" the band is ± {COVERAGE_K:g} × repeatability"
    )
    return _strips(dial, subtitle, tuple(strips), COVERAGE_K * ev)


def view_strips_of(one: DialViews) -> DialStrips:
    """One strip of all views of a dial's unmoved needles."""
    cells = []
    for rows in one.groups:
        angles = np.array([row.angle_deg for row in rows], dtype=np.float64)
        away = tuple(map(float, angles - angles.mean()))
        place = _place(one.dial, rows[0].commanded, float(angles.mean()))
        cells.append(Repeated(place, away))
    subtitle = (
        f"views differ by {one.spread.spread_deg:.3f}°, readings state {one.spread.stated_deg:.3f}°"
        f" (k = 1); the band is ± {COVERAGE_K:g} × what they state"
    )
    strip = PersonStrip(f"{one.spread.views} views", tuple(cells))
    return _strips(one.dial, subtitle, (strip,), COVERAGE_K * one.spread.stated_deg)


def _strips(
    dial: Dial, subtitle: str, strips: tuple[PersonStrip, ...], band_deg: float
) -> DialStrips:
    marks = tuple(zip(dial.scale.values, dial.scale.angles_deg, strict=True))
    return DialStrips(dial.id, subtitle, unit_for_people(dial.unit), marks, strips, band_deg)


def _place(dial: Dial, commanded: float | None, angle_deg: float) -> float:
    """The value told, or at rest the one the needle stands at; far off the scale its nearer end."""
    if commanded is not None:
        return commanded
    try:
        return dial.scale.value_at(dial.scale.on_branch(angle_deg))
    except ScaleError:
        below = dial.scale.sense * (angle_deg - dial.scale.angles_deg[0]) < 0
        return dial.scale.values[0 if below else -1]
