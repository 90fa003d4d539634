"""What a run gives beside its rows: the sweep, the photos of the lamps, the currents."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class RestCurrent:
    """What the cluster drew after a key-on, its needles at rest and nothing told."""

    key_ons: int
    """Key-ons since the run began, this one among them."""
    volts: float | None
    """Of the supply; None: not known."""
    amperes: float


@dataclass(frozen=True, slots=True)
class LampPhoto:
    """A photo of one group of lamps."""

    group: str
    photo: str
    """File, relative to the CSV's folder."""
    lit: tuple[str, ...]
    """Ids of the lamps that were switched on."""
    not_lit: tuple[str, ...] = ()
    """Ids of those of the group that nobody could switch on."""
    volts: float | None = None
    """Of the supply; None: not known."""
    amperes: float | None = None
    """Drawn with the lamps on; None: not known."""


@dataclass(frozen=True, slots=True)
class SweepEvent:
    """Something that went wrong with a needle in the sweep."""

    t_s: float
    """On the video's clock."""
    dial: str
    fault: str
    """A word of the one vocabulary."""
    size_deg: float
    u_size_deg: float
    """Standard uncertainty, k = 1."""


@dataclass(frozen=True, slots=True)
class SweepFound:
    """What was found in a sweep's video."""

    events: tuple[SweepEvent, ...] = ()
    document: str | None = None
    """File with every needle frame by frame, relative to the CSV's folder; None: none."""
    problem: str | None = None
    """One sentence, where it could not be looked through; None: it was."""


@dataclass(frozen=True, slots=True)
class Sweep:
    """Every dial to full scale and back, filmed."""

    video: str
    """File, relative to the CSV's folder."""
    seconds: float
    frames: int
    dials: tuple[str, ...]
    """Ids of those that were told to sweep."""
    at_once: tuple[str, ...]
    """Of these, told full scale and back in one step each: by hand, or as they follow slowly."""
    found: SweepFound | None = None
    """None: nobody looked it through."""
    volts: float | None = None
    """Of the supply, the mean; None: not known."""
    mean_a: float | None = None
    """Drawn while the needles were told to move; None: not known."""
    peak_a: float | None = None


@dataclass(frozen=True, slots=True)
class Outcome:
    """Everything of it."""

    rest_current: tuple[RestCurrent, ...] = ()
    sweep: Sweep | None = None
    lamps: tuple[LampPhoto, ...] = ()

    @property
    def is_empty(self) -> bool:
        """Whether there is nothing yet."""
        return not self.rest_current and self.sweep is None and not self.lamps
