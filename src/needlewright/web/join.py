"""A phone joins: the address as a picture it can read."""

from io import BytesIO
from typing import Annotated, Final

import segno
from fastapi import APIRouter, HTTPException, Query
from starlette.responses import HTMLResponse, Response

from needlewright.web.pages import Asked
from needlewright.web.session_codes import spaced

NOT_FOUND: Final = 404

router = APIRouter(include_in_schema=False)


@router.get("/phone", response_class=HTMLResponse)
def show(asked: Asked) -> Response:
    """How a phone joins, or how the workbench is started so that one can."""
    listening = asked.house.listening
    return asked.page(
        "phone.html",
        urls=listening.urls() if listening.lan else (),
        code=spaced(listening.code) if listening.code else "",
        fingerprint=listening.fingerprint,
    )


@router.get("/phone/code.svg", response_class=Response)
def picture(asked: Asked, number: Annotated[int, Query(ge=0, lt=100)] = 0) -> Response:
    """One of the addresses, for the phone's camera."""
    urls = asked.house.listening.urls() if asked.house.listening.lan else ()
    if number >= len(urls):
        raise HTTPException(NOT_FOUND)
    out = BytesIO()
    segno.make(urls[number], error="m").save(
        out, kind="svg", scale=8, border=4, dark="#1d1b17", light="#ffffff", xmldecl=False
    )
    return Response(out.getvalue(), media_type="image/svg+xml")
