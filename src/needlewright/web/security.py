"""Who may ask what: every request passes here before anything else sees it.

In this order: the host it was sent to, where it came from, how much it brings, whose session it
is, whether that is signed in, and the token of the form. A form sent the plain way carries its
token inside; `check_form_token`, which every route has, looks there.
"""

from hmac import compare_digest
from typing import Final
from urllib.parse import quote

from fastapi import Request
from fastapi.requests import HTTPConnection
from starlette.datastructures import MutableHeaders
from starlette.responses import HTMLResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from needlewright.web.house import House
from needlewright.web.pages import address, wants_json
from needlewright.web.posted import MULTIPART, TOKEN, URLENCODED, SentForm, read_form
from needlewright.web.refusals import Refusal, accident, refuse
from needlewright.web.security_bodies import counted, is_too_long, most_bytes
from needlewright.web.security_headers import put_headers
from needlewright.web.security_hosts import is_host_known, is_line_own, is_origin_own
from needlewright.web.session import Session

SAFE: Final = {"GET", "HEAD"}
TOKEN_HEADER: Final = "x-form-token"
STATIC: Final = "/static/"
SIGN_IN: Final = "/sign-in"
AS_PLUGIN: Final = {"embed", "object", "iframe", "frame"}


class Guard:
    """Stands before everything.

    Parameters
    ----------
    app
        What comes after.
    house
        Whose sessions these are.
    """

    def __init__(self, app: ASGIApp, house: House) -> None:
        self.app = app
        self.house = house

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request pass, with its session, or answer it."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            await self._line(scope, receive, send)
            return
        request = Request(scope, receive)
        scope.setdefault("state", {})
        had = request.cookies.get(self.house.listening.cookie, "")
        refused = self._refused(request, had)

        is_begun = False

        async def send_on(message: Message) -> None:
            nonlocal is_begun
            if message["type"] == "http.response.start":
                is_begun = True
                headers = MutableHeaders(scope=message)
                put_headers(headers)
                self._put_cookie(headers, scope["state"].get("session"), had)
            await send(message)

        try:
            app = refused or self.app
            await app(scope, counted(receive, most_bytes(request)), send_on)
        except Exception:
            if is_begun:
                raise
            await accident(request)(scope, receive, send_on)
        finally:
            sent = scope["state"].get("sent")
            if isinstance(sent, SentForm):
                sent.close()

    async def _line(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a line be opened from a page of ours by a session that may; else refuse it."""
        line = HTTPConnection(scope)
        session = self.house.sessions.find(line.cookies.get(self.house.listening.cookie, ""))
        is_in = session is not None and (self.house.codes is None or session.signed_in)
        is_ours = is_host_known(line.headers.get("host", ""), self.house.listening) and is_line_own(
            line.headers.get("origin"), line
        )
        if not is_in or not is_ours:
            await send({"type": "websocket.close", "code": 1008})
            return
        scope.setdefault("state", {})["session"] = session
        await self.app(scope, receive, send)

    def _refused(self, request: Request, had: str) -> Response | None:
        """An answer for those who may not; gives the others their session."""
        refusal = self._refusal(request)
        if refusal is not None:
            return refuse(request, refusal)
        if request.scope["path"].startswith(STATIC):
            return None if request.method in SAFE else refuse(request, Refusal.METHOD)
        session = self.house.sessions.find(had) if had else None
        if session is None and _is_link_from_elsewhere(request):
            return _come_again(request)
        session = session or self.house.sessions.open()
        request.state.session = session
        return self._refused_in(session, request)

    def _refusal(self, request: Request) -> Refusal | None:
        """Whether it may be looked at, whoever asks."""
        if not is_host_known(request.headers.get("host", ""), self.house.listening):
            return Refusal.HOST
        if not _comes_from_here(request):
            return Refusal.ORIGIN
        return Refusal.TOO_LARGE if is_too_long(request) else None

    def _refused_in(self, session: Session, request: Request) -> Response | None:
        """An answer for a session that may not."""
        is_out = self.house.codes is not None and not session.signed_in
        if is_out and request.scope["path"] != SIGN_IN:
            return self._ask_to_sign_in(request)
        return None if request.method in SAFE else _check_token_header(request, session)

    def _ask_to_sign_in(self, request: Request) -> Response:
        if wants_json(request):
            return refuse(request, Refusal.SIGN_IN)
        url = request.url
        back = url.path + (f"?{url.query}" if url.query else "")
        back = back if request.method in SAFE else "/"
        return RedirectResponse(address(SIGN_IN, next="" if back == "/" else back), 303)

    def _put_cookie(self, headers: MutableHeaders, session: Session | None, had: str) -> None:
        if session is None or session.id == had:
            return
        listening = self.house.listening
        secure = "; Secure" if listening.tls else ""
        headers.append(
            "set-cookie",
            f"{listening.cookie}={session.id}; Path=/; HttpOnly; SameSite=Strict{secure}",
        )


async def check_form_token(request: HTTPConnection) -> None:
    """Refuse a plain form that does not carry the session's token; every route depends on this."""
    if not isinstance(request, Request) or not getattr(request.state, "token_is_due", False):
        return  # a line says the token in its first word
    sent = await read_form(request)
    if not _is_token(request.state.session, sent.text(TOKEN)):
        raise Refusal.TOKEN.error()


def _check_token_header(request: Request, session: Session) -> Response | None:
    given = request.headers.get(TOKEN_HEADER)
    if given is not None:
        return None if _is_token(session, given) else refuse(request, Refusal.TOKEN)
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind not in (MULTIPART, URLENCODED):
        return refuse(request, Refusal.TOKEN)
    request.state.token_is_due = True
    return None


def _is_token(session: Session, given: str) -> bool:
    return compare_digest(given.encode("utf-8", "replace"), session.form_token.encode())


def _comes_from_here(request: Request) -> bool:
    """What browsers say of where a request comes from; who says nothing still needs the token."""
    site = request.headers.get("sec-fetch-site")
    if request.method not in SAFE:
        if site is not None and site != "same-origin":
            return False
        return is_origin_own(request.headers.get("origin"), request)
    if site != "cross-site":
        return True
    dest = request.headers.get("sec-fetch-dest", "")
    return request.headers.get("sec-fetch-mode") == "navigate" and dest not in AS_PLUGIN


def _is_link_from_elsewhere(request: Request) -> bool:
    return request.method in SAFE and request.headers.get("sec-fetch-site") == "cross-site"


def _come_again(request: Request) -> Response:
    """Have the browser ask once more from here.

    It keeps a strict cookie back when a link leads here from another site. A new session would
    take the place of the one it has.
    """
    url = request.url
    again = quote(url.path.lstrip("/"), safe="/~") + (f"?{url.query}" if url.query else "")
    return HTMLResponse("", headers={"Refresh": f"0; url=/{again}"})
