"""What a handler is given of a request, and how it answers."""

from dataclasses import dataclass
from typing import Annotated, Any, Final
from urllib.parse import quote, urlencode

from fastapi import Depends, Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from needlewright.records.opening import Shop
from needlewright.records.shop import people
from needlewright.web.house import House
from needlewright.web.session import Session
from needlewright.web.texts import Texts, language_wanted, texts_in

SEE_OTHER: Final = 303


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
            working=[one.name for one in people(self.shop) if not one.has_left],
            **values,
        )
        return HTMLResponse(text, status, headers={"Content-Language": self.texts.code})

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


Asked = Annotated[Asking, Depends(asking)]


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
        The first may hold slashes, such as `/jobs`; in all others they are quoted.
    query
        What is None or empty is left out.

    Returns
    -------
    str
        From the root.
    """
    first, *others = parts
    path = "/".join((str(first).rstrip("/"), *(quote(str(part), safe="") for part in others)))
    stated = {key: value for key, value in query.items() if value not in (None, "")}
    return (path or "/") + (f"?{urlencode(stated)}" if stated else "")
