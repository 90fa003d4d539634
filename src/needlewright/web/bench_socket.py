"""The line of the bench screen: where the run stands, and its picture, as they change.

It only tells. Whatever is wanted of a run is sent as every form is, and may come from any window.
"""

import asyncio
from contextlib import suppress
from typing import Final

from fastapi import APIRouter, WebSocket
from starlette.concurrency import run_in_threadpool
from starlette.websockets import WebSocketDisconnect, WebSocketState

from needlewright.errors import NeedlewrightError
from needlewright.records.runs import refuse_other_job
from needlewright.web.bench_session import BenchSession
from needlewright.web.bench_words import document, seen_document
from needlewright.web.house import House
from needlewright.web.live_socket import LOOK_AT_SESSION_S, hello_of, may_stay, say_and_close
from needlewright.web.pages import Tag
from needlewright.web.session import Session

AT_MOST_EVERY_S: Final = 0.08
"""A run let loose makes more pictures than anybody sees."""
router = APIRouter()


@router.websocket("/jobs/{tag}/run/{run_id}/bench/line")
async def line(socket: WebSocket, tag: Tag, run_id: int) -> None:
    """One window that looks on, until it or the run ends."""
    house: House = socket.app.state.house
    session: Session = socket.state.session
    await socket.accept()
    if await hello_of(socket, session) is None:
        return
    try:
        await run_in_threadpool(refuse_other_job, house.shop, tag, run_id)
    except NeedlewrightError as error:
        await say_and_close(socket, error)
        return
    run = house.bench.at(run_id)
    if run is not None:
        telling = asyncio.create_task(_tell(socket, run))
        leaving = asyncio.create_task(_until_left(socket, house, session))
        try:
            await asyncio.wait((telling, leaving), return_when=asyncio.FIRST_COMPLETED)
        finally:
            for task in (telling, leaving):
                task.cancel()
            for task in (telling, leaving):
                with suppress(asyncio.CancelledError, WebSocketDisconnect, RuntimeError):
                    await task
    if socket.application_state is WebSocketState.CONNECTED:
        with suppress(RuntimeError, WebSocketDisconnect):
            await socket.close()


async def _tell(socket: WebSocket, run: BenchSession) -> None:
    """Say what has changed, until the run has ended."""
    loop, changed = asyncio.get_running_loop(), asyncio.Event()

    def wake() -> None:
        with suppress(RuntimeError):  # the workbench has ended meanwhile
            loop.call_soon_threadsafe(changed.set)

    end = run.listen(wake)
    said, number = None, 0
    try:
        while True:
            changed.clear()
            is_over = run.ended.is_set()
            now = await run_in_threadpool(document, run)
            if now != said:
                said = now
                await socket.send_json({"now": now})
            seen = run.seen
            if seen is not None and seen.number != number and not is_over:
                number = seen.number
                await socket.send_json({"look": seen_document(seen)})
                await socket.send_bytes(await run_in_threadpool(run.picture, seen))
            if is_over:
                return
            await changed.wait()
            await asyncio.sleep(AT_MOST_EVERY_S)
    finally:
        end()


async def _until_left(socket: WebSocket, house: House, session: Session) -> None:
    """Until the browser leaves or its session ends."""
    while may_stay(house, session):
        try:
            async with asyncio.timeout(LOOK_AT_SESSION_S):
                came = await socket.receive()
        except TimeoutError:
            continue
        if came["type"] == "websocket.disconnect":
            return
