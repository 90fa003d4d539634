"""Addresses below a job show and change what is that job's only.

One check that every address has, so that none can forget it; what an address keeps under a number
of its own (sweeps, board photos, notes) it looks up in the job itself.
"""

from collections.abc import Mapping
from typing import Any, Final

from fastapi.requests import HTTPConnection
from starlette.concurrency import run_in_threadpool

from needlewright.records.of_job import Named, refuse_others
from needlewright.web.house import House
from needlewright.web.pages import unquoted

JOBS: Final = "/jobs/"
JOB_PHOTOS: Final = "/jobs/{tag}/photos/"


async def check_own_job(request: HTTPConnection) -> None:
    """Refuse an address that names something of another job; every route depends on this.

    A line has its own way of refusing (`bench_socket`, `live_socket`) and is left to it.
    """
    if request.scope["type"] != "http":
        return
    route = getattr(request.scope.get("route"), "path", "")
    named = named_in(route, request.path_params)
    if named is None:
        return
    house: House = request.app.state.house
    tag = unquoted(str(request.path_params["tag"]))
    await run_in_threadpool(refuse_others, house.shop, tag, named)


def named_in(route: str, given: Mapping[str, Any]) -> Named | None:
    """What an address names beside its job; None: nothing that is to be checked here.

    Parameters
    ----------
    route
        Of the address, with its places open.
    given
        What stands at them.

    Returns
    -------
    Named or None
        Numbers only; whatever is none is refused where it is used.
    """
    if not route.startswith(JOBS) or "tag" not in given:
        return None
    photo = _number(given, "photo_id")
    found = Named(
        run=_number(given, "run_id"),
        run_photo=photo if "run_id" in given else None,
        reading=_number(given, "reading_id"),
        job_photo=photo if route.startswith(JOB_PHOTOS) else None,
        burn_in=_number(given, "burn_in_id"),
    )
    return None if found == Named() else found


def _number(given: Mapping[str, Any], name: str) -> int | None:
    text = str(given.get(name, ""))
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 20 else None
