"""Options that say which cluster is rehearsed on."""

from math import isfinite
from typing import Annotated, Final

import typer

from needlewright.errors import UsageError
from needlewright.families.model import Family
from needlewright.rehearsal.cluster.faults import parse_fault
from needlewright.rehearsal.cluster.rehearsal import Unit
from needlewright.rehearsal.movement.figures import REFERENCE_DEGC

COLDEST_DEGC: Final = -40.0
HOTTEST_DEGC: Final = 85.0

Faults = Annotated[
    list[str] | None,
    typer.Option(
        "--fault",
        metavar="DIAL:FAULT=SIZE[@VALUE]",
        help="What is wrong with the rehearsed cluster, like speed:backlash=1.5 or "
        "fuel:dragging=0.4@0.5; VALUE in the dial's unit is where it begins on the way up.",
    ),
]
Seed = Annotated[
    int,
    typer.Option(metavar="S", help="Of what is left to chance in the rehearsed cluster."),
]


def unit_of(
    family: Family, faults: list[str] | None, temperature_degc: float | None, seed: int
) -> Unit:
    """The cluster that is asked for.

    Parameters
    ----------
    family
        The design.
    faults
        As typed.
    temperature_degc
        Of its movements; None: that of a room.
    seed
        Of chance.

    Returns
    -------
    Unit
        Checked, but for sizes a movement cannot have.

    Raises
    ------
    UsageError
        If something of it cannot be.
    """
    degc = REFERENCE_DEGC if temperature_degc is None else temperature_degc
    if not (isfinite(degc) and COLDEST_DEGC <= degc <= HOTTEST_DEGC):
        raise UsageError(
            f"--temperature {degc:g}: a cluster is rehearsed from {COLDEST_DEGC:g} to "
            f"{HOTTEST_DEGC:g} degC"
        )
    if not 0 <= seed < 2**31:
        raise UsageError(f"--seed {seed}: expected a whole number from 0 to {2**31 - 1}")
    return Unit(tuple(parse_fault(text, family) for text in faults or ()), degc, seed)
