"""A broken track of a board: what is asked and told."""

from typing import Final, cast

from needlewright.plans.sums.model import (
    SUPPLY_OFF,
    Amount,
    Choice,
    Figure,
    Given,
    Judged,
    Step,
    Sum,
    Told,
)
from needlewright.plans.sums.trace import (
    COPPER_LIMITS_UM,
    CURRENT_LIMITS_A,
    FACTOR,
    MIL_MM,
    RISE_LIMITS_K,
    WIRE_A_PER_MM2,
    Side,
    Trace,
    broken_trace,
)
from needlewright.plans.sums.wording import number, with_unit


def _work(given: Given) -> Trace:
    return broken_trace(
        given.number("current"),
        given.number("width"),
        given.number("copper"),
        cast(Side, given.word("side")),
        length_mm=given.number("length"),
        allowed_k=given.number("allowed"),
        around_c=given.number("around"),
        most_drop_v=_volts(given.maybe("drop")),
    )


def _volts(millivolts: float | None) -> float | None:
    return None if millivolts is None else millivolts / 1000


def _told(trace: Trace) -> Told:
    wire = trace.wire
    first = Figure("wire", "Jumper wire", None, said="none of gauge 10 to 40 will do")
    if wire is not None:
        first = Figure(
            "wire_awg",
            "Jumper wire, solid",
            float(wire.gauge),
            said=f"AWG {wire.gauge}, {wire.diameter_mm:.2f} mm",
        )
    figures = [
        first,
        Figure(
            "rise_k",
            "The track is warmer than the board by",
            trace.rise_k,
            "K",
            said="" if trace.rise_k is not None else rise_words(trace),
        ),
        Figure("carries_a", "It carries, for what it may be warmer", trace.carries_a, "A"),
        Figure("needed_mm", "Width for that, at this current", trace.needed_mm, "mm"),
        Figure(
            "needed_2152_mm",
            "The same by IPC-2152, a fit to its charts",
            trace.needed_2152_mm,
            "mm",
        ),
        Figure(
            "trace_board_mohm",
            "Resistance of the track, as warm as the board",
            1000 * trace.board_ohm,
            "mohm",
        ),
    ]
    if trace.ohm is not None and trace.drop_v is not None:
        figures += [
            Figure("trace_mohm", "Resistance of the track, warm", 1000 * trace.ohm, "mohm"),
            Figure("drop_mv", "Voltage along it", 1000 * trace.drop_v, "mV"),
        ]
    if wire is not None and trace.wire_ohm is not None and trace.wire_drop_v is not None:
        figures += [
            Figure("wire_mohm", "Resistance of the wire, as long", 1000 * trace.wire_ohm, "mohm"),
            Figure("wire_drop_mv", "Voltage along the wire", 1000 * trace.wire_drop_v, "mV"),
            Figure("wire_mm2", "Section of the wire", wire.area_mm2, "mm2"),
        ]
    figures.append(Figure("trace_mm2", "Section of the track", trace.area_mm2, "mm2"))
    return Told(tuple(figures), _steps(trace), (_judged(trace),), _notes(trace))


NO_WIRE: Final = (
    "No wire of gauge 10 to 40 is thick enough: take several side by side, a shorter way, or let "
    "more be lost."
)


def rise_words(trace: Trace) -> str:
    """How much warmer than the board: `33.1 K`, `more than 100 K`."""
    if trace.rise_k is None:
        return f"more than {RISE_LIMITS_K[1]:g} K"
    return with_unit(trace.rise_k, "K")


def _judged(trace: Trace) -> Judged:
    rise = rise_words(trace)
    if trace.is_too_warm:
        return Judged(
            "bad",
            f"The track warms by {rise}, more than the {trace.allowed_k:g} K it may: ask what "
            "drew the current before it is bridged.",
        )
    return Judged("good", f"The track warms by {rise}, of the {trace.allowed_k:g} K it may.")


def _notes(trace: Trace) -> tuple[str, ...]:
    none: tuple[str, ...] = () if trace.wire is not None else (NO_WIRE,)
    if trace.needed_mm <= trace.width_mm < trace.needed_2152_mm:
        none += (
            "The newer charts, which were measured on boards without planes of copper, ask for "
            f"{number(trace.needed_2152_mm)} mm: without such planes it warms by more than told.",
        )
    if trace.is_beyond_curves:
        least, thickest = COPPER_LIMITS_UM
        none += (
            f"The curves were drawn up to {CURRENT_LIMITS_A[trace.side]:g} A {trace.side} and for "
            f"copper of {least:g} to {thickest:g} µm: here the formula is carried beyond them.",
        )
    low, high = RISE_LIMITS_K
    if trace.rise_k is None:
        return (
            *none,
            f"The curves behind the formula end at {high:g} K, and so does what is told: how warm "
            "this track gets, its resistance then and what is lost along it nobody can say.",
        )
    if trace.rise_k < low:
        return (
            *none,
            f"The curves behind the formula begin at {low:g} K: below, the rise is a guess.",
        )
    return none


def _steps(trace: Trace) -> tuple[Step, ...]:
    k = FACTOR[trace.side]
    area = trace.width_mm * trace.copper_um / 1000 / MIL_MM**2
    bridge = "none is thick enough"
    if trace.wire is not None:
        bridge = f"gauge {trace.wire.gauge}, {number(trace.wire.area_mm2)} mm²"
    return (
        Step(
            "Section of the track",
            "A = w t",
            f"{trace.width_mm:g} mm × {trace.copper_um:g} µm = {number(trace.area_mm2)} mm² = "
            f"{number(area)} square mil",
        ),
        Step(
            "Rise",
            "I = k ΔT^0.44 A^0.725",
            f"{trace.amps:g} = {k:g} × ΔT^0.44 × {number(area)}^0.725: ΔT = "
            f"{rise_words(trace)}".replace("= more", "is more"),
        ),
        Step(
            "Resistance",
            "R = ρ l / A (1 + 0.00393 (t − 20))",
            f"{trace.length_mm:g} mm of it, as warm as the board: "
            f"{with_unit(1000 * trace.board_ohm, 'mohm')}"
            + ("" if trace.ohm is None else f"; warm: {with_unit(1000 * trace.ohm, 'mohm')}"),
        ),
        Step(
            "Jumper wire",
            f"at least the track's section, and I / {WIRE_A_PER_MM2:g} A/mm²"
            + ("" if trace.most_drop_v is None else "; ρ l I / A not more than may be lost"),
            f"at least {number(max(trace.area_mm2, trace.amps / WIRE_A_PER_MM2))} mm²: {bridge}",
        ),
        Step(
            "Its diameter",
            "d = 0.127 mm × 92^((36 − n) / 39)",
            ""
            if trace.wire is None
            else f"n = {trace.wire.gauge}: {trace.wire.diameter_mm:.3f} mm",
        ),
    )[: 5 if trace.wire is not None else 4]


TRACE: Final = Sum(
    name="broken-trace",
    title="Broken track: current, warmth and jumper wire",
    what_for=(
        "Which wire bridges a broken or corroded track, and whether the track itself was up to its "
        "current."
    ),
    inputs=(
        Amount("current", "Current", "A", 0.001, 35.0, 0.5),
        Amount("width", "Width of the track", "mm", 0.05, 10.0, 0.4),
        Amount("copper", "Thickness of the copper", "um", 5.0, 140.0, 35.0, "35 µm is 1 oz"),
        Choice(
            "side", "It lies", (("outside", "outside"), ("inside", "inside the board")), "outside"
        ),
        Amount("length", "Length that is bridged", "mm", 1.0, 1000.0, 40.0),
        Amount("allowed", "It may be warmer than the board by", "K", 10.0, 100.0, 10.0),
        Amount("around", "The board is", "degC", -40.0, 125.0, 25.0),
        Amount(
            "drop", "The wire may lose at most", "mV", 0.01, 5000.0, None,
            "empty: no limit; a thicker wire loses less",
        ),
    ),
    work=_work,
    told=_told,
    source=(
        "IPC-2221: I = k ΔT^0.44 A^0.725, k 0.048 outside and 0.024 inside; IEC 60028 for copper; "
        "ASTM B258 for the wire; 10 A/mm² in a jumper wire lies between the 17 (inside a chassis) "
        "and 2.8 (long leads) of the Handbook of Electronic Tables and Formulas, as quoted. "
        "IPC-2152: a fit to its charts, seen second-hand"
    ),
    limits=(
        "Rises of 10 to 100 K, up to 35 A outside and 17.5 A inside, copper of half an ounce to "
        "three (from memory), one track alone. Neighbours that warm it, and copper "
        "planes that cool it, are not in it. Inside, the factor is that of outside halved, not "
        "measured: IPC-2152, which was, finds tracks inside cooler (Signal Integrity Journal on "
        "tracks inside, seen), so the width told for inside is on the safe side up to ten amperes. "
        "Outside, IPC-2152 asks for more from one to three amperes on. A wire rubs and is pulled: "
        "fix it, and insulate it."
    ),
    drawing="The track's section and the wire's to one scale, and the rise over the current.",
    cautions=(SUPPLY_OFF,),
)  # fmt: skip
