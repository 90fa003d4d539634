"""The line of a live picture: frames of the browser's camera in, numbers out.

It is opened under the same rules as every page (`security`), and says the form token first, for a
browser lets no script put it into a header here.
"""

import asyncio
import json
from contextlib import suppress
from hmac import compare_digest
from time import monotonic
from typing import Any, Final

from fastapi import APIRouter, WebSocket
from starlette.concurrency import run_in_threadpool
from starlette.websockets import WebSocketDisconnect, WebSocketState

from needlewright.errors import CameraError, NeedlewrightError, PictureError
from needlewright.records.families import load_version
from needlewright.records.runs import refuse_other_job, run_sheet
from needlewright.web.house import House
from needlewright.web.live_frames import number_of, taken_apart, to_show
from needlewright.web.live_session import LiveSession, Offered, Told
from needlewright.web.live_words import look_document
from needlewright.web.pages import Tag
from needlewright.web.refusals import wrong_of
from needlewright.web.session import Session

POLICY: Final = 1008
HELLO_WITHIN_S: Final = 10.0
LONGEST_HELLO: Final = 2000
WAITING: Final = 4
"""Answers kept for a browser that does not take them; the oldest go first."""
LOOK_AT_SESSION_S: Final = 5.0
BENCH: Final = "bench"
DRIVEN: Final = "driven"
"""Its pictures come from the bench that drives the movement."""
router = APIRouter()


@router.websocket("/jobs/{tag}/run/{run_id}/live/line")
async def line(socket: WebSocket, tag: Tag, run_id: int) -> None:
    """One live picture, from its first word to its end."""
    house: House = socket.app.state.house
    session: Session = socket.state.session
    await socket.accept()
    hello = await hello_of(socket, session)
    if hello is None:
        return
    answers = _Answers()
    try:
        live = await run_in_threadpool(_begin, house, session, (tag, run_id), hello, answers)
    except NeedlewrightError as error:
        await say_and_close(socket, error)
        return
    is_bench = hello.get("source") in (BENCH, DRIVEN)
    sending = asyncio.create_task(_send_answers(socket, live, answers, is_bench=is_bench))
    taking_in = asyncio.create_task(_take_in(socket, house, session, live, answers))
    try:
        await asyncio.wait((sending, taking_in), return_when=asyncio.FIRST_COMPLETED)
    finally:
        for task in (sending, taking_in):
            task.cancel()
        for task in (sending, taking_in):
            with suppress(asyncio.CancelledError, WebSocketDisconnect, RuntimeError):
                await task
        await asyncio.shield(run_in_threadpool(_end, house, live))
        if socket.application_state is WebSocketState.CONNECTED:
            with suppress(RuntimeError, WebSocketDisconnect):
                await socket.close()


class _Answers:
    """From the reading thread to the line: few wait, and the newest are kept."""

    def __init__(self) -> None:
        self._loop = asyncio.get_running_loop()
        self._came = asyncio.Event()
        self._waiting: list[Told] = []

    def tell(self, told: Told) -> None:
        """Called from any thread."""
        with suppress(RuntimeError):  # the workbench has ended meanwhile
            self._loop.call_soon_threadsafe(self._put, told)

    async def next(self) -> Told:
        """Wait for the next one."""
        while not self._waiting:
            self._came.clear()
            await self._came.wait()
        return self._waiting.pop(0)

    def _put(self, told: Told) -> None:
        looks = [one for one in self._waiting if one.look is not None]
        if len(looks) >= WAITING:
            self._waiting.remove(looks[0])
        self._waiting.append(told)
        self._came.set()


async def hello_of(socket: WebSocket, session: Session) -> dict[str, Any] | None:
    """The first word; None: it was not the right one, and the line is closed."""
    try:
        async with asyncio.timeout(HELLO_WITHIN_S):
            said = await socket.receive_text()
        hello = json.loads(said) if len(said) <= LONGEST_HELLO else None
    except (TimeoutError, ValueError, KeyError, WebSocketDisconnect):
        hello = None
    token = hello.get("token") if isinstance(hello, dict) else None
    if not isinstance(token, str) or not compare_digest(
        token.encode("utf-8", "replace"), session.form_token.encode()
    ):
        with suppress(RuntimeError, WebSocketDisconnect):
            await socket.close(POLICY)
        return None
    return hello


def _begin(
    house: House, session: Session, of: tuple[str, int], hello: dict[str, Any], answers: _Answers
) -> LiveSession:
    """Open the picture with the family of the job's run."""
    tag, run_id = of
    refuse_other_job(house.shop, tag, run_id)
    run = run_sheet(house.shop, run_id)
    family = load_version(house.shop, run.family_version_id)
    camera = hello.get("camera") if hello.get("source") == BENCH else None
    if camera is not None and not (isinstance(camera, int) and 0 <= camera < 100):
        raise CameraError("camera of the bench computer: its number is none; choose one again")
    if hello.get("source") == BENCH and camera is None:
        raise CameraError("camera of the bench computer: none was chosen; choose one")
    driven = house.drives.require(run_id) if hello.get("source") == DRIVEN else None
    live = house.live.open(run_id, session.id, family, answers.tell, camera)
    if driven is not None:
        driven.attach(live)
    return live


def _end(house: House, live: LiveSession) -> None:
    house.drives.detach(live)
    house.live.close(live)


async def _take_in(
    socket: WebSocket, house: House, session: Session, live: LiveSession, answers: _Answers
) -> None:
    """Frames as they come, until the browser leaves or its session ends."""
    looked_s = monotonic()
    while True:
        try:
            async with asyncio.timeout(LOOK_AT_SESSION_S):
                came = await socket.receive()
        except TimeoutError:
            came = None
        if came is not None and came["type"] == "websocket.disconnect":
            return
        if monotonic() - looked_s > LOOK_AT_SESSION_S:
            looked_s = monotonic()
            if not may_stay(house, session):
                return
        message = None if came is None else came.get("bytes")
        if message is None:
            continue
        try:
            number, t_s, file = taken_apart(message)
        except PictureError as error:
            answers.tell(Told(number_of(message), wrong=error))
            continue
        live.offer(Offered(number, t_s, file))


def may_stay(house: House, session: Session) -> bool:
    """Whether a line's session has not ended meanwhile."""
    kept = house.sessions.find(session.id)
    return kept is not None and (house.codes is None or kept.signed_in)


async def _send_answers(
    socket: WebSocket, live: LiveSession, answers: _Answers, *, is_bench: bool
) -> None:
    """Numbers as they are found; of a camera at the bench also its picture."""
    while True:
        told = await answers.next()
        if told.is_ready:
            await socket.send_json({"live": live.id})
        elif told.look is not None and told.pixels is not None:
            height, width = told.pixels.shape[:2]
            await socket.send_json(look_document(told.number, told.look, (width, height)))
            if is_bench:
                await socket.send_bytes(await run_in_threadpool(to_show, told.pixels))
        elif told.wrong is not None:
            said = wrong_of(told.wrong).document()["error"]
            await socket.send_json({"n": told.number, "wrong": said, "over": told.is_over})
            if told.is_over:
                return


async def say_and_close(socket: WebSocket, error: NeedlewrightError) -> None:
    """Say what is wrong, and end the line."""
    with suppress(RuntimeError, WebSocketDisconnect):
        await socket.send_json({"n": 0, "wrong": wrong_of(error).document()["error"], "over": True})
        await socket.close()
