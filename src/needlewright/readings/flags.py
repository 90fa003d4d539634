"""Words a reading carries: why it was refused, and what to know about one that was not.

Each is defined once, with a short text for tables and a long one for people who ask.
"""

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class Word:
    """A reason or a flag.

    Parameters
    ----------
    code
        As it stands in JSON and CSV.
    short
        For a table.
    long
        What it means and what to do.
    """

    code: str
    short: str
    long: str


def _words(*entries: tuple[str, str, str]) -> dict[str, Word]:
    return {code: Word(code, short, long) for code, short, long in entries}


PHOTO_REASONS: Final = _words(
    (
        "face_not_found",
        "face not found",
        "the family's face is nowhere in the photo; photograph the whole cluster, or check the "
        "family",
    ),
    (
        "wrong_family",
        "another face",
        "something is printed where the face was looked for, but not this family's print; check "
        "the family and its variant",
    ),
    (
        "too_blurred",
        "too blurred",
        "nothing in the photo is sharp; hold the camera still, let it focus, and take it again",
    ),
    ("too_dark", "too dark", "the photo is too dark to see print; add light or light the dials"),
)

DIAL_REASONS: Final = _words(
    (
        "out_of_frame",
        "out of frame",
        "the needle, or its tip, lies outside the photo; step back or move the camera",
    ),
    (
        "needle_missing",
        "no needle",
        "nothing of the needle's shape and colour lies about the hub",
    ),
    (
        "occluded",
        "hidden",
        "too little of the needle is free of fingers, tools or reflections; clear it and take the "
        "photo again",
    ),
    (
        "ambiguous",
        "two needles",
        "two places look equally like the needle; take the photo from elsewhere or with other "
        "light",
    ),
    (
        "estimators_disagree",
        "looks disagree",
        "two independent ways of reading this needle do not agree; take the photo again with "
        "other light",
    ),
    (
        "too_uncertain",
        "too uncertain",
        "the needle is seen, but too small, soft or dark in the photo to be worth a number; go "
        "nearer or add light",
    ),
    (
        "not_settled",
        "never stood",
        "the needle did not come to stand at this check point of a bench run; look at its movement "
        "and at what it is told",
    ),
)

FLAGS: Final = _words(
    (
        "beyond_scale",
        "beyond scale",
        "the needle stands too far past the scale for a value to be stated",
    ),
    ("off_scale", "off scale", "the needle stands past an end mark; the last segment is continued"),
    (
        "partly_hidden",
        "partly hidden",
        "a part of the needle was left out: hidden, or under glare or print",
    ),
    ("glare", "glare", "a reflection lies on the needle or beside it"),
    ("oblique", "oblique", "seen at more than 25 degrees; go more to the front for a better one"),
    ("soft", "soft", "the needle's edges are soft: focus or a steadier hand would help"),
    ("noisy", "noisy", "noise is a tenth of the needle's contrast or more; more light would help"),
    (
        "off_centre",
        "off centre",
        "the needle's line passes further from the printed centre than assembly and parallax "
        "explain",
    ),
    (
        "on_stop",
        "on stop",
        "the needle stands on a stop: it would stand there or beyond",
    ),
    (
        "fell_to_rest",
        "fell to rest",
        "the needle lies at rest although it was told otherwise and had followed before: its "
        "signal may have stopped, or it drops out; not what the check point shows",
    ),
    (
        "rehearsed",
        "rehearsed",
        "taken on a simulated cluster: nothing of the run was seen on a real one, and it proves "
        "nothing",
    ),
    (
        "u_by_graduation",
        "eye",
        "typed without an uncertainty: half the smallest graduation is taken as limits of error",
    ),
)

REASONS: Final = PHOTO_REASONS | DIAL_REASONS
"""Every reason a photo or a needle can be refused for."""
