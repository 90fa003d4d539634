"""What a handler is given of a request, and how it answers."""

from dataclasses import dataclass
from functools import lru_cache
from hmac import compare_digest
from typing import Annotated, Any, Final
from urllib.parse import quote, urlencode

from fastapi import Depends, Path, Request
from pydantic import AfterValidator
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from needlewright.records.opening import Shop
from needlewright.records.shop import people, settings
from needlewright.web.house import House
from needlewright.web.session import Session
from needlewright.web.texts import Texts, language_wanted, texts_in

SEE_OTHER: Final = 303
PLACES: Final = {"new"}
"""Parts of addresses that are places of the page, though a tag could be called so."""
FORM_TOKEN: Final = "form_token"
PASS_CODE: Final = "code"
KEPT_FIELD: Final = "kept-"
"""Before the names of fields that are brought back."""
MOST_KEPT: Final = 300
"""Fields of a form that are brought back; fewer than a form may have."""
LIGHT_COOKIE: Final = "needlewright-light"
LIGHTS: Final = ("dark", "light")
"""What a person may choose; else as the device is set."""


@dataclass(frozen=True, slots=True)
class Asking:
    """One request."""

    request: Request
    house: House
    session: Session
    texts: Texts

    @property
    def shop(self) -> Shop:
        """The shop."""
        return self.house.shop

    @property
    def by(self) -> str | None:
        """Who saves: the person chosen at this browser; None takes the shop's only one."""
        return self.session.person

    @property
    def may_see(self) -> bool:
        """Whether this browser may see what the shop keeps."""
        return self.house.codes is None or self.session.signed_in

    @property
    def invented(self) -> bool:
        """Whether everything in this shop is invented."""
        return settings(self.shop).invented

    @property
    def light(self) -> str:
        """How this browser is to show the page; empty: as the device is set."""
        chosen = self.request.cookies.get(LIGHT_COOKIE, "")
        return chosen if chosen in LIGHTS else ""

    @property
    def here(self) -> str:
        """The address of this page, to come back to."""
        url = self.request.url
        return url.path + (f"?{url.query}" if url.query else "")

    @property
    def kept(self) -> tuple[str, list[tuple[str, str]]] | None:
        """Where the form this page answers was sent, and what was typed; None: it answers none.

        A choice at the page's head that is not of that form brings it back with it. Files cannot
        be brought back.
        """
        sent = getattr(self.request.state, "sent", None)
        if self.request.method != "POST" or sent is None or sent.all_files:
            return None
        if not compare_digest(sent.text(FORM_TOKEN).encode(), self.session.form_token.encode()):
            return None  # not from a page of this browser's
        unseen, start = (FORM_TOKEN, PASS_CODE), KEPT_FIELD
        where, fields = self.here, [one for one in sent.fields if one[0] not in unseen]
        if sent.text("again"):  # it was brought back once already
            where = sent.text("again")
            fields = [(k.removeprefix(start), text) for k, text in fields if k.startswith(start)]
        return (where, fields) if len(fields) <= MOST_KEPT else None

    @property
    def is_script(self) -> bool:
        """Whether a script asks and wants JSON."""
        return wants_json(self.request)

    def at(self, *parts: object, **query: object) -> str:
        """An address on this page, each part quoted."""
        return address(*parts, **query)

    def page(self, template: str, status: int = 200, **values: Any) -> HTMLResponse:
        """A page.

        Parameters
        ----------
        template
            In `templates/`.
        status
            Of the answer.
        values
            For the template, beside `asked`, `t`, `at`, `original` and `token_field`.

        Returns
        -------
        HTMLResponse
            Of the whole page.
        """
        text = self.house.templates.get_template(template).render(
            asked=self,
            t=self.texts,
            **(self._of_shop() | values),
        )
        return HTMLResponse(text, status, headers={"Content-Language": self.texts.code})

    def _of_shop(self) -> dict[str, Any]:
        """What every page shows of the shop."""
        if not self.may_see:
            return {"working": [], "invented": False}
        return {
            "working": [one.name for one in people(self.shop) if not one.has_left],
            "invented": self.invented,
        }

    def saved(self, where: str, **facts: Any) -> Response:
        """The answer to something saved: a script is told, a browser sent on.

        Parameters
        ----------
        where
            The page to go on with, from `at`.
        facts
            For scripts, beside `saved` and `where`.

        Returns
        -------
        Response
            JSON or a redirection that a reload does not repeat.
        """
        if self.is_script:
            return JSONResponse({"saved": True, "where": where, **facts})
        return RedirectResponse(where, SEE_OTHER)


def asking(request: Request) -> Asking:
    """Gather what a handler needs of a request."""
    texts = texts_in(language_wanted(request.headers.get("accept-language", "")))
    return Asking(request, request.app.state.house, request.state.session, texts)


@lru_cache(maxsize=4096)
def _quoted(part: str) -> str:
    """One part: slashes would part it, browsers take points alone away, some words are places."""
    part = part.replace("~", "~0").replace("/", "~1")
    if not part.strip("."):
        part = part.replace(".", "~2")
    if part.lower() in PLACES:
        part = f"~3{part}"
    return quote(part, safe="~")


def unquoted(part: str) -> str:
    """A part of an address as it was before it was put there."""
    return part.replace("~3", "").replace("~2", ".").replace("~1", "/").replace("~0", "~")


Asked = Annotated[Asking, Depends(asking)]
Tag = Annotated[str, Path(max_length=200), AfterValidator(unquoted)]
"""A part of an address that people named: a tag, a paper's number."""


def wants_json(request: Request) -> bool:
    """Whether the answer is read by a program."""
    if request.scope["path"].startswith("/api/"):
        return True
    accept = request.headers.get("accept", "")
    return "application/json" in accept and "text/html" not in accept


def address(*parts: object, **query: object) -> str:
    """An address on this page.

    Parameters
    ----------
    parts
        The first may hold slashes, such as `/jobs`; in all others they are quoted so that `Tag`
        finds them again.
    query
        What is None or empty is left out.

    Returns
    -------
    str
        From the root.
    """
    first, *others = parts
    path = "/".join((str(first).rstrip("/"), *(_quoted(str(part)) for part in others)))
    stated = {key: value for key, value in query.items() if value not in (None, "")}
    return (path or "/") + (f"?{urlencode(stated)}" if stated else "")
