"""How high a needle is set: the gauge to press to, what it leaves, and what was measured."""

from dataclasses import dataclass, replace
from math import hypot
from typing import Final

from needlewright.errors import PlanError
from needlewright.plans.height.clearances import (
    Clearance,
    Setting,
    clearances_of,
    gauge_window,
    values_of,
)
from needlewright.plans.height.stack import HeightLimits, Stack, Toleranced
from needlewright.rules.decision import COVERAGE_K

ROUND_TO_MM: Final = 0.05
"""Gauges are chosen in such steps (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Measured:
    """A needle's height as photos tell it, against what the stack says."""

    top_mm: float
    u_top_mm: float
    """Standard uncertainty, k = 1."""
    stack_top_mm: float
    u_stack_mm: float
    clear_mm: float
    """Needle's underside at the tip above the face, as measured."""
    u_clear_mm: float

    @property
    def off_mm(self) -> float:
        """Measured less stack."""
        return self.top_mm - self.stack_top_mm

    @property
    def agrees(self) -> bool:
        """Whether they differ by no more than both say (k = 2)."""
        return abs(self.off_mm) <= COVERAGE_K * hypot(self.u_top_mm, self.u_stack_mm)


@dataclass(frozen=True, slots=True)
class NeedleHeight:
    """How high a needle is set."""

    stack: Stack
    limits: HeightLimits
    setting: Setting
    set_to: Toleranced
    """Gauge under the hub, or depth pressed."""
    is_chosen: bool
    """Whether it was worked out here."""
    window_mm: tuple[float, float]
    """Gauges that keep every limit in the worst case; the first above the second: none does."""
    gap_mm: float
    """Underside of the hub above the face: what a feeler gauge is put under."""
    hub_top_mm: float
    """Top of the hub above the face: what a depth gauge measures."""
    top_mm: float
    """Needle's top surface at the hub above the face, as a family's `height_mm`."""
    clearances: tuple[Clearance, ...]
    chance_outside: float
    measured: Measured | None = None

    @property
    def keeps_worst_case(self) -> bool:
        """Whether every limit is kept with every length at its worst."""
        return all(one.room_mm >= -1e-9 for one in self.clearances)


def needle_height(
    stack: Stack,
    limits: HeightLimits,
    *,
    setting: Setting = "gauge",
    set_to: Toleranced | None = None,
    gauge_tolerance_mm: float = 0.0,
) -> NeedleHeight:
    """Work out how high a needle is set, and what that leaves.

    Parameters
    ----------
    stack
        The lengths.
    limits
        What must be kept.
    setting
        By a gauge under the hub, or by the depth pressed.
    set_to
        Its length; None: the gauge in the middle of those that keep every limit.
    gauge_tolerance_mm
        Of the gauge that is chosen.

    Returns
    -------
    NeedleHeight
        With every clearance, worst case and by trials.

    Raises
    ------
    PlanError
        If a depth is asked for that nobody stated, or is deeper than the bore.
    """
    gauge = Toleranced(0.0, gauge_tolerance_mm)
    is_chosen = set_to is None
    if set_to is None:
        if setting == "depth":
            raise PlanError("press: a depth is not chosen here; state it in mm, or use a gauge")
        least, most = gauge_window(stack, gauge, limits)
        set_to = replace(gauge, mm=_chosen(least, most))
    if setting == "depth" and set_to.mm > stack.bore.mm:
        raise PlanError(
            f"press: {set_to.mm:g} mm is deeper than the bore, which is {stack.bore.mm:g} mm; the "
            "hub bottoms out before; state how far the shaft is in the hub"
        )
    if setting == "gauge" and set_to.mm > stack.shaft.mm - stack.face.mm:
        raise PlanError(
            f"gauge: {set_to.mm:g} mm is higher than the shaft stands out of the face, "
            f"{stack.shaft.mm - stack.face.mm:g} mm; the hub would not reach it"
        )
    window = gauge_window(stack, set_to if setting == "gauge" else gauge, limits)
    lengths = {name: one.mm for name, one in stack.named().items()} | {"set_to": set_to.mm}
    at = values_of(lengths, setting)
    gap = float(at["hub to face"])
    found, chance = clearances_of(stack, set_to, setting, limits)
    return NeedleHeight(
        stack, limits, setting, set_to, is_chosen, window, gap, gap + stack.hub.mm,
        float(at["top"]), found, chance,
    )  # fmt: skip


def none_fits(found: NeedleHeight) -> bool:
    """Whether a gauge was to be chosen and none keeps every limit, so that none is shown as set."""
    least, most = found.window_mm
    return found.setting == "gauge" and found.is_chosen and least > most


def _chosen(least: float, most: float) -> float:
    """The middle, in steps of a gauge set where that stays inside."""
    middle = max((least + most) / 2, 0.0)
    rounded = round(round(middle / ROUND_TO_MM) * ROUND_TO_MM, 6)
    return rounded if least <= rounded <= most else middle


def with_measured(found: NeedleHeight, top_mm: float, u_top_mm: float) -> NeedleHeight:
    """Set a measured height beside the stack.

    Parameters
    ----------
    found
        What the stack says.
    top_mm
        Face to the needle's top surface, as `family calibrate` measures it.
    u_top_mm
        Its standard uncertainty (k = 1).

    Returns
    -------
    NeedleHeight
        With the comparison.

    Raises
    ------
    PlanError
        If it is no height.
    """
    stack = found.stack
    if not (top_mm > 0 and u_top_mm > 0):
        raise PlanError(
            f"measured height: given {top_mm:g} mm with u = {u_top_mm:g} mm; both must be above 0"
        )
    lengths = [stack.blade, stack.thickness, found.set_to]
    if found.setting == "depth":
        lengths += [stack.shaft, stack.face]
    clear = top_mm - stack.thickness.mm - stack.droop.mm
    measured = Measured(
        top_mm,
        u_top_mm,
        found.top_mm,
        hypot(*(one.u_mm for one in lengths)),
        clear,
        hypot(u_top_mm, stack.thickness.u_mm, stack.droop.u_mm),
    )
    return replace(found, measured=measured)
