"""Signing in, signing out, who is at work, in which light."""

from math import ceil
from typing import Annotated, Final
from urllib.parse import urlsplit

from fastapi import APIRouter, Query
from starlette.responses import HTMLResponse, RedirectResponse, Response

from needlewright.records.shop import people
from needlewright.web.pages import LIGHT_COOKIE, LIGHTS, SEE_OTHER, Asked, Asking
from needlewright.web.posted import Sent
from needlewright.web.refusals import Wrong

SLOW_DOWN: Final = 429
WRONG: Final = 403
LIGHT_KEPT_S: Final = 365 * 24 * 3600

router = APIRouter(include_in_schema=False)


@router.get("/sign-in", response_class=HTMLResponse)
def show(asked: Asked, to: Annotated[str, Query(alias="next")] = "") -> Response:
    """Where the pass code is typed."""
    if asked.house.codes is None or asked.session.signed_in:
        return RedirectResponse(own_path(to), SEE_OTHER)
    return _page(asked, own_path(to))


@router.post("/sign-in")
def sign_in(asked: Asked, sent: Sent) -> Response:
    """Compare the code; the session goes on under a new name."""
    where = own_path(sent.text("next"))
    if asked.house.codes is None:
        return RedirectResponse(where, SEE_OTHER)
    client = asked.request.client
    tried = asked.house.codes.attempt(sent.text("code"), client.host if client else "")
    if not tried.right:
        return _refused(asked, where, tried.wait_s)
    sessions = asked.house.sessions
    sessions.close(asked.session)
    asked.request.state.session = sessions.open(signed_in=True)
    return RedirectResponse(where, SEE_OTHER)


@router.post("/sign-out")
def sign_out(asked: Asked) -> Response:
    """End the session."""
    asked.house.sessions.close(asked.session)
    asked.request.state.session = asked.house.sessions.open()
    return asked.saved("/")


@router.post("/person")
def choose_person(asked: Asked, sent: Sent) -> Response:
    """Say who is at work at this browser."""
    asked.session.person = _person(asked, sent.text("person"))
    if sent.text("again") and not asked.is_script:
        return _with_what_was_typed(asked)
    return asked.saved(own_path(sent.text("next")), person=asked.session.person)


@router.post("/light")
def choose_light(asked: Asked, sent: Sent) -> Response:
    """Say how this browser is to show the page; it keeps that itself."""
    chosen = sent.text("light")
    if sent.text("again") and not asked.is_script:
        answer = _with_what_was_typed(asked)
    else:
        answer = asked.saved(own_path(sent.text("next")))
    answer.set_cookie(
        LIGHT_COOKIE,
        chosen if chosen in LIGHTS else "",
        max_age=LIGHT_KEPT_S if chosen in LIGHTS else 0,
        httponly=True,
        samesite="strict",
        secure=asked.house.listening.tls,
    )
    return answer


@router.get("/keys", response_class=HTMLResponse)
def keys(asked: Asked) -> Response:
    """Everything the keyboard does."""
    return asked.page("keys.html")


def own_path(where: str) -> str:
    """A place on this page to go on with; anything else is the shelf."""
    try:
        parts = urlsplit(where)
    except ValueError:
        return "/"
    is_own = (
        not parts.scheme
        and not parts.netloc
        and parts.path.startswith("/")
        and not where.startswith("//")
        and "\\" not in where
        and where.isprintable()
    )
    return where if is_own else "/"


def _with_what_was_typed(asked: Asking) -> Response:
    """What was typed in a form that was refused, to be sent again where it was sent before."""
    where, fields = asked.kept or ("/", [])
    return asked.page("again.html", fields=fields, where=own_path(where), said="base.kept")


def _person(asked: Asking, name: str) -> str | None:
    working = {one.name for one in people(asked.shop) if not one.has_left}
    return name if name in working else None


def _refused(asked: Asking, where: str, wait_s: float) -> Response:
    seconds = ceil(wait_s)
    do = asked.texts("signin.wait", n=seconds) if seconds else asked.texts("signin.again")
    wrong = Wrong(asked.texts("signin.wrong"), "", do)
    page = _page(asked, where, SLOW_DOWN if seconds else WRONG, wrong)
    if seconds:
        page.headers["Retry-After"] = str(seconds)
    return page


def _page(asked: Asking, where: str, status: int = 200, wrong: Wrong | None = None) -> HTMLResponse:
    code = asked.house.listening.code or ""
    return asked.page("signin.html", status, next=where, wrong=wrong, code_is_digits=code.isdigit())
