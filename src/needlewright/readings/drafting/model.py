"""A draft: what was found of a family, what a hand has changed since, and where each value is from.

Plain values. A draft is changed by making another one (`changes.corrected`, `changes.undone`).
"""

from dataclasses import dataclass, field
from typing import Literal

from needlewright.families.model import Direction, Needle
from needlewright.readings.drafting.changed import Change
from needlewright.readings.drafting.inputs import DraftInputs
from needlewright.readings.projection import Projection

MarkSource = Literal["found", "between", "hand"]
"""Seen; hidden and put between its neighbours; placed by a person."""
ValueSource = Literal["typed", "counted", "none"]
"""Typed by a person; counted from typed ones, equal steps; a minor mark has none."""
NeedleSource = Literal["measured", "typed", "assumed"]
RestSource = Literal["typed", "measured", "assumed"]
"""Typed by a person; seen in a photo in which needles are said to rest; the first mark."""


@dataclass(frozen=True, slots=True)
class DraftMark:
    """A mark of a dial."""

    angle_deg: float
    """Clockwise from 12 o'clock, on the dial's branch."""
    u_angle_deg: float | None
    """Standard uncertainty; None: placed by hand."""
    major: bool
    value: float | None
    """None: a minor mark."""
    inner_mm: float
    outer_mm: float
    """Distances of its line's start and end from the centre."""
    source: MarkSource = "found"
    value_source: ValueSource = "none"
    past_mm: float | None = None
    """How far its line, made longer, passes the centre, positive to the right seen outwards along
    it; None: nobody saw it, or it was placed by hand."""


@dataclass(frozen=True, slots=True)
class DraftDial:
    """A dial as drafted."""

    id: str
    quantity: str
    unit: str
    centre_mm: tuple[float, float]
    u_centre_mm: float | None
    """Standard uncertainty along the worse axis; None: placed by hand."""
    direction: Direction
    marks: tuple[DraftMark, ...]
    """In rising angle."""
    needle: Needle
    needle_sources: tuple[tuple[str, NeedleSource], ...]
    """Of each field of the needle, where it is from."""
    rest_angle_deg: float
    rest_pin: bool
    rest_typed: bool
    """Whether the rest stays where it is when marks are moved: it was typed or measured."""
    line_rms_mm: float
    """Root mean square distance of the marks' lines from the centre."""
    remarks: tuple[str, ...] = ()
    rest_source: RestSource = "assumed"

    @property
    def majors(self) -> tuple[DraftMark, ...]:
        """The marks with values, in rising value."""
        valued = [mark for mark in self.marks if mark.value is not None]
        return tuple(sorted(valued, key=lambda mark: mark.value or 0.0))


@dataclass(frozen=True, slots=True)
class PictureUse:
    """What a picture gave to a draft."""

    photo: str
    found: bool
    """Whether the face was found in it."""
    needles: tuple[str, ...] = ()
    """Dials whose needle was measured in it."""
    angles_deg: tuple[float, ...] = ()
    """Of each of these needles, clockwise from 12 o'clock, on its dial's branch; the last digits
    are the reader's business, once there is a family."""


@dataclass(frozen=True, slots=True)
class Draft:
    """A family as drafted.

    Parameters
    ----------
    inputs
        What was typed.
    photo
        Name of the picture that was clicked in.
    projection
        Face millimetres to that picture.
    face_size_mm, px_per_mm
        Of the rectified face.
    dials
        With all changes made.
    found
        As found, before any change.
    changes
        By hand, in order.
    tilt_deg, u_tilt_deg
        How obliquely the picture was taken; None for a scan.
    u_scale
        Standard uncertainty of the millimetres, as a share; None: not known (a scan's stated
        resolution, a length stated without doubt).
    pictures
        What each picture gave.
    remarks
        On the whole face.
    """

    inputs: DraftInputs
    photo: str
    projection: Projection
    face_size_mm: tuple[float, float]
    px_per_mm: float
    dials: tuple[DraftDial, ...]
    found: tuple[DraftDial, ...]
    changes: tuple[Change, ...] = ()
    tilt_deg: float | None = None
    u_tilt_deg: float | None = None
    u_scale: float | None = None
    pictures: tuple[PictureUse, ...] = field(default=())
    remarks: tuple[str, ...] = ()

    def dial(self, dial_id: str) -> DraftDial | None:
        """The dial of that id, or None."""
        return next((dial for dial in self.dials if dial.id == dial_id), None)
