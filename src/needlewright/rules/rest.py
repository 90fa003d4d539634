"""The rest limit: how far a needle may lie from where it belongs at rest and at zero."""

from math import degrees

from needlewright.rules.model import Limits


def half_tip_deg(tip_width_mm: float, length_mm: float) -> float:
    """Half the width of a needle's tip as an angle about the centre.

    Parameters
    ----------
    tip_width_mm
        Width of the tip.
    length_mm
        Centre of the dial to the tip.

    Returns
    -------
    float
        Degrees.

    Notes
    -----
    **Source** common practice, no source.
    """
    return degrees(0.5 * tip_width_mm / length_mm)


def rest_limits(target_deg: float, tip_width_mm: float, length_mm: float) -> Limits:
    """Limits of the needle's angle: half a tip width either side of where it belongs.

    Parameters
    ----------
    target_deg
        Rest angle or angle of the first mark, as the family says.
    tip_width_mm
        Width of the tip.
    length_mm
        Centre of the dial to the tip.

    Returns
    -------
    Limits
        In degrees, positive clockwise; they do not move with the commanded value.

    Notes
    -----
    **Source** common practice, no source.
    """
    half = half_tip_deg(tip_width_mm, length_mm)
    return Limits(target_deg - half, target_deg + half, 0.0, 0.0)


def is_zero(commanded: float, first_mark: float, *, speedometer: bool) -> bool:
    """Whether a commanded value is the dial's zero, where only the rest limit counts.

    A speedometer's zero is standstill, even where its scale begins higher: its rule reaches
    down to every speed above zero. Any other dial's zero is its first mark, and whatever lies
    below it, which no needle can show.

    Parameters
    ----------
    commanded
        What the dial was told, in its unit.
    first_mark
        Value of its first mark.
    speedometer
        Whether the dial shows road speed.

    Returns
    -------
    bool
        True at zero.

    Notes
    -----
    **Source** common practice, no source.
    """
    return commanded <= (0.0 if speedometer else first_mark)


def zero_targets_deg(
    *, first_mark_deg: float, rest_deg: float, sense: int, may_rest_below: bool
) -> tuple[float, ...]:
    """Angles at which a needle told zero belongs: the first mark, and the rest below it.

    Parameters
    ----------
    first_mark_deg
        Angle of the first mark.
    rest_deg
        Angle at which the unpowered needle lies.
    sense
        +1 when the needle turns clockwise as the value rises, else -1.
    may_rest_below
        Whether the family counts the rest angle as the needle's place at zero.

    Returns
    -------
    tuple of float
        Degrees; the rest angle only where it lies at or below the first mark, because a rest
        angle within the scale (an ammeter's) shows some other value.

    Notes
    -----
    **Source** common practice, no source.
    """
    if may_rest_below and sense * (first_mark_deg - rest_deg) > 0:
        return (first_mark_deg, rest_deg)
    return (first_mark_deg,)
