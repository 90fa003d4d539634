"""A live picture from another device of the shop: encrypted, behind the pass code."""

import json
import re
import ssl
from pathlib import Path

import httpx2
import pytest
from websockets.exceptions import ConnectionClosedError, InvalidStatus
from websockets.sync.client import connect

from needlewright.web.live_frames import LARGEST_FRAME
from web.bench_page import CODE
from web.live_bench import live_run, message
from web.serving_process import WITHIN_S, served

TOKEN = re.compile(r'name="form-token" content="([^"]+)"')


def token_of(page: str) -> str:
    found = TOKEN.search(page)
    assert found
    return found.group(1)


def test_frames_come_encrypted_from_a_device_that_signed_in(tmp_path: Path):
    with live_run(tmp_path / "shop") as live:
        place, file = live.place, live.drawn.jpeg()
    trusting = ssl.create_default_context()
    trusting.check_hostname, trusting.verify_mode = False, ssl.CERT_NONE
    slowly = {"open_timeout": WITHIN_S, "close_timeout": WITHIN_S, "ping_interval": None}
    lasting = {"ssl": trusting, **slowly}
    with served(tmp_path / "shop", "--lan", NEEDLEWRIGHT_PASS_CODE=CODE) as one:
        url = one.said["url"]
        host = url.removeprefix("https://").rstrip("/")
        line, own = f"wss://{host}{place}/line", f"https://{host}"
        with httpx2.Client(
            base_url=url, verify=trusting, follow_redirects=True, timeout=WITHIN_S
        ) as phone:
            token = token_of(phone.get("/sign-in").text)

            def cookie() -> dict[str, str]:
                return {"Cookie": "; ".join(f"{k}={v}" for k, v in phone.cookies.items())}

            with pytest.raises(InvalidStatus, match="403"):
                connect(line, origin=own, additional_headers=cookie(), **lasting)
            phone.post("/sign-in", data={"form_token": token, "code": CODE})
            token = token_of(phone.get(place).text)
            for origin in (f"http://{host}", "https://elsewhere.example", None):
                with pytest.raises(InvalidStatus, match="403"):
                    connect(line, origin=origin, additional_headers=cookie(), **lasting)
            opened = connect(line, origin=own, additional_headers=cookie(), **lasting)
        with opened:
            opened.send(json.dumps({"token": token, "source": "browser"}))
            assert json.loads(opened.recv())["live"]
            opened.send(message(1, 0.1, file))
            assert json.loads(opened.recv())["found"]
            opened.send(message(2, 0.2, bytes(LARGEST_FRAME)))
            assert "larger than 4 MB" in json.loads(opened.recv())["wrong"]["what"]
            # 1009, unless the line ends before the browser's side has read why
            with pytest.raises(ConnectionClosedError):  # noqa: PT012
                opened.send(bytes(2 * LARGEST_FRAME))
                opened.recv()
