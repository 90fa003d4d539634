"""Which solder goes on which: what is asked and told."""

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
from needlewright.plans.sums.solder import (
    BOARD_PPM_K,
    CERAMIC_PPM_K,
    CREEPS_FROM,
    LEAST_MARGIN_K,
    MIXED_SOLIDUS_C,
    AlloyName,
    OldAlloy,
    SolderChoice,
    choose_solder,
)
from needlewright.plans.sums.wording import number, with_unit

NAMES: Final = (
    ("Sn63Pb37", "Sn63Pb37, tin-lead"),
    ("Sn60Pb40", "Sn60Pb40, tin-lead"),
    ("SAC305", "SAC305, lead-free"),
)


def _work(given: Given) -> SolderChoice:
    return choose_solder(
        cast(AlloyName, given.word("new")),
        cast(OldAlloy, given.word("old")),
        coldest_c=given.number("coldest"),
        hottest_c=given.number("hottest"),
        part_mm=given.number("part"),
    )


def _told(choice: SolderChoice) -> Told:
    new = choice.new
    low, high = choice.work_c
    return Told(
        (
            Figure("liquidus_c", f"{new.name} is all molten above", new.liquidus_c, "degC"),
            Figure("solidus_c", f"{new.name} is all solid below", new.solidus_c, "degC"),
            Figure("joint_solidus_c", "This joint begins to melt at", choice.solidus_c, "degC"),
            Figure(
                "work_c", "The joint is heated to, when soldered", (low + high) / 2, "degC",
                low, high,
            ),
            Figure("margin_k", "From the hottest in the vehicle to melting", choice.margin_k, "K"),
            Figure("homologous", "Hottest, of where it melts (in kelvins)", choice.homologous),
            Figure("swing_k", "Swing of its temperature in the vehicle", choice.swing_k, "K"),
            Figure(
                "shear_um", "Board and a ceramic part pull apart at its end by", choice.shear_um,
                "um",
            ),
        ),
        _steps(choice),
        (_mixing(choice), _warmth(choice)),
        _notes(choice),
    )  # fmt: skip


def _mixing(choice: SolderChoice) -> Judged:
    if choice.mixes is None:
        return Judged(
            "bad",
            "The old solder is not known: treat it as leaded, take it off wholly, and take care "
            "of its lead.",
        )
    assert choice.old is not None
    if choice.mixes:
        leaded = choice.new if choice.new.leaded else choice.old
        return Judged(
            "bad",
            f"{choice.new.name} on {choice.old.name} mixes lead and lead-free: the joint may begin "
            f"to melt at {MIXED_SOLIDUS_C:g} °C and ages unlike either. Take the old solder off "
            f"wholly, or use {choice.old.name}. {leaded.name} makes the joint a leaded one.",
        )
    if choice.new.name == choice.old.name:
        return Judged("good", f"{choice.new.name} on {choice.old.name}: the same solder.")
    return Judged("good", f"{choice.new.name} and {choice.old.name} are both tin-lead, and mix.")


def _warmth(choice: SolderChoice) -> Judged:
    margin = f"{choice.margin_k:g} K"
    if choice.margin_k < LEAST_MARGIN_K:
        return Judged(
            "bad",
            f"The vehicle comes within {margin} of melting it: less than the {LEAST_MARGIN_K:g} K "
            "a joint should keep."
            if choice.margin_k > 0
            else "The vehicle melts it.",
        )
    return Judged("good", f"The hottest in the vehicle stays {margin} below melting.")


def _notes(choice: SolderChoice) -> tuple[str, ...]:
    notes = []
    if choice.old is not None and choice.old.liquidus_c > choice.new.liquidus_c:
        notes.append(
            f"To take the old solder off, all of it must be molten: above "
            f"{choice.old.liquidus_c:g} °C."
        )
    if choice.homologous > CREEPS_FROM:
        notes.append(
            f"At {choice.homologous:.2f} of where it melts the solder creeps: it gives way to any "
            "lasting pull, so that every cycle works it. Brace heavy parts; leave no strained leg."
        )
    if choice.new.liquidus_c > choice.new.solidus_c:
        notes.append(
            f"Between {choice.new.solidus_c:g} and {choice.new.liquidus_c:g} °C {choice.new.name} "
            "is a paste: a joint that moves there stays cracked. Hold it still until it is solid."
        )
    return tuple(notes)


def _steps(choice: SolderChoice) -> tuple[Step, ...]:
    return (
        Step(
            "Of where it melts",
            "(T + 273.15) / (T solidus + 273.15)",
            f"({choice.hottest_c:g} + 273.15) / ({choice.solidus_c:g} + 273.15) = "
            f"{number(choice.homologous)}",
        ),
        Step(
            "Swing",
            "T hottest − T coldest",
            f"{choice.hottest_c:g} − ({number(choice.coldest_c)}) = {choice.swing_k:g} K",
        ),
        Step(
            "Pull at the end of a ceramic part",
            "(α board − α part) ΔT l / 2",
            f"({BOARD_PPM_K:g} − {CERAMIC_PPM_K:g}) × 10^(−6) × {choice.swing_k:g} × "
            f"{choice.half_length_mm:g} mm = {with_unit(choice.shear_um, 'um')}",
        ),
    )


SOLDER: Final = Sum(
    name="solder",
    title="Solder: which on which, and what the joint sees",
    what_for=(
        "Which solder may go on the one that is there, what it is heated to, and how near the "
        "vehicle comes to melting, creep and fatigue."
    ),
    inputs=(
        Choice("new", "Solder put on", NAMES, "Sn63Pb37"),
        Choice("old", "Solder that is there", (*NAMES, ("unknown", "not known")), "SAC305"),
        Amount("hottest", "Hottest in the vehicle", "degC", -20.0, 200.0, 85.0),
        Amount("coldest", "Coldest in the vehicle", "degC", -60.0, 100.0, -30.0),
        Amount("part", "Length of the part between its joints", "mm", 0.2, 100.0, 6.3),
    ),
    work=_work,
    told=_told,
    source=(
        "Solidus and liquidus of the alloys, and the ternary eutectic of tin, lead and silver at "
        "179 °C, from a public table of solder alloys: 183/183, 183/190 (tables have 188 to 191), "
        "217/220 °C; NIST has 217.2 °C for tin, silver and copper (JOM 56, 2004). Growth: board 15 "
        "× 10^−6 a kelvin, Hollomon, quoted in the archive of IPC's forum, 1996; ceramic 6.5 × "
        "10^−6, IEC TR 62380, seen second-hand. 20 to 40 K above the liquidus, 30 K below the "
        "solidus: common practice, no source"
    ),
    limits=(
        "These three alloys. Bismuth solders, which with lead begin to melt at 95 °C (Moon and "
        "others, NIST), and the finish of the part are not in it. The pull is that of a free part: "
        "legs that bend take most of it."
    ),
    drawing=(
        "Each solder on a line of temperature: solid, paste and molten, with the vehicle's swing "
        "below it."
    ),
    cautions=(
        SUPPLY_OFF,
        "Lead: do not eat or drink at the bench, wash your hands, keep leaded waste apart.",
        "Solder fumes: draw them off.",
        "Static: ground yourself before the board is touched.",
    ),
)
