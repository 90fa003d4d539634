"""What a family says for those who open it and put it back: its `refit`."""

from collections.abc import Sequence
from typing import Annotated, Any, Final, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from needlewright.errors import PlanError
from needlewright.families.model import Family
from needlewright.plans.guides.file_tables import Words

Lines = Literal["fasteners", "loose_parts", "connectors"]
VEHICLE: Final = "vehicle"
MOST: Final = 12
"""Lines of one kind that a sheet has room for."""


class _Noted(BaseModel):
    """A note of a family; what it says besides is kept with the family and not printed."""

    model_config = ConfigDict(frozen=True, allow_inf_nan=False)


class NotedLine(_Noted):
    """Some fasteners, loose parts or connectors."""

    what: Annotated[str, Field(min_length=1, max_length=80)]
    count: Annotated[int, Field(ge=1, le=200, strict=True)] | None = None
    at: str = VEHICLE
    """`vehicle`, or the level of the catalogue at which they come off."""
    tightness: Annotated[str, Field(max_length=80)] = ""


class FamilyNotes(_Noted):
    """The `refit` of a family."""

    fasteners: Annotated[tuple[NotedLine, ...], Field(max_length=MOST)] = ()
    loose_parts: Annotated[tuple[NotedLine, ...], Field(max_length=MOST)] = ()
    connectors: Annotated[tuple[NotedLine, ...], Field(max_length=MOST)] = ()
    cautions: Annotated[tuple[Words, ...], Field(max_length=4)] = ()
    wait: Annotated[str, Field(min_length=1, max_length=120)] | None = None

    def at(self, place: str, *kinds: Lines) -> tuple[NotedLine, ...]:
        """The lines of some kinds that come off at one place."""
        return tuple(line for kind in kinds for line in getattr(self, kind) if line.at == place)


def family_notes(family: Family, levels: Sequence[str]) -> FamilyNotes:
    """Read what a family says of its fasteners.

    Parameters
    ----------
    family
        Whose `refit` is an object with `fasteners`, `loose_parts`, `connectors`, `cautions` and
        `wait`, or a list that stands for its fasteners.
    levels
        Of the catalogue, at which fasteners can come off.

    Returns
    -------
    FamilyNotes
        Empty where the family says nothing.

    Raises
    ------
    PlanError
        If one of them is of another form, or comes off at a level there is not.
    """
    raw: Any = (family.raw or {}).get("refit") or {}
    where = f"family '{family.name}': refit"
    try:
        notes = FamilyNotes.model_validate({"fasteners": raw} if isinstance(raw, list) else raw)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        place = ".".join(str(step) for step in first["loc"])
        said = first["msg"][0].lower() + first["msg"][1:]
        raise PlanError(
            f"{where}.{place}: {said}; a line is an object with 'what', and 'count', 'tightness' "
            "and 'at' where they are known (docs/guides.md)"
        ) from error
    for line in (*notes.fasteners, *notes.loose_parts, *notes.connectors):
        if line.at not in (VEHICLE, *levels):
            raise PlanError(
                f"{where}: '{line.what}' comes off at '{line.at}', which there is not; known: "
                f"{', '.join((VEHICLE, *levels))}"
            )
    return notes
