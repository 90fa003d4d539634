"""What share of a dial's tolerance its reading uses up."""

from collections.abc import Iterable

from needlewright.families.model import Dial
from needlewright.proofs.repeatability.table import Position
from needlewright.rules.book import rule_for

WIDTHS: float = 6.0
"""Standard deviations across what a reading may be taken to spread over (AIAG, 4th edition)."""


def narrowest_tolerance_deg(dial: Dial, positions: Iterable[Position]) -> float | None:
    """Width of the tightest tolerance among the positions that a study has, in needle angle.

    Parameters
    ----------
    dial
        The dial; its rule gives the limits.
    positions
        Of the study.

    Returns
    -------
    float or None
        Degrees; None where no rule limits any of the positions on both sides.
    """
    if dial.rule is None:
        return None
    scale = dial.scale
    rule = rule_for(
        dial.rule,
        unit=dial.unit,
        scale_values=(scale.values[0], scale.values[-1]),
        graduation=dial.graduation,
    )
    widths = []
    for position in positions:
        if position.commanded is None:
            continue
        limits = rule.limits(position.commanded)
        if limits is None or limits.lower is None or limits.upper is None:
            continue
        slope = abs(scale.slope_at(scale.on_branch(position.angle_deg)))
        widths.append((limits.upper - limits.lower) / slope)
    return min(widths, default=None)
