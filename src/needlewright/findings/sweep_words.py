"""The parts a sweep may point at, and what is said of them."""

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Final, Literal

from needlewright.findings.event import EventFault

Part = Literal["movement", "needle", "driver", "stop", "supply"]
WORTH_NAMING: Final = 0.15
"""Less probable parts are named together as another."""

_DID: Final[Mapping[EventFault, str]] = MappingProxyType(
    {
        "lost_steps": "lost steps",
        "dragging": "was held back",
        "stalled": "did not move",
        "blocked": "stood",
        "backlash": "has play",
    }
)
_IS: Final[Mapping[Part, str]] = MappingProxyType(
    {
        "movement": "the movement itself",
        "needle": "the needle touches face or lens",
        "driver": "the driver, its joints or its coil's wires",
        "stop": "a stop or something in the way",
        "supply": "the supply of all of them",
    }
)


def sweep_words(
    dial: str,
    cause: EventFault,
    parts: Sequence[tuple[Part, float]],
    at_deg: float | None,
    passes: tuple[int, int],
    *,
    together: bool,
) -> str:
    """What happened to a dial and what it points at, in one sentence.

    Parameters
    ----------
    dial
        Its id.
    cause
        What happened.
    parts
        Most probable first.
    at_deg
        The angle it comes back at; None: none.
    passes
        In how many, of how many.
    together
        Whether other needles failed in the same instant.

    Returns
    -------
    str
        For people; degrees clockwise from 12 o'clock.
    """
    of_passes = "" if cause in ("stalled", "backlash") else f" in {passes[0]} of {passes[1]} passes"
    if cause == "stalled":
        where = ""
    elif at_deg is not None:
        where = f" at about {at_deg:.0f}°".replace("-", "\u2212")
    else:
        where = " at no one angle" if cause in ("lost_steps", "dragging") and passes[0] > 1 else ""
    company = ", with other needles in the same instant" if together else ""
    named = [(part, share) for part, share in parts if share >= WORTH_NAMING]
    said = ", or ".join(f"{_IS[part]} ({100 * share:.0f} %)" for part, share in named)
    rest = 100 - sum(round(100 * share) for _, share in named)
    if rest > 0:
        said += f", or another part ({rest} %)"
    return f"{dial}: {_DID[cause]}{where}{of_passes}{company}; points at {said}"
