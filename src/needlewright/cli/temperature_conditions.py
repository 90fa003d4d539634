"""Options that say how a cluster is cooled, and what is known of the cold."""

from dataclasses import dataclass
from math import isfinite
from pathlib import Path
from typing import Annotated, Final

import typer

from needlewright.bench.soak import MASS_KG as TYPICAL_KG
from needlewright.bench.soak import (
    U_STATED,
    WAYS,
    Conditions,
    TimeConstant,
    Way,
    time_constant_from,
)
from needlewright.bench.warming import Known
from needlewright.errors import UsageError
from needlewright.families.model import Family

COLDEST_DEGC: Final = -40.0
HOTTEST_DEGC: Final = 85.0
U_COLD_DEGC: Final = 1.0
"""Of a freezer's or a chamber's temperature; common practice, no source."""
U_ROOM_DEGC: Final = 1.0
"""Of the room's; common practice, no source."""
PLACE_U_DEGC: Final = 1.0
"""Between a thermometer and the movements: calibration and place; common practice, no source."""
WITHIN_DEGC: Final = 3.0
"""As far from its temperature a cold test may be by IEC 60068-2-1 (from memory)."""

FREEZER: Final = "-25"
ROOM: Final = "21"
HUMIDITY: Final = 50.0

FamilyDir = Annotated[Path, typer.Option(metavar="DIR", help="The family's folder.")]
AsJson = Annotated[bool, typer.Option("--json", help="One JSON document.")]
At = Annotated[
    str,
    typer.Option(metavar="DEGC,DEGC...", help="Temperatures, like -20,-10,0,23."),
]
WayOption = Annotated[
    str,
    typer.Option(
        "--way",
        metavar="WAY",
        help="freezer-bag: cooled in a sealed bag and read while it warms; chamber: read in it.",
    ),
]
Freezer = Annotated[
    str,
    typer.Option(
        metavar="DEGC[,U]",
        help="Of the freezer, with its standard uncertainty; of a chamber only U is used.",
    ),
]
Room = Annotated[
    str, typer.Option(metavar="DEGC[,U]", help="Of the room's air, with its standard uncertainty.")
]
Humidity = Annotated[float, typer.Option(metavar="PERCENT", help="Relative, of the room's air.")]
TimeConstantOption = Annotated[
    str | None,
    typer.Option(
        "--time-constant",
        metavar="MIN[,U]",
        help="Minutes in which the cluster goes 63 % of its way; measured, or by the family.",
    ),
]
Mass = Annotated[
    float | None,
    typer.Option(
        metavar="KG", help="Of the cluster, to work a time constant out where none is stated."
    ),
]
PlaceU = Annotated[
    float,
    typer.Option(
        "--place-u",
        metavar="DEGC",
        help="Standard uncertainty of the movements against the thermometer.",
    ),
]
Within = Annotated[
    float, typer.Option(metavar="DEGC", help="How far from its temperature a row may be taken.")
]


@dataclass(frozen=True, slots=True)
class Asked:
    """What is said of the cold, as typed."""

    way: str
    freezer: str
    room: str
    humidity: float
    time_constant: str | None
    mass: float | None
    place_u: float
    within: float


def temperatures_of(text: str) -> tuple[float, ...]:
    """Understand `--at`.

    Parameters
    ----------
    text
        As typed.

    Returns
    -------
    tuple of float
        degC, in the order given.

    Raises
    ------
    UsageError
        If one is no temperature a cluster is taken to, or stands there twice.
    """
    try:
        at = tuple(float(one) for one in text.split(","))
    except ValueError as error:
        raise UsageError(
            f"--at {text}: expected temperatures in degC, like -20,-10,0,23"
        ) from error
    for one in at:
        if not (isfinite(one) and COLDEST_DEGC <= one <= HOTTEST_DEGC):
            raise UsageError(
                f"--at {text}: {one:g} degC is beyond {COLDEST_DEGC:g} to {HOTTEST_DEGC:g}, what a "
                "cluster is taken to here"
            )
    if len(set(at)) < len(at):
        raise UsageError(f"--at {text}: names a temperature twice")
    return tuple(one + 0.0 for one in at)


def conditions_of(asked: Asked, family: Family) -> Conditions:
    """Understand what is said of the cold.

    Parameters
    ----------
    asked
        As typed.
    family
        The cluster design, for its size and its time constant.

    Returns
    -------
    Conditions
        Checked.

    Raises
    ------
    UsageError
        If something of it is no number, or none that can be.
    RunError
        If the mass is none of a cluster.
    """
    way = _way(asked.way)
    for option, value in (("--place-u", asked.place_u), ("--within", asked.within)):
        if not (isfinite(value) and 0.0 < value <= 30.0):
            raise UsageError(f"{option} {value:g}: expected degrees above 0 and up to 30")
    if not 0.0 < asked.humidity <= 100.0:
        raise UsageError(f"--humidity {asked.humidity:g}: expected percent, above 0 up to 100")
    room = _known("--room", asked.room, U_ROOM_DEGC)
    if not 0.0 <= room.value <= 50.0:
        raise UsageError(f"--room {asked.room}: expected the air a person works in, 0 to 50 degC")
    return Conditions(
        way=way,
        room=room,
        cold=_known("--freezer", asked.freezer, U_COLD_DEGC),
        humidity=asked.humidity / 100.0,
        time_constant=_time_constant(asked, family, way),
        place_u_degc=asked.place_u,
        within_degc=asked.within,
    )


def _way(text: str) -> Way:
    for way in WAYS:
        if way == text:
            return "chamber" if way == "chamber" else "freezer-bag"
    raise UsageError(f"--way {text}: expected {' or '.join(WAYS)}")


def _time_constant(asked: Asked, family: Family, way: Way) -> TimeConstant:
    if asked.time_constant is not None and asked.mass is not None:
        raise UsageError("--time-constant is stated, so nothing is worked out; leave --mass out")
    if asked.time_constant is not None:
        minutes = _known("--time-constant", asked.time_constant, None)
        if not 0.5 <= minutes.value <= 600.0:
            raise UsageError(
                f"--time-constant {asked.time_constant}: expected minutes from 0.5 to 600"
            )
        return TimeConstant(Known(60.0 * minutes.value, 60.0 * minutes.u), "stated with the series")
    cooling = family.cooling
    stated = cooling.chamber_min if way == "chamber" else cooling.freezer_bag_min
    if stated is not None and asked.mass is None:
        return TimeConstant(Known(60.0 * stated[0], 60.0 * stated[1]), "stated by the family")
    mass = asked.mass or cooling.mass_kg or TYPICAL_KG
    return time_constant_from(mass, family.face_size_mm, way)


def _known(option: str, text: str, u: float | None) -> Known:
    """`VALUE[,U]`; without U the one that is usual, or a share of the value."""
    value_text, comma, u_text = (part.strip() for part in text.partition(","))
    try:
        value = float(value_text)
        given = float(u_text) if comma else (U_STATED * abs(value) if u is None else u)
    except ValueError:
        value = given = float("nan")
    if not (isfinite(value) and isfinite(given) and given >= 0.0):
        raise UsageError(
            f"{option} {text}: expected a number, or a number and its standard uncertainty, like "
            "-22,0.5"
        )
    return Known(value, given)
