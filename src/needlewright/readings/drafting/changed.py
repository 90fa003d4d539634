"""What a hand can change of a draft: one plain record for each kind of change."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class MoveCentre:
    """Drag a dial's centre; its marks stay where they are on the face."""

    dial: str
    centre_mm: tuple[float, float]


@dataclass(frozen=True, slots=True)
class MoveMark:
    """Turn a mark to another angle."""

    dial: str
    mark: int
    """Its place among the dial's marks, in rising angle."""
    angle_deg: float


@dataclass(frozen=True, slots=True)
class AddMark:
    """Put a mark where none was found."""

    dial: str
    angle_deg: float
    value: float | None = None
    """None: a minor mark."""


@dataclass(frozen=True, slots=True)
class DeleteMark:
    """Take a mark away."""

    dial: str
    mark: int


@dataclass(frozen=True, slots=True)
class TypeValue:
    """Type a mark's value: the others between typed ones are counted anew."""

    dial: str
    mark: int
    value: float | None
    """None: it is a minor mark."""


@dataclass(frozen=True, slots=True)
class TypeNeedle:
    """Type a measure of a needle."""

    dial: str
    measure: str
    """A field of `families.model.Needle`, in millimetres."""
    value: float


@dataclass(frozen=True, slots=True)
class TypeRest:
    """Type where the needle lies unpowered."""

    dial: str
    angle_deg: float
    pin: bool


@dataclass(frozen=True, slots=True)
class Rename:
    """Give a dial another id, quantity or unit."""

    dial: str
    id: str
    quantity: str
    unit: str


Change = MoveCentre | MoveMark | AddMark | DeleteMark | TypeValue | TypeNeedle | TypeRest | Rename
