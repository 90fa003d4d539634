"""The session a program works in, and its form token."""

from dataclasses import dataclass

from fastapi import APIRouter

from needlewright.errors import RecordError
from needlewright.records.shop import people
from needlewright.web.api.bodies import PersonBody
from needlewright.web.pages import Asked, Asking

router = APIRouter(tags=["session"])


@dataclass(frozen=True, slots=True)
class SessionView:
    """What a program needs to know of its session."""

    form_token: str
    """To be sent as `X-Form-Token` with everything that saves."""
    person: str | None
    """Who is at work."""
    people: tuple[str, ...]
    """Who could be."""


@router.get("/session")
def session(asked: Asked) -> SessionView:
    """The session of the cookie; a new one where there is none."""
    return _view(asked)


@router.post("/session")
def choose_person(asked: Asked, body: PersonBody) -> SessionView:
    """Say who is at work in this session; null: nobody in particular."""
    if body.person is not None and body.person not in _working(asked):
        known = ", ".join(f"'{name}'" for name in _working(asked)) or "nobody yet"
        raise RecordError(f"nobody named '{body.person}' works in this shop; known are {known}")
    asked.session.person = body.person
    return _view(asked)


def _view(asked: Asking) -> SessionView:
    return SessionView(asked.session.form_token, asked.session.person, _working(asked))


def _working(asked: Asking) -> tuple[str, ...]:
    return tuple(one.name for one in people(asked.shop) if not one.has_left)
