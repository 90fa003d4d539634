"""The shop itself, and its families."""

from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import APIRouter

from needlewright.composing.family_facts import dial_document
from needlewright.records import shop
from needlewright.records.entries import InstrumentEntry, SettingsEntry
from needlewright.records.families import families, load_version
from needlewright.records.views import (
    FamilyView,
    InstrumentView,
    PersonView,
    Settings,
    ShopCheck,
)
from needlewright.web.api.bodies import (
    Fields,
    Id,
    NewInstrumentBody,
    NewPersonBody,
    Seen,
    fields_of,
)
from needlewright.web.pages import Asked, Tag

router = APIRouter(tags=["shop"])


@dataclass(frozen=True, slots=True)
class FamilyFacts:
    """What a family's file says, defaults filled in."""

    name: str
    face_size_mm: tuple[float, float]
    px_per_mm: float
    eccentricity_mm: float
    dials: tuple[dict[str, Any], ...]


@router.get("/settings")
def read_settings(asked: Asked) -> Settings:
    """Who the shop is and what it works by."""
    return shop.settings(asked.shop)


@router.patch("/settings")
def edit_settings(
    asked: Asked, fields: Annotated[Fields, fields_of(SettingsEntry)], seen: Seen = None
) -> Settings:
    """Change settings; fields that are not sent stay."""
    return shop.change_settings(asked.shop, fields, seen=seen)


@router.get("/people")
def read_people(asked: Asked) -> tuple[PersonView, ...]:
    """Everybody, those who have left last."""
    return shop.people(asked.shop)


@router.post("/people", status_code=201)
def add_person(asked: Asked, body: NewPersonBody) -> PersonView:
    """Add somebody, or have somebody back."""
    return shop.add_person(asked.shop, body.name)


@router.post("/people/{name}/left")
def person_left(asked: Asked, name: Tag) -> PersonView:
    """Say that somebody works here no more."""
    return shop.person_left(asked.shop, name)


@router.get("/instruments")
def read_instruments(asked: Asked) -> tuple[InstrumentView, ...]:
    """Every instrument, retired ones last."""
    return shop.instruments(asked.shop)


@router.put("/instruments/{number}")
def put_instrument(
    asked: Asked, number: Tag, fields: Annotated[Fields, fields_of(InstrumentEntry)]
) -> InstrumentView:
    """Change or retire an instrument."""
    return shop.change_instrument(asked.shop, number, fields)


@router.post("/instruments", status_code=201)
def add_instrument(asked: Asked, body: NewInstrumentBody) -> InstrumentView:
    """Add an instrument."""
    return shop.add_instrument(
        asked.shop, body.name, body.number, body.due, body.traceable_to or ""
    )


@router.get("/families")
def read_families(asked: Asked) -> tuple[FamilyView, ...]:
    """The newest version of each family."""
    return families(asked.shop)


@router.get("/families/{version_id}")
def read_family(asked: Asked, version_id: Id) -> FamilyFacts:
    """What a version of a family says."""
    family = load_version(asked.shop, version_id)
    return FamilyFacts(
        name=family.name,
        face_size_mm=family.face_size_mm,
        px_per_mm=family.px_per_mm,
        eccentricity_mm=family.eccentricity_mm,
        dials=tuple(dial_document(dial) for dial in family.dials),
    )


@router.post("/check")
def check(asked: Asked) -> ShopCheck:
    """Verify the database and every original."""
    return shop.check_shop(asked.shop)
