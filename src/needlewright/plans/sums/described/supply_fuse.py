"""Supply fuse and current limit: what is asked and told."""

from typing import Final, cast

from needlewright.amounts import grouped
from needlewright.plans.sums.model import (
    FUSE_POLARITY,
    Amount,
    Choice,
    Figure,
    Given,
    Judged,
    Step,
    Sum,
    Told,
)
from needlewright.plans.sums.supply_fuse import (
    LIMIT_OVER_LOAD,
    LOAD_OF_FUSE,
    PULSE_SHARE,
    SupplyFuse,
    Switchings,
    supply_fuse,
)
from needlewright.plans.sums.wording import number, with_unit

SPEEDS: Final = {"T": "slow", "F": "quick"}


def _work(given: Given) -> SupplyFuse:
    return supply_fuse(
        given.number("supply"),
        given.number("electronics") / 1000,
        given.number("movements") / 1000,
        backlight_w=given.number("backlight"),
        tell_tales_w=given.number("tell-tales"),
        cold_factor=given.number("cold"),
        lead_mm2=given.number("lead"),
        bears_share=given.number("bears") / 100,
        inrush_s=given.number("falls") / 1000,
        switchings=cast(Switchings, given.word("switchings")),
        melts_a2s=given.maybe("melts"),
    )


def _told(supply: SupplyFuse) -> Told:
    fuse = f"{supply.speed} {supply.fuse_a:g} A"
    return Told(
        (
            Figure("limit_a", "Current limit to set", supply.limit_a, "A"),
            Figure("fuse_a", f"Fuse, {SPEEDS[supply.speed]}", supply.fuse_a, "A", said=fuse),
            Figure(
                "lamp_check_a", "The most that flows, in the lamp check", supply.lamp_check_a, "A"
            ),
            Figure("running_a", "Flows when running", supply.running_a, "A"),
            Figure("inrush_a", "For some milliseconds, lamps cold", supply.inrush_a, "A"),
            Figure("lead_a", "The lead bears", supply.lead_a, "A"),
            Figure("inrush_a2s", "I²t of one inrush", supply.inrush_a2s, "A2s"),
            Figure("wanted_a2s", "The fuse melts at no less than", supply.wanted_a2s, "A2s"),
        ),
        _steps(supply),
        (_judged(supply, fuse), *_lives(supply)),
        _notes(supply),
    )


def _judged(supply: SupplyFuse, fuse: str) -> Judged:
    lead = with_unit(supply.lead_a, "A")
    if supply.lead_is_guarded:
        return Judged("good", f"The fuse, {fuse}, goes before the lead, which bears {lead}.")
    return Judged("bad", f"The lead bears {lead}, less than the fuse, {fuse}: take a thicker one.")


def _lives(supply: SupplyFuse) -> tuple[Judged, ...]:
    if supply.melts_a2s is None:
        return ()
    melts, wanted = with_unit(supply.melts_a2s, "A2s"), with_unit(supply.wanted_a2s, "A2s")
    if supply.lives:
        return (Judged("good", f"It melts at {melts}, not below {wanted}: the inrush spares it."),)
    return (
        Judged(
            "bad",
            f"It melts at {melts}, below {wanted}: the inrush wears it out; take a slow fuse with "
            "more, or a limit that acts at once.",
        ),
    )


def _notes(supply: SupplyFuse) -> tuple[str, ...]:
    if supply.inrush_a <= supply.limit_a:
        return ()
    return (
        f"At switching on the lamps ask for {with_unit(supply.inrush_a, 'A')}, more than the "
        "limit: the supply holds it and its voltage sags until they are warm. Where the cluster "
        "starts anew then, switch the lamps on after it.",
    )


def _steps(supply: SupplyFuse) -> tuple[Step, ...]:
    check = number(supply.lamp_check_a)
    return (
        Step(
            "The most that flows",
            "I = I₁ + I₂ + (P₁ + P₂) / U",
            f"electronics, movements, backlight, tell-tales: {check} A",
        ),
        Step(
            "Current limit",
            f"{LIMIT_OVER_LOAD:g} I, rounded up to 0.05 A",
            f"{LIMIT_OVER_LOAD:g} × {check} = {number(LIMIT_OVER_LOAD * supply.lamp_check_a)}, so "
            f"{with_unit(supply.limit_a, 'A')}",
        ),
        Step(
            "Fuse",
            f"I / ({LOAD_OF_FUSE:g} × what it bears), the next of the series",
            f"{check} / ({LOAD_OF_FUSE:g} × {supply.bears_share:g}) = "
            f"{number(supply.lamp_check_a / (LOAD_OF_FUSE * supply.bears_share))}, so "
            f"{supply.fuse_a:g} A",
        ),
        Step(
            "I²t of one inrush, above what flows steadily",
            "τ (D^2 / 2 + 2 D I), D = I₀ − I",
            f"I₀ = {number(supply.inrush_a)} A, I = {check} A: "
            f"{with_unit(supply.inrush_a2s, 'A2s')}",
        ),
    )


SUPPLY_FUSE: Final = Sum(
    name="supply-fuse",
    title="Supply: current limit and fuse",
    what_for=(
        "What the bench supply is limited to before a cluster is switched on, and which fuse "
        "stands behind it in case the limit is set wrongly."
    ),
    inputs=(
        Amount("supply", "Supply", "V", 3.0, 60.0, 13.5),
        Amount("electronics", "Electronics, lamps off", "mA", 1.0, 5000.0, 250.0),
        Amount("movements", "Movements, driven", "mA", 0.0, 5000.0, 150.0),
        Amount("backlight", "All backlight lamps", "W", 0.0, 100.0, 12.0),
        Amount("tell-tales", "All tell-tales of the lamp check", "W", 0.0, 100.0, 14.0),
        Amount("cold", "Cold lamps draw", "", 1.0, 20.0, 10.0, "10 to 15 times; 1 for LEDs"),
        Amount("lead", "Section of the lead", "mm2", 0.05, 10.0, 0.5),
        Amount(
            "bears", "The fuse bears, where it is, of its rating", "%", 20.0, 130.0, 100.0,
            "from its data: 100 at 25 °C; a slow one at 70 °C some 80",
        ),
        Amount("falls", "The inrush falls to a third in", "ms", 0.1, 1000.0, 20.0, "37 %, exactly"),
        Choice(
            "switchings",
            "It is switched on",
            tuple(
                (n, f"{grouped(int(n))} times, {share:.0%} a time")
                for n, share in PULSE_SHARE.items()
            ),
            "10000",
        ),
        Amount(
            "melts", "The fuse melts at, I²t", "A2s", 0.0001, 100_000.0, None, "from its data"
        ),
    ),
    work=_work,
    told=_told,
    source=(
        "Sum of the loads; rated currents IEC 60127-9, sheet 1; fuse loaded to 75 %: Lundy, EDN, "
        "26 September 1996; cold lamps at 10 to 15 times their current: guides of electrical "
        "installation; 10 A/mm² in the lead lies between the 2.8 and 17 of a handbook's table of "
        "wires (see broken-trace); limit 1.25 of the load: common practice, no source. I²t of an "
        "inrush, what of it a fuse lives through how often, and that shares multiply: a fuse "
        "maker's guide, 2017"
    ),
    limits=(
        "Direct current and one lead. I²t is that of lamps nothing limits: a supply that holds its "
        "limit at once lets less through, but for what its output capacitor holds. A cluster that "
        "draws more than this has a fault: find it before the limit is raised."
    ),
    drawing="What flows when running, in the lamp check and at switching on, as bars against the "
    "limit, the fuse and the lead.",
    cautions=(FUSE_POLARITY,),
)  # fmt: skip
