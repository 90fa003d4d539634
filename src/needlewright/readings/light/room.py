"""Light that comes from the room and not from lamps: told by print that no lamp lights.

A tell-tale that is off shows its print only in the room's light, and so does whatever lies about
the face. Signs may be lit along with the face, so that they alone never say that the room is light.
"""

from collections.abc import Sequence
from typing import Final

from needlewright.readings.light.laying import LaidLight
from needlewright.readings.light.spots import Spot, spot_lights

UNKNOWN: Final = 0.02
"""Of the light of lit print, where nothing tells how light the room is; common practice."""
LEAST_PRINT: Final = 0.03
"""Light a sign's print reflects of white, for it to tell anything."""
DARK_AROUND: Final = 0.03
"""Light about the face, in that of lit white print, up to which the bench is dark."""
DARK_AROUND_BY_SIGNS: Final = 0.012
"""The same where signs that are off are light as well."""
MOST: Final = 0.15
"""Share of the room's light in that of sound print from which nothing is measured."""


def room_share(
    photo: LaidLight, print_of: LaidLight, lit_print: float, off: Sequence[Spot]
) -> tuple[float, bool]:
    """How much of the print's light comes from the room.

    Parameters
    ----------
    photo
        Laid over the face plane.
    print_of
        The family's own print on the same pixels.
    lit_print
        Light of white print in the photo.
    off
        Signs that nobody switched on.

    Returns
    -------
    tuple of float and bool
        The share, at most; and whether it is too much for lamps to be judged.
    """
    around = None if photo.around is None else photo.around / lit_print
    shares = sorted(
        seen.light / white.light / lit_print
        for seen, white in zip(spot_lights(photo, off), spot_lights(print_of, off), strict=True)
        if seen.light is not None and white.light is not None and white.light > LEAST_PRINT
    )
    by_signs = max(shares[len(shares) // 2], 0.0) if shares else None
    if by_signs is None:
        return UNKNOWN, around is not None and around > DARK_AROUND
    if by_signs <= MOST:
        return by_signs, around is not None and around > 4 * DARK_AROUND
    if around is not None and around > DARK_AROUND_BY_SIGNS:
        return by_signs, True
    return UNKNOWN, False  # the signs are lit along with the face
