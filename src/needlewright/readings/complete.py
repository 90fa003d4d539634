"""A row completed with its dial: angle from what was typed, value from what was measured."""

from dataclasses import replace
from math import degrees, hypot, sqrt
from typing import Final

from needlewright.errors import RunError, ScaleError
from needlewright.families.model import Dial, Family
from needlewright.readings.runs import Run, RunRow
from needlewright.readings.stops import mark_stops

BY_EYE: Final = "u_by_graduation"
"""Flag: nobody stated an uncertainty, so the reading's is that of an eye between graduations."""
BEYOND_SCALE: Final = "beyond_scale"
"""Flag: the needle stands where the scale can state no value."""

DISAGREE_OF_SPAN: Final = 0.01
"""Share of the span by which a value typed without an uncertainty may differ from its angle's."""
ROUNDED_OF_SPAN: Final = 0.001
"""The same for a value that states its uncertainty: only what rounding in a file can do."""


def eye_uncertainty(dial: Dial) -> float:
    """Standard uncertainty of a value read by eye, in the dial's unit.

    Parameters
    ----------
    dial
        The dial; where no graduation is stated its smallest interval of marks is taken.

    Returns
    -------
    float
        k = 1, in the dial's unit.

    Notes
    -----
    Half the smallest graduation either way, equally likely anywhere within: that divided by the
    square root of three. **Source** common practice, no source; the rectangular distribution is
    JCGM 100:2008, 4.3.7.
    """
    return dial.graduation_or_step / 2 / sqrt(3)


def value_uncertainty(dial: Dial, angle_deg: float, u_angle_deg: float, ecc_mm: float) -> float:
    """Standard uncertainty of the shown value: the direction's, and where the shaft sits.

    Parameters
    ----------
    dial
        The dial.
    angle_deg
        Where the needle stands, on the scale's branch.
    u_angle_deg
        Standard uncertainty of its direction.
    ecc_mm
        Standard deviation of shaft to printed centre.

    Returns
    -------
    float
        k = 1, in the dial's unit.

    Notes
    -----
    A shaft that stands e beside the printed centre moves the tip by up to e along the scale,
    which an eye takes for e / length radians. **Source** derivation: docs/runs.md.
    """
    seat_deg = degrees(ecc_mm / dial.needle.length_mm)
    return abs(dial.scale.slope_at(angle_deg)) * hypot(u_angle_deg, seat_deg)


def complete_run(run: Run, family: Family) -> Run:
    """Complete every row of a run and mark the needles that stand on a stop.

    Parameters
    ----------
    run
        A run, measured or typed.
    family
        The cluster design.

    Returns
    -------
    Run
        The same rows in the same order.

    Raises
    ------
    RunError
        If a dial is not in the family, a unit is not the dial's, or a value lies off the scale.
    """
    rows = [
        complete_row(row, dial_of(row, family, _place(place, row)), family.eccentricity_mm, place)
        for place, row in enumerate(run.rows, start=1)
    ]
    for dial in family.dials:
        places = [i for i, row in enumerate(rows) if row.dial == dial.id]
        marked = mark_stops([rows[i] for i in places], dial)
        for i, row in zip(places, marked, strict=True):
            rows[i] = row
    return Run(run.name, tuple(rows))


def complete_row(row: RunRow, dial: Dial, ecc_mm: float, place: int | None = None) -> RunRow:
    """Fill in what a row leaves open and its dial can tell.

    An angle gives the shown value, a shown value gives the angle. A needle that was read and has
    no uncertainty gets that of an eye (`eye_uncertainty`) and the flag `u_by_graduation`.

    Parameters
    ----------
    row
        The row.
    dial
        Its dial.
    ecc_mm
        Standard deviation of shaft to printed centre; enters the shown value only.
    place
        Number of the row in its run, for messages.

    Returns
    -------
    RunRow
        With angle, value and both uncertainties, or with none of them where it was not read.

    Raises
    ------
    RunError
        If the unit is not the dial's, a speed told is negative, a value lies off the scale, or
        value and angle disagree.
    """
    where = _place(place, row)
    require_dial_unit(where, row.unit, dial)
    if dial.is_speedometer and row.commanded is not None and row.commanded < 0:
        raise RunError(
            f"{where}, column 'commanded': given {row.commanded:g} {row.unit}; dial '{dial.id}' is "
            "a speedometer, which is told 0 or more; correct the value"
        )
    if row.angle_deg is None and row.indicated is None:
        return row
    if row.angle_deg is None:
        assert row.indicated is not None
        return _from_value(row, dial, row.indicated, where)
    return _from_angle(row, dial, dial.scale.on_branch(row.angle_deg), ecc_mm, where)


def require_dial_unit(where: str, unit: str, dial: Dial) -> None:
    """Refuse a value in another unit than its dial's.

    Parameters
    ----------
    where
        Start of the sentence: file, line or row.
    unit
        Unit of the value.
    dial
        The dial it belongs to.

    Raises
    ------
    RunError
        If they differ. Nothing is converted silently: a cluster told 80 in the wrong unit was
        tested at another speed than the table says.
    """
    if unit != dial.unit:
        raise RunError(
            f"{where}, column 'unit': given '{unit}', but dial '{dial.id}' is scaled in "
            f"{dial.unit}; check what the cluster was really told and type it in {dial.unit}, "
            "nothing is converted silently"
        )


def dial_of(row: RunRow, family: Family, where: str) -> Dial:
    """The dial a row belongs to; an error naming the family's dials where there is none."""
    dial = family.dial(row.dial)
    if dial is None:
        known = ", ".join(d.id for d in family.dials)
        raise RunError(
            f"{where}, column 'dial': given '{row.dial}'; family '{family.name}' has {known}"
        )
    return dial


def _place(place: int | None, row: RunRow) -> str:
    return f"run '{row.run}'" + ("" if place is None else f", row {place}")


def _from_value(row: RunRow, dial: Dial, shown: float, where: str) -> RunRow:
    try:
        angle_deg = dial.scale.angle_at(shown)
    except ScaleError as error:
        raise RunError(
            f"{where}, column 'indicated': dial '{dial.id}': {error}; check the number and its unit"
        ) from error
    slope = abs(dial.scale.slope_at(angle_deg))
    u, flags = row.u_indicated, row.flags
    if row.u_angle_deg is None and u is None:
        u, flags = eye_uncertainty(dial), _with(flags, BY_EYE)
    u_angle_deg = u / slope if row.u_angle_deg is None and u is not None else row.u_angle_deg
    if u is None and u_angle_deg is not None:
        u = u_angle_deg * slope
    return replace(row, angle_deg=angle_deg, u_angle_deg=u_angle_deg, u_indicated=u, flags=flags)


def _from_angle(row: RunRow, dial: Dial, angle_deg: float, ecc_mm: float, where: str) -> RunRow:
    slope = abs(dial.scale.slope_at(angle_deg))
    u_angle_deg, flags = row.u_angle_deg, row.flags
    if u_angle_deg is None:
        u = row.u_indicated if row.u_indicated is not None else eye_uncertainty(dial)
        u_angle_deg = u / slope
        flags = flags if row.u_indicated is not None else _with(flags, BY_EYE)
    if not dial.scale.reaches_angle(angle_deg):
        flags = _with(flags, BEYOND_SCALE)
        return replace(row, angle_deg=angle_deg, u_angle_deg=u_angle_deg, flags=flags)
    shown = dial.scale.value_at(angle_deg)
    u_shown = value_uncertainty(dial, angle_deg, u_angle_deg, ecc_mm)
    _refuse_disagreement(row, dial, shown, u_shown, where)
    if row.indicated is not None:
        # What nobody vouches for is at least as uncertain as it is away from its own angle.
        u_shown = hypot(u_shown, row.indicated - shown)
        shown = row.indicated
    if row.u_indicated is not None:
        u_shown = row.u_indicated
    return replace(
        row,
        angle_deg=angle_deg,
        u_angle_deg=u_angle_deg,
        indicated=shown,
        u_indicated=u_shown,
        flags=flags,
    )


def _refuse_disagreement(
    row: RunRow, dial: Dial, at_angle: float, u_shown: float, where: str
) -> None:
    typed = at_angle if row.indicated is None else row.indicated
    share = DISAGREE_OF_SPAN if row.u_indicated is None else ROUNDED_OF_SPAN
    allowed = share * dial.scale.span + 3 * hypot(u_shown, row.u_indicated or 0.0)
    if abs(typed - at_angle) > allowed:
        raise RunError(
            f"{where}, dial '{dial.id}': 'indicated' says {typed:g} {dial.unit}, but a needle at "
            f"'angle_deg' {row.angle_deg:g} shows {at_angle:.4g} on this scale; correct one of "
            "them or leave it empty, and check that the family is the right one"
        )


def _with(flags: tuple[str, ...], flag: str) -> tuple[str, ...]:
    return flags if flag in flags else (*flags, flag)
