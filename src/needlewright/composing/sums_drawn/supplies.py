"""Drawings of the sums about the bench supply."""

from needlewright.papers.sums_bars import Bars, draw_bars
from needlewright.plans.sums.described.supply_fuse import SUPPLY_FUSE
from needlewright.plans.sums.supply_fuse import SupplyFuse
from needlewright.plans.sums.wording import with_unit


def supply_fuse(supply: SupplyFuse) -> str:
    """What flows, against limit, fuse and lead."""

    def bar(words: str, amps: float) -> tuple[str, float, str]:
        return words, amps, with_unit(amps, "A")

    limits = [
        (supply.limit_a, f"limit {with_unit(supply.limit_a, 'A')}", False),
        (supply.fuse_a, f"fuse {supply.speed} {supply.fuse_a:g} A", False),
    ]
    last = 1.25 * max(supply.limit_a, supply.fuse_a)
    if supply.lead_a <= 3 * last:
        last = max(last, 1.1 * supply.lead_a)
        words = f"lead {with_unit(supply.lead_a, 'A')}"
        limits.append((supply.lead_a, words, not supply.lead_is_guarded))
    return draw_bars(
        Bars(
            "What flows on the lead",
            "A",
            last,
            (
                bar("running", supply.running_a),
                bar("lamp check", supply.lamp_check_a),
                bar("switching on, some milliseconds", supply.inrush_a),
            ),
            tuple(limits),
        ),
        SUPPLY_FUSE.drawing,
    )
