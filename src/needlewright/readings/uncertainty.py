"""The standard uncertainty of a needle's direction, from named components.

Constants were set on drawn faces and on photos of two families, and judged on other faces and on
two other families, every way round; see docs/decisions/0005-uncertainty.md, and
`benchmarks/reading.py` and `benchmarks/coverage.py`, which print both.

Source: derivation in docs/decisions/0005-uncertainty.md.
"""

from typing import Final

import numpy as np

from needlewright.readings.dial_view import DialView
from needlewright.readings.needle_fit import NeedleFit
from needlewright.readings.projection import Array
from needlewright.readings.second_look import SecondLook

FIT_FACTOR: Final = 2.2
"""The scatter of residuals understates: neighbouring samples err together."""
MODEL_PX: Final = 0.045
"""How far the needle's two ends lie from the line the model sees: shading of the needle, light
at the hub, print below the tip; pixels over the lever."""
VIEW: Final = "view"
"""What readings of this needle change by with the view, where the family states it."""
AGREEMENT_SHARE: Final = 0.1
"""Share of the two estimates' difference that counts as uncertainty."""


def components(
    view: DialView, fit: NeedleFit, second: SecondLook | None, spread: Array
) -> tuple[tuple[str, float], ...]:
    """Components of the direction's standard uncertainty.

    Parameters
    ----------
    view
        The dial.
    fit
        The fitted needle.
    second
        The second estimate, where there is one.
    spread
        9 x 9 covariance of the registration's step parameters.

    Returns
    -------
    tuple
        (name, degrees) of each: `fit`, `model`, `agreement`, `registration`, `pitch`, and `view`
        where the family states one.
    """
    differ = abs(fit.angle_deg - second.angle_deg) if second is not None else 0.0
    parts = (
        ("fit", FIT_FACTOR * fit.u_fit_deg),
        ("model", float(np.degrees(MODEL_PX / fit.lever_px))),
        ("agreement", AGREEMENT_SHARE * differ),
        ("registration", registration_deg(view, fit.angle_deg, spread)),
        ("pitch", pitch_deg(view, fit.angle_deg)),
    )
    measured = view.dial.view_u_deg
    return (*parts, (VIEW, measured)) if measured > 0 else parts


def combined_deg(parts: tuple[tuple[str, float], ...]) -> float:
    """Root of the sum of squares of independent components."""
    return float(np.sqrt(sum(u * u for _, u in parts)))


def registration_deg(view: DialView, angle_deg: float, spread: Array) -> float:
    """What the registration's own scatter leaves open of a direction on this dial.

    Parameters
    ----------
    view
        The dial.
    angle_deg
        Direction of the needle.
    spread
        9 x 9 covariance of the registration's step parameters.

    Returns
    -------
    float
        Standard uncertainty, degrees.
    """
    a = np.radians(angle_deg)
    along, across = np.array([np.sin(a), -np.cos(a)]), np.array([np.cos(a), np.sin(a)])
    ends = view.centre_mm + np.array([[0.0], [view.dial.needle.length_mm]]) * along
    by = view.projection.by_parameters(ends)
    back = np.linalg.inv(view.projection.jacobian(ends))
    sideways = np.einsum("i,nij,njp->np", across, back, by)
    turn = (sideways[1] - sideways[0]) / view.dial.needle.length_mm
    return float(np.degrees(np.sqrt(max(turn @ spread @ turn, 0.0))))


def pitch_deg(view: DialView, angle_deg: float) -> float:
    """What a needle not quite parallel to the face turns in an oblique view.

    A needle pitched by p against the face, seen at an angle a to the normal whose lean makes the
    angle psi with the needle, turns by atan(tan p tan a sin psi).
    """
    tangent, lean_deg = view.viewpoint.slant(view.centre_mm)
    sine = abs(np.sin(np.radians(lean_deg - angle_deg)))
    u_pitch = np.radians(view.dial.needle.pitch_u_deg)
    return float(np.degrees(np.tan(u_pitch) * tangent * sine))
