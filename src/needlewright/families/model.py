"""What a cluster design is: plain values handed from stage to stage.

Lengths are millimetres on the face, origin at its top-left corner, x right, y down. Angles are
degrees clockwise from 12 o'clock.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import radians
from pathlib import Path
from typing import Any, Final, Literal

from needlewright.errors import ScaleError
from needlewright.families.lamps import Lamp
from needlewright.families.scale import Scale, segment_of
from needlewright.families.signal_file import AnySignalFile, SupplyFile

Direction = Literal["cw", "ccw"]
MovementKind = Literal["stepper", "air_core", "thermal"]
RestMark = Literal["rest", "first_mark"]
RuleName = str | Mapping[str, Mapping[str, float]]

ECCENTRICITY_MM: Final = 0.15
"""Default standard deviation of shaft to printed centre (contract of the design; k = 1)."""


@dataclass(frozen=True, slots=True)
class Needle:
    """A flat-topped tapered bar that turns at a height above the face."""

    length_mm: float
    """Centre of the dial to the tip."""
    tail_mm: float
    """Centre of the dial to the blunt end."""
    base_width_mm: float
    """Width at the centre."""
    tip_width_mm: float
    hub_radius_mm: float
    height_mm: float
    """Face to the needle's top surface."""
    thickness_mm: float
    colour: tuple[float, float, float] | None = None
    """sRGB, 0..1."""
    pitch_u_deg: float = 0.2
    """Standard uncertainty of the needle's pitch against the face (common practice, no source)."""
    contact_mm: float | None = None
    """Least clearance of needle and hub to the face; None: not stated."""
    halo_mm: float | None = None
    """Greatest gap under the hub before light shows round it; None: not stated."""
    lens_mm: float | None = None
    """From the face to the inside of the lens; None: not stated."""

    def width_at(self, radius_mm: float) -> float:
        """Width at a distance from the centre, linear from `base_width_mm` to `tip_width_mm`."""
        share = abs(radius_mm) / self.length_mm
        return self.base_width_mm + (self.tip_width_mm - self.base_width_mm) * share


@dataclass(frozen=True, slots=True)
class Movement:
    """The motor that turns the needle. Defaults are figures of the class, from memory."""

    kind: MovementKind = "stepper"
    cycle_deg: float = 2.0
    """Needle angle of one electrical cycle."""
    stop_below_deg: float = 2.0
    """How far below the rest angle the stop inside the movement lies."""
    repeatability_deg: float = 0.15
    """Standard deviation of the needle's angle at one command (k = 1)."""
    coil_axes_deg: float = 60.0
    """Between the axes of a stepper's two coils: 60 or 90."""
    rate_deg_s: float | None = None
    """The fastest the cluster turns the needle; None: not stated."""
    grease_k: tuple[float, float] | None = None
    """Exponent k of the grease, whose viscosity goes as exp(k / absolute temperature), and its
    standard uncertainty, kelvin; None: not stated."""


@dataclass(frozen=True, slots=True)
class Programme:
    """What a sound unit shows at a true value: straight lines between points."""

    true_values: tuple[float, ...] = ()
    shown_values: tuple[float, ...] = ()

    def shown_at(self, true_value: float) -> float:
        """Value a sound unit shows; identity without points, end slopes continued beyond them."""
        if not self.true_values:
            return true_value
        i = segment_of(self.true_values, true_value)
        t0, t1 = self.true_values[i], self.true_values[i + 1]
        s0, s1 = self.shown_values[i], self.shown_values[i + 1]
        return s0 + (true_value - t0) * (s1 - s0) / (t1 - t0)


@dataclass(frozen=True, slots=True)
class Dial:
    """One gauge of the face."""

    id: str
    quantity: str
    unit: str
    centre_mm: tuple[float, float]
    scale: Scale
    direction: Direction
    rest_angle_deg: float
    rest_pin: bool
    needle: Needle
    programme: Programme = Programme()
    rule: RuleName | None = None
    movement: Movement = Movement()
    graduation: float | None = None
    """Value between neighbouring printed graduations; None: not stated."""
    rest_mark: RestMark = "rest"
    """Where the needle must lie at zero and at rest: at the rest angle or at the first mark."""
    view_u_deg: float = 0.0
    """Standard uncertainty of what readings change by with the view beyond what they state."""
    signal: AnySignalFile | None = None
    """How the quantity reaches the cluster, as the file states it; None: not stated."""

    @property
    def graduation_or_step(self) -> float:
        """The stated graduation, or the smallest interval of the scale's marks."""
        return self.graduation if self.graduation is not None else self.scale.smallest_step

    @property
    def is_speedometer(self) -> bool:
        """Whether the dial shows road speed, by its unit."""
        return self.unit in ("km/h", "mph")

    @property
    def stop_angle_deg(self) -> float:
        """Where a sound needle meets its stop: the pin itself, or the stop inside the movement."""
        if self.rest_pin:
            return self.rest_angle_deg
        return self.rest_angle_deg - self.scale.sense * self.movement.stop_below_deg

    @property
    def rest_target_deg(self) -> float:
        """Angle the rest limit is counted from, as `rest_mark` says."""
        return self.rest_angle_deg if self.rest_mark == "rest" else self.scale.angles_deg[0]

    def programme_angle_deg(self, true_value: float) -> float:
        """Angle at which a sound unit's needle stands when told a true value.

        Parameters
        ----------
        true_value
            In the dial's unit.

        Returns
        -------
        float
            Degrees clockwise from 12 o'clock, on the scale's branch.

        Raises
        ------
        ScaleError
            If what the programme shows there lies beyond the scale's reach.
        """
        shown = self.programme.shown_at(true_value)
        try:
            return self.scale.angle_at(shown)
        except ScaleError as error:
            raise ScaleError(
                f"dial '{self.id}' told {true_value:g} {self.unit} shows {shown:g}: {error}"
            ) from error

    def tip_widths(self, angle_deg: float) -> float:
        """A turn in degrees, counted in widths of the needle's tip along the tip's circle."""
        return radians(angle_deg) * self.needle.length_mm / self.needle.tip_width_mm


@dataclass(frozen=True, slots=True)
class Variant:
    """One execution of a family: how to tell it apart, and what differs."""

    id: str
    told_apart_by: str = ""
    differs: str = ""


@dataclass(frozen=True, slots=True)
class Cooling:
    """How fast a cluster takes the temperature of its surroundings. What is not stated is None."""

    mass_kg: float | None = None
    freezer_bag_min: tuple[float, float] | None = None
    """Time constant in a sealed bag in still air, and its standard uncertainty, minutes."""
    chamber_min: tuple[float, float] | None = None
    """The same in the moved air of a chamber."""


@dataclass(frozen=True, slots=True)
class Family:
    """A cluster design."""

    name: str
    face_size_mm: tuple[float, float]
    px_per_mm: float
    dials: tuple[Dial, ...]
    folder: Path
    eccentricity_mm: float = ECCENTRICITY_MM
    """Standard deviation of shaft to printed centre."""
    variants: tuple[Variant, ...] = ()
    supply: SupplyFile | None = None
    """What the bench supply must give; None: not stated."""
    cooling: Cooling = field(default_factory=Cooling)
    winter_degc: float | None = None
    """The coldest at which every gauge must still work; None: not stated."""
    lamps: tuple[Lamp, ...] = ()
    """What lights the face from behind."""
    tell_tales: tuple[Lamp, ...] = ()
    raw: Mapping[str, Any] | None = None
    """family.json as read, unknown fields included; what is written back starts from it."""

    @property
    def face_path(self) -> Path:
        """The bare face artwork."""
        return self.folder / "face.png"

    @property
    def is_invented(self) -> bool:
        """Whether the file says that no such cluster was ever built."""
        return bool((self.raw or {}).get("invented", False))

    def dial(self, dial_id: str) -> Dial | None:
        """The dial of that id, or None."""
        return next((d for d in self.dials if d.id == dial_id), None)
