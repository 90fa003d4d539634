"""Resistors that stand in for a sender, and what they do to the gauge."""

from dataclasses import dataclass, replace
from typing import Final

from needlewright.errors import SignalError, SumError
from needlewright.rules.decision import COVERAGE_K
from needlewright.signals.line_table import LineTable
from needlewright.signals.preferred import LOWEST_OHM, Series, Substitute, best_substitute, nearest
from needlewright.signals.preferred import TOLERANCE as TOLERANCES

FINE_ENOUGH: Final = 0.25
"""Share of the gauge's own error that its test may add (common practice, no source)."""
WIRE_BELOW_OHM: Final = LOWEST_OHM / 2


@dataclass(frozen=True, slots=True)
class PointSubstitute:
    """What stands in at one point of the gauge; shares are of the gauge's span."""

    value: float
    """What the gauge should show."""
    wanted_ohm: float
    resistors: tuple[float, ...]
    """None of them: a wire."""
    joined: str
    """`single`, `series`, `parallel`, or `wire`."""
    ohm: float
    u_ohm: float
    """k = 1, by the resistors' tolerance."""
    shows: float
    """What the gauge shows with them, if itself without error."""
    least: float
    """What it may show by the tolerance, k = 2."""
    most: float
    hottest_w: float | None = None
    """Heat of the hotter of its resistors; None: the gauge's feed is not known."""


@dataclass(frozen=True, slots=True)
class SenderSubstitute:
    """Substitutes at every point of a gauge."""

    gauge: LineTable
    series: Series
    points: tuple[PointSubstitute, ...]
    gauge_share: float
    """Of the span, what the gauge itself may be off."""

    @property
    def span(self) -> float:
        """From the first to the last point."""
        return self.gauge.values[-1] - self.gauge.values[0]

    @property
    def worst_share(self) -> float:
        """The furthest that resistors put the needle off, of the span."""
        return max(
            max(abs(one.least - one.value), abs(one.most - one.value)) for one in self.points
        ) / abs(self.span)

    @property
    def hottest(self) -> PointSubstitute | None:
        """The point whose resistors get hottest; None where that is not known."""
        known = [one for one in self.points if one.hottest_w is not None]
        return max(known, key=lambda one: one.hottest_w or 0.0, default=None)

    @property
    def fine_enough(self) -> bool:
        """Whether that is small beside the gauge's own error."""
        return self.worst_share <= FINE_ENOUGH * self.gauge_share


def substitutes(
    gauge: LineTable,
    values: tuple[float, ...],
    series: Series,
    *,
    one_only: bool,
    gauge_share: float,
    feed: tuple[float, float] | None = None,
) -> SenderSubstitute:
    """Resistors for every point of a gauge.

    Parameters
    ----------
    gauge
        What it shows, and at which ohms.
    values
        Points to stand in at, in the gauge's unit.
    series
        Of the resistors.
    one_only
        Whether only single resistors are wanted, not two in series or parallel.
    gauge_share
        What the gauge itself may be off, a share of its span.
    feed
        V and ohm: what the gauge is fed with, and its own resistance in that circuit; None: not
        known.

    Returns
    -------
    SenderSubstitute
        Less than `WIRE_BELOW_OHM` is a wire.

    Raises
    ------
    SumError
        If a resistance cannot be made of what is kept.

    Notes
    -----
    **Source**: preferred values and tolerances IEC 60063, tolerances as rectangular limits (JCGM
    100, 4.3.7); a gauge linear in ohms between its points is a simplification.
    """
    try:
        points = tuple(_heated(_point(gauge, value, series, one_only), feed) for value in values)
    except SignalError as error:
        raise SumError(f"Gauge points: {error}; correct the resistance") from None
    return SenderSubstitute(gauge, series, points, gauge_share)


def shown_with(gauge: LineTable, sender: LineTable, value: float) -> float:
    """What a gauge shows that has another sender than its own.

    Parameters
    ----------
    gauge
        Of the gauge's own sender.
    sender
        Of the one that is there.
    value
        What is there to be shown.

    Returns
    -------
    float
        Linear in ohms, continued past the ends.
    """
    return gauge.value_at(sender.level_of(value))


def _point(gauge: LineTable, value: float, series: Series, one_only: bool) -> PointSubstitute:
    wanted = max(gauge.level_of(value), 0.0)
    if wanted < WIRE_BELOW_OHM:
        shows = gauge.value_at(0.0)
        return PointSubstitute(value, wanted, (), "wire", 0.0, 0.0, shows, shows, shows)
    made = _single(wanted, series) if one_only else best_substitute(wanted, series)
    spread = COVERAGE_K * made.u_ohm
    ends = sorted(gauge.value_at(max(made.ohm + sign * spread, 0.0)) for sign in (-1, 1))
    return PointSubstitute(
        value, wanted, made.resistors, made.joined, made.ohm, made.u_ohm,
        gauge.value_at(made.ohm), ends[0], ends[1],
    )  # fmt: skip


def _heated(point: PointSubstitute, feed: tuple[float, float] | None) -> PointSubstitute:
    """The same with the heat of its hotter resistor, by Ohm's and Joule's laws."""
    if feed is None:
        return point
    if not point.resistors:
        return replace(point, hottest_w=0.0)
    volts, own_ohm = feed
    amps = volts / (own_ohm + point.ohm)
    if point.joined == "parallel":
        return replace(point, hottest_w=(amps * point.ohm) ** 2 / min(point.resistors))
    return replace(point, hottest_w=amps**2 * max(point.resistors))


def _single(wanted: float, series: Series) -> Substitute:
    value = nearest(wanted, series)
    u = TOLERANCES[series] * value / 3**0.5
    return Substitute(series, "single", (value,), value, value - wanted, u)
