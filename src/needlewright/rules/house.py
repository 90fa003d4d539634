"""House rules: what a shop asks of a gauge that no rule covers, as the family file states it."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import isfinite
from typing import Final

from needlewright.errors import RuleError
from needlewright.rules.model import Limits

EXAMPLE: Final = '{"house": {"of_span": 0.01}} or {"house": {"of_graduation": 0.5}}'


@dataclass(frozen=True, slots=True)
class HouseRule:
    """Shown within a fixed distance of true, over the whole scale.

    Parameters
    ----------
    unit
        The dial's unit.
    tolerance
        In that unit.
    formula
        With the share it came from.

    Notes
    -----
    **Source** the family file; common practice, no source.
    """

    unit: str
    tolerance: float
    formula: str
    code: str = "house"
    title: str = "House rule of the family"
    source: str = "house rule stated by the family file; common practice, no source"
    applies: str = "applied at every commanded value above the first mark"
    allows_reading_low: bool = True

    def limits(self, true_value: float) -> Limits | None:
        """Limits of the shown value, in the dial's unit."""
        return Limits(true_value - self.tolerance, true_value + self.tolerance)

    def check_points(self) -> tuple[float, ...]:
        """None are named."""
        return ()

    def covers(self, point: float, true_value: float, shown: float) -> bool:
        """Never asked, as no point is named."""
        return point == true_value


def house_rule(
    share_of: Mapping[str, float],
    *,
    unit: str,
    scale_values: tuple[float, float],
    graduation: float | None,
) -> HouseRule:
    """Make a house rule from what stands under `house` in a family file.

    Parameters
    ----------
    share_of
        Exactly one of `of_span` and `of_graduation`, with its share above zero.
    unit
        The dial's unit.
    scale_values
        First and last mark.
    graduation
        Interval of the printed graduations; needed for `of_graduation`.

    Returns
    -------
    HouseRule
        Bound to the dial.

    Raises
    ------
    RuleError
        If the share is missing, unknown or not above zero, or no graduation is known.
    """
    if not isinstance(share_of, Mapping) or len(share_of) != 1:
        raise RuleError(f"a house rule holds exactly one share, {EXAMPLE}; given: {share_of!r}")
    ((kind, share),) = share_of.items()
    if isinstance(share, bool) or not isinstance(share, int | float) or not isfinite(share):
        raise RuleError(f"house rule '{kind}' must be a number above zero; given: {share!r}")
    if share <= 0:
        raise RuleError(f"house rule '{kind}' must be above zero; given: {share:g}")
    if kind == "of_span":
        tolerance = share * (scale_values[1] - scale_values[0])
        return HouseRule(unit, tolerance, f"|V1 - V2| <= {share:g} of the span of the scale")
    if kind == "of_graduation":
        if graduation is None:
            raise RuleError(
                "house rule 'of_graduation' needs the dial's graduation; state 'graduation' in "
                "the family file, or use 'of_span'"
            )
        return HouseRule(unit, share * graduation, f"|V1 - V2| <= {share:g} of a graduation")
    raise RuleError(f"house rule '{kind}' is not known; use {EXAMPLE}")
