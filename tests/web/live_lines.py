"""Lines of a live picture for tests: opened, answered, and what is taken over them."""

import json
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import WebSocketTestSession

from web.live_bench import Live, live_run, message

HOST = "http://127.0.0.1"
LINES = "ws://127.0.0.1"
OWN = {"origin": HOST, "host": "127.0.0.1"}
RATE = 20.0
LOOKS = 60
"""Three seconds of frames: needles that stand are steady long before."""


@pytest.fixture
def live(tmp_path: Path) -> Iterator[Live]:
    with live_run(tmp_path / "shop") as one:
        yield one


@contextmanager
def line(live: Live, *, place: str = "", **hello: object) -> Iterator[WebSocketTestSession]:
    """A line opened as the page does, its first word said."""
    words = {"token": live.desk.token(), "source": "browser"} | hello
    at = f"{LINES}{place or live.place}/line"
    with live.desk.client.websocket_connect(at, headers=OWN) as opened:
        opened.send_text(json.dumps(words))
        yield opened


def answered(opened: WebSocketTestSession, number: int, t_s: float, file: bytes) -> dict[str, Any]:
    opened.send_bytes(message(number, t_s, file))
    return opened.receive_json()


def stood(opened: WebSocketTestSession, live: Live, begun: int = 1) -> dict[str, Any]:
    """The answer once all needles stand, each frame sent when the one before was answered."""
    files = [live.drawn.jpeg() for _ in range(3)]
    for n in range(begun, begun + LOOKS):
        said = answered(opened, n, n / RATE, files[n % 3])
        if said["found"] and all(one["state"] == "steady" for one in said["dials"]):
            return said
    raise AssertionError(f"the needles never stood: {said}")


def take(live: Live, live_id: str, step: int = 0, photo: str = "") -> Any:
    fields = {"live": live_id, "step": str(step), "photo": photo}
    return live.desk.script(f"{live.place}/take", fields)


def sentence(answer: Any) -> str:
    return str(answer.json()["error"])
