"""Errors as people and programs get them: one sentence in three parts, never a traceback.

For programs, and for the page's own scripts, always
`{"error": {"what": "...", "where": "...", "do": "..."}}`; `where` and `do` may be empty.
"""

import logging
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum
from hmac import compare_digest
from http import HTTPStatus
from typing import Any, Final

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.responses import HTMLResponse, JSONResponse, Response

from needlewright.errors import (
    ConflictError,
    DiskFullError,
    JobError,
    NeedlewrightError,
    NotThereError,
)
from needlewright.web.house import House
from needlewright.web.pages import asking, wants_json
from needlewright.web.posted import TOKEN, SentForm, TooMuch
from needlewright.web.texts import language_wanted, texts_in

LONGEST_PLACE: Final = 60
NOT_TYPED: Final = (TOKEN, "seen", "form")
"""Fields a form carries unseen."""
STATUSES: Final[tuple[tuple[type[NeedlewrightError], HTTPStatus], ...]] = (
    (NotThereError, HTTPStatus.NOT_FOUND),
    (ConflictError, HTTPStatus.CONFLICT),
    (DiskFullError, HTTPStatus.INSUFFICIENT_STORAGE),
    (TooMuch, HTTPStatus.REQUEST_ENTITY_TOO_LARGE),
)
log = logging.getLogger("needlewright.web")


class Refusal(Enum):
    """Why a request is refused before it is looked at; the words are `errors.<name>`."""

    HOST = ("host", HTTPStatus.MISDIRECTED_REQUEST)
    ORIGIN = ("origin", HTTPStatus.FORBIDDEN)
    TOKEN = ("token", HTTPStatus.FORBIDDEN)
    SIGN_IN = ("sign_in", HTTPStatus.UNAUTHORIZED)
    TOO_LARGE = ("status_413", HTTPStatus.REQUEST_ENTITY_TOO_LARGE)
    METHOD = ("status_405", HTTPStatus.METHOD_NOT_ALLOWED)

    @property
    def text(self) -> str:
        """Name of its words."""
        return f"errors.{self.value[0]}"

    @property
    def status(self) -> HTTPStatus:
        """Of the answer."""
        return self.value[1]

    def error(self) -> "RefusedError":
        """To be raised where an answer cannot be given."""
        return RefusedError(self)


class RefusedError(HTTPException):
    """A refusal from within a handler."""

    def __init__(self, refusal: Refusal) -> None:
        super().__init__(refusal.status)
        self.refusal = refusal


@dataclass(frozen=True, slots=True)
class Wrong:
    """What is wrong, where, and what to do next."""

    what: str
    where: str = ""
    do: str = ""
    fields: Mapping[str, str] = field(default_factory=dict)
    """What is wrong with each field, beside which it is shown."""

    @property
    def sentence(self) -> str:
        """All three."""
        start = f"{self.where}: {self.what}" if self.where else self.what
        return f"{start}; {self.do}" if self.do else start

    def document(self) -> dict[str, dict[str, str]]:
        """As programs get it; half characters somebody sent are not sent back."""
        parts = {"what": self.what, "where": self.where, "do": self.do}
        return {"error": {name: _writable(text) for name, text in parts.items()}}


def _writable(text: str) -> str:
    return text.encode("utf-8", "replace").decode("utf-8")


def wrong_of(error: NeedlewrightError) -> Wrong:
    """Take the sentence of an error apart.

    The project's sentences are built as "where: what is wrong; what to do next"; what does not
    follow that is all `what`.
    """
    sentence = str(error)
    where, colon, rest = sentence.partition(": ")
    if not colon or len(where) > LONGEST_PLACE or ";" in where:
        where, rest = "", sentence
    what, semicolon, do = rest.rpartition("; ")
    if not semicolon:
        what, do = rest, ""
    fields = error.fields if isinstance(error, JobError) else {}
    return Wrong(what, where, do, {name: _beside(name, said) for name, said in fields.items()})


def _beside(name: str, said: str) -> str:
    """What is wrong with a field as a sentence beside it, which says by itself where it is."""
    bare = said.removeprefix(f"{name}: ").removesuffix("; correct it and save again")
    return f"{bare[:1].upper()}{bare[1:]}."


def status_of(error: NeedlewrightError) -> HTTPStatus:
    """The status an error is answered with."""
    fitting = (status for kind, status in STATUSES if isinstance(error, kind))
    return next(fitting, HTTPStatus.UNPROCESSABLE_ENTITY)


def refuse(request: Request, refusal: Refusal) -> Response:
    """The answer to a request that is refused."""
    texts = texts_in(language_wanted(request.headers.get("accept-language", "")))
    wrong = Wrong(texts(f"{refusal.text}.what"), "", texts(f"{refusal.text}.do"))
    return answer(request, refusal.status, wrong)


def answer(
    request: Request,
    status: int,
    wrong: Wrong,
    headers: dict[str, str] | None = None,
) -> Response:
    """An error as whoever asked reads it.

    Parameters
    ----------
    request
        What was asked.
    status
        Of the answer.
    wrong
        In words.
    headers
        Further ones.

    Returns
    -------
    Response
        JSON for programs, a page for people.
    """
    if wants_json(request):
        return JSONResponse(wrong.document(), status, headers)
    return HTMLResponse(_error_page(request, status, wrong), status, headers)


def install_refusals(app: FastAPI) -> None:
    """Have every error of an application answered in this form."""

    @app.exception_handler(NeedlewrightError)
    def of_ours(request: Request, error: NeedlewrightError) -> Response:
        return answer(request, status_of(error), wrong_of(error))

    @app.exception_handler(RequestValidationError)
    def of_values(request: Request, error: RequestValidationError) -> Response:
        return answer(request, HTTPStatus.UNPROCESSABLE_ENTITY, _first_value(error))

    @app.exception_handler(HTTPException)
    def of_http(request: Request, error: HTTPException) -> Response:
        if isinstance(error, RefusedError):
            return _offer_again(request) or refuse(request, error.refusal)
        texts = texts_in(language_wanted(request.headers.get("accept-language", "")))
        name = f"errors.status_{error.status_code}"
        name = name if texts.has(f"{name}.what") else "errors.unexpected"
        wrong = Wrong(texts(f"{name}.what"), _place(request), texts(f"{name}.do"))
        return answer(request, error.status_code, wrong, dict(error.headers or {}))


def accident(request: Request) -> Response:
    """The answer where something happened that should not have; the terminal says what."""
    log.exception("%s %s", request.method, request.scope["path"])
    texts = texts_in(language_wanted(request.headers.get("accept-language", "")))
    name = "errors.unexpected"
    wrong = Wrong(texts(f"{name}.what"), _place(request), texts(f"{name}.do"))
    return answer(request, HTTPStatus.INTERNAL_SERVER_ERROR, wrong)


def _offer_again(request: Request) -> Response | None:
    """A form whose page is older than this session, to be sent again without typing it again.

    Only where the browser says that the form is this page's own, and without files.
    """
    sent = getattr(request.state, "sent", None)
    own = "sec-fetch-site" in request.headers or "origin" in request.headers  # the guard compared
    if not isinstance(sent, SentForm) or sent.all_files or wants_json(request) or not own:
        return None
    fields = [(name, value) for name, value in sent.fields if name != TOKEN]
    where = request.url.path + (f"?{request.url.query}" if request.url.query else "")
    return asking(request).page("again.html", 403, fields=fields, where=where)


def _first_value(error: RequestValidationError) -> Wrong:
    first: dict[str, Any] = error.errors()[0]
    where = " > ".join(str(part) for part in first["loc"][1:]) or str(first["loc"][0])
    return Wrong(str(first["msg"]), where)


def _place(request: Request) -> str:
    path: str = request.scope["path"]
    return path if len(path) <= LONGEST_PLACE else path[:LONGEST_PLACE] + "..."


def _error_page(request: Request, status: int, wrong: Wrong) -> str:
    """With the places of the page where there is a session, else by itself; typed text stays."""
    typed = _typed(request)
    if getattr(request.state, "session", None) is not None:
        try:
            page = asking(request).page("error.html", wrong=wrong, code=status, **typed)
            return str(page.body, "utf-8")
        except Exception:  # the records themselves cannot be read
            log.warning("the records cannot be read for an error page", exc_info=True)
    texts = texts_in(language_wanted(request.headers.get("accept-language", "")))
    house: House = request.app.state.house
    template = house.templates.get_template("bare_error.html")
    return template.render(t=texts, wrong=wrong, code=status, **typed)


def _typed(request: Request) -> dict[str, Any]:
    """What a form of this page's own carried, to be shown and sent again; never a pass code."""
    sent, session = (getattr(request.state, name, None) for name in ("sent", "session"))
    if not isinstance(sent, SentForm) or session is None or sent.maybe("code") is not None:
        return {"typed": ()}
    if not compare_digest(sent.text(TOKEN).encode(), session.form_token.encode()):
        return {"typed": ()}
    return {
        "typed": [(name, text) for name, text in sent.fields if text and name not in NOT_TYPED],
        "fields": [(name, text) for name, text in sent.fields if name != TOKEN],
        "had_files": bool(sent.all_files),
        "where": request.url.path + (f"?{request.url.query}" if request.url.query else ""),
        "token": session.form_token,
    }
