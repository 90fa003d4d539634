"""Putting the page together."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from typing import Final

from fastapi import FastAPI

from needlewright import __version__
from needlewright.records.opening import open_shop
from needlewright.web import shelf
from needlewright.web.house import House, Listening
from needlewright.web.security import Guard
from needlewright.web.session import Sessions
from needlewright.web.static import router as static
from needlewright.web.templating import make_templates

SHEET: Final = "needlewright.web.sheet"


def create_app(
    shop_folder: Path | None = None,
    listening: Listening | None = None,
) -> FastAPI:
    """The page of a shop.

    Parameters
    ----------
    shop_folder
        Of the shop; None: where the records say.
    listening
        How it is reached; None: from this machine only.

    Returns
    -------
    FastAPI
        `app.state.house` holds what it works with.
    """
    shop = open_shop(shop_folder)
    house = House(shop, Sessions(), make_templates(), listening or Listening())

    @asynccontextmanager
    async def lifespan(_: FastAPI) -> AsyncIterator[None]:
        yield
        shop.close()

    app = FastAPI(
        title="Needlewright",
        version=__version__,
        lifespan=lifespan,
        docs_url=None,
        redoc_url=None,
        openapi_url="/openapi.json",
    )
    app.state.house = house
    app.include_router(static)
    app.include_router(shelf.router)
    if find_spec(SHEET):
        app.include_router(import_module(SHEET).router)
    app.add_middleware(Guard, house=house)
    return app
