"""Putting the page together."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from functools import cache
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from typing import Final

from fastapi import APIRouter, Depends, FastAPI
from fastapi.telemetry import TelemetryConfig
from starlette.concurrency import run_in_threadpool
from starlette.routing import BaseRoute

from needlewright import __version__
from needlewright.records.opening import Shop, open_shop
from needlewright.web import (
    bench,
    bench_socket,
    board,
    burn_in,
    burn_in_run,
    drafts,
    families,
    guides,
    join,
    live,
    live_drive,
    live_press,
    live_socket,
    originals,
    press,
    press_height,
    session_pages,
    shelf,
    shop,
    static,
    stock,
    stock_jobs,
    sums,
    sweeps,
)
from needlewright.web.api import make_router
from needlewright.web.background import ReadingQueue
from needlewright.web.bench_desk import BenchDesk
from needlewright.web.bench_order import OpenDevices, open_devices
from needlewright.web.burn_in_desk import BurnInDesk
from needlewright.web.drafts_desk import DraftDesk
from needlewright.web.drive_desk import DriveDesk
from needlewright.web.findings_desk import AnalysisDesk
from needlewright.web.house import House, Listening
from needlewright.web.live_desk import LiveDesk
from needlewright.web.own_job import check_own_job
from needlewright.web.refusals import install_refusals
from needlewright.web.security import Guard, check_form_token
from needlewright.web.session import Sessions
from needlewright.web.session_codes import CodeCheck
from needlewright.web.sweeps_queue import SweepQueue
from needlewright.web.templating import make_templates

PLACES: Final = (
    static,
    shelf,
    families,
    drafts,
    shop,
    stock,
    stock_jobs,
    join,
    session_pages,
    originals,
    live,
    live_drive,
    live_press,
    live_socket,
    bench,
    bench_socket,
    sweeps,
    board,
    burn_in,
    burn_in_run,
    sums,
    guides,
    press,
    press_height,
)
NOTHING_TOLD: Final[TelemetryConfig] = {
    "tracing": False,
    "metrics": False,
    "logs": False,
    "auto_configure": False,
}
"""Whatever the environment says, nothing about the page is sent anywhere."""
SHEET: Final = "needlewright.web.sheet"


def create_app(
    shop_folder: Path | None = None,
    listening: Listening | None = None,
    *,
    read_photos: bool = True,
    live_desk: LiveDesk | None = None,
    open_bench: OpenDevices = open_devices,
) -> FastAPI:
    """The page of a shop.

    Parameters
    ----------
    shop_folder
        Of the shop; None: where the records say.
    listening
        How it is reached; None: from this machine only.
    read_photos
        Whether photos are read and sweep videos followed in the background.
    live_desk
        What opens live pictures; None: one with the cameras of this machine.
    open_bench
        Opens the devices of a run at the bench.

    Returns
    -------
    FastAPI
        `app.state.house` holds what it works with. The shop is closed when the app ends.

    Raises
    ------
    RecordError
        If the shop cannot be opened.
    """
    opened = open_shop(shop_folder)
    house = make_house(opened, listening or Listening(), live_desk, open_bench)

    @asynccontextmanager
    async def lifespan(_: FastAPI) -> AsyncIterator[None]:
        if read_photos:
            house.reading.start()
            house.sweeps.start()
        yield
        await run_in_threadpool(house.bench.stop)
        await run_in_threadpool(house.burn_ins.stop)
        await run_in_threadpool(house.drives.stop)
        await run_in_threadpool(house.live.stop)
        house.reading.stop()
        house.sweeps.stop()
        await run_in_threadpool(house.drafts.close)
        await run_in_threadpool(house.analyses.close)
        opened.close()

    app = FastAPI(
        title="Needlewright",
        version=__version__,
        lifespan=lifespan,
        docs_url=None,
        redoc_url=None,
        openapi_url=None,
        telemetry=NOTHING_TOLD,
        routes=list(every_address()),
    )
    app.state.house = house
    install_refusals(app)
    app.add_middleware(Guard, house=house)
    return app


@cache
def every_address() -> tuple[BaseRoute, ...]:
    """Every address; put together once in a process, which takes longer than opening a shop."""
    every = APIRouter(dependencies=[Depends(check_form_token), Depends(check_own_job)])
    for place in PLACES:
        every.include_router(place.router, include_in_schema=False)
    if find_spec(SHEET):
        every.include_router(import_module(SHEET).router, include_in_schema=False)
    every.include_router(make_router())
    return tuple(every.routes)


def make_house(
    shop: Shop,
    listening: Listening,
    live: LiveDesk | None = None,
    open_bench: OpenDevices = open_devices,
) -> House:
    """What a page of this shop works with."""
    live = LiveDesk() if live is None else live  # one with nothing open yet is false
    bench = BenchDesk(live, open_bench)
    return House(
        shop=shop,
        sessions=Sessions(),
        templates=make_templates(),
        listening=listening,
        codes=None if listening.code is None else CodeCheck(listening.code),
        reading=ReadingQueue(shop),
        live=live,
        bench=bench,
        burn_ins=BurnInDesk(bench),
        drives=DriveDesk(bench),
        sweeps=SweepQueue(shop),
        drafts=DraftDesk(shop),
        analyses=AnalysisDesk(),
    )
