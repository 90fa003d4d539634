"""Lamps: what lights the print from behind, and what warns; how each is switched on."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated, Final, Literal

from pydantic import Field

from needlewright.families.fields import Length, Open
from needlewright.families.signal_file import Byte

BACKLIGHT: Final = "backlight"
"""Group of a lamp that states none: the illumination of the face."""
TELL_TALES: Final = "tell-tales"
"""Group of a tell-tale that states none."""
WarningLamp = Literal["malfunction", "red_stop", "amber_warning", "protect"]


class Dm1File(Open):
    """A warning lamp of the diagnostic message DM1 of SAE J1939-73."""

    kind: Literal["dm1"]
    lamp: WarningLamp = Field(description="Which of the message's four.")
    source: Byte = Field(0, description="Source address of the sender.")


class LampFrameFile(Open):
    """A frame that switches the lamp on while it is repeated."""

    kind: Literal["can_frame"]
    frame: Annotated[str, Field(strict=True, pattern=r"^[0-9A-Fa-f]{1,8}#([0-9A-Fa-f]{2})*$")] = (
        Field(description="Identifier, # and data in hex; four digits and more are 29-bit.")
    )
    period_ms: Length = Field(description="How often it is repeated.")
    bitrate: Length | None = Field(None, description="Bits a second.")


LampSignalFile = Annotated[Dm1File | LampFrameFile, Field(discriminator="kind")]


@dataclass(frozen=True, slots=True)
class Lamp:
    """One lamp behind the face, or one tell-tale."""

    id: str
    group: str
    """Lamps of one group are lit together and looked at in one photo."""
    centre_mm: tuple[float, float] | None = None
    reach_mm: float | None = None
    """How far its light goes from there; None: not stated."""
    colour: tuple[float, float, float] | None = None
    """sRGB, 0..1."""
    sign: str | None = None
    signal: Dm1File | LampFrameFile | None = None
    """What switches it on; None: a person does."""


@dataclass(frozen=True, slots=True)
class LampGroup:
    """Lamps that are lit together."""

    name: str
    lamps: tuple[Lamp, ...]

    @property
    def by_hand(self) -> tuple[Lamp, ...]:
        """Those that a person switches on."""
        return tuple(lamp for lamp in self.lamps if lamp.signal is None)


def lamp_groups(lamps: Iterable[Lamp]) -> tuple[LampGroup, ...]:
    """Sort lamps by what is lit together.

    Parameters
    ----------
    lamps
        Of one family.

    Returns
    -------
    tuple of LampGroup
        In the order their first lamps come.
    """
    groups: dict[str, list[Lamp]] = {}
    for lamp in lamps:
        groups.setdefault(lamp.group, []).append(lamp)
    return tuple(LampGroup(name, tuple(members)) for name, members in groups.items())
