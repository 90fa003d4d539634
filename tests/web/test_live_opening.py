"""Who may open the line of a live picture, and how many there are at once."""

import json
from pathlib import Path

import pytest
from starlette.websockets import WebSocketDisconnect

from needlewright.records.runs import set_aside_run
from needlewright.records.sheet import job_sheet
from needlewright.web.app import create_app
from needlewright.web.house import Listening
from web.bench_page import CODE, Browser
from web.live_bench import Live, live_run
from web.live_lines import LINES, OWN, line, live
from web.sheet_desk import TAG, open_job

__all__ = ["live"]  # a fixture, found by its name


@pytest.mark.parametrize("origin", [None, "http://elsewhere.example", "https://127.0.0.1", "null"])
def test_a_line_is_opened_from_this_page_alone(live: Live, origin: str | None):
    headers = {"host": "127.0.0.1"} | ({} if origin is None else {"origin": origin})
    live.desk.token()
    with (
        pytest.raises(WebSocketDisconnect) as refused,
        live.desk.client.websocket_connect(f"{LINES}{live.place}/line", headers=headers),
    ):
        pass
    assert refused.value.code == 1008


def test_a_line_needs_a_session_and_a_known_host(live: Live):
    foreign = {"origin": "http://evil.example", "host": "evil.example"}
    for headers, keeps in ((OWN, False), (foreign, True)):
        live.desk.token()
        if not keeps:
            live.desk.client.cookies.clear()
        with (
            pytest.raises(WebSocketDisconnect) as refused,
            live.desk.client.websocket_connect(f"{LINES}{live.place}/line", headers=headers),
        ):
            pass
        assert refused.value.code == 1008


@pytest.mark.parametrize(
    "first", ["", "{}", "[]", '{"token": "wrong"}', '{"token": 7}', "x" * 3000]
)
def test_the_first_word_is_the_form_token(live: Live, first: str):
    live.desk.token()
    with live.desk.client.websocket_connect(f"{LINES}{live.place}/line", headers=OWN) as opened:
        opened.send_text(first)
        with pytest.raises(WebSocketDisconnect) as closed:
            opened.receive_json()
    assert closed.value.code == 1008
    assert len(live.pictures) == 0


def test_behind_a_pass_code_only_a_browser_signed_in_opens_a_line(tmp_path: Path):
    with live_run(tmp_path / "shop") as one:
        place = one.place
    listening = Listening(port=8737, tls=True, code=CODE, names=("bench",))
    app = create_app(tmp_path / "shop", listening, read_photos=False)
    browser = Browser(app, "https://192.168.7.5:8737")
    own = {"origin": "https://192.168.7.5:8737", "host": "192.168.7.5:8737"}
    url = f"wss://192.168.7.5:8737{place}/line"
    with browser.client:
        assert browser.token
        with (
            pytest.raises(WebSocketDisconnect) as refused,
            browser.client.websocket_connect(url, headers=own),
        ):
            pass
        assert refused.value.code == 1008
        browser.sign_in()
        with browser.client.websocket_connect(url, headers=own) as opened:
            opened.send_text(json.dumps({"token": browser.token, "source": "browser"}))
            assert opened.receive_json()["live"]


def test_a_third_live_picture_is_refused_and_room_is_made_when_one_ends(live: Live):
    with line(live) as first, line(live) as second:
        assert first.receive_json()["live"] != second.receive_json()["live"]
        with line(live) as third:
            said = third.receive_json()
            assert said["over"]
            assert "2 others are open" in said["wrong"]["what"]
    assert live.pictures.is_emptied()
    with line(live) as fourth:
        assert fourth.receive_json()["live"]


def test_a_run_set_aside_takes_nothing(live: Live):
    set_aside_run(live.desk.shop, live.run_id, "a test")
    answer = live.desk.client.get(live.place, headers={"accept": "text/html"})
    assert answer.status_code == 422
    assert "is set aside and takes no more readings" in answer.text


def test_a_run_that_is_not_there_is_said_on_the_line(live: Live):
    with line(live, place=f"/jobs/{TAG}/run/99/live") as opened:
        assert opened.receive_json()["over"]


def test_a_run_is_opened_under_its_own_job_alone(live: Live):
    """An address of one job never shows, feeds or writes what is another's."""
    open_job(live.desk.shop, "EX-0413")
    before = job_sheet(live.desk.shop, TAG).version
    elsewhere = live.place.replace(f"/jobs/{TAG}/", "/jobs/EX-0413/")
    says = f"has no run {live.run_id}"
    for place in (elsewhere, f"{elsewhere}/press"):
        answer = live.desk.client.get(place, headers={"accept": "application/json"})
        assert says in answer.json()["error"]["what"], place
    for place in ("take", "set", "press"):
        fields = {"live": "none", "step": "0", "dial": "speed", "from_deg": "0"}
        answer = live.desk.script(f"{elsewhere}/{place}", fields)
        assert says in answer.json()["error"]["what"], place
    with line(live, place=elsewhere) as opened:
        said = opened.receive_json()
        assert said["over"]
        assert says in said["wrong"]["what"]
    assert job_sheet(live.desk.shop, TAG).version == before
    assert live.desk.client.get(live.place).status_code == 200


def test_only_the_live_place_may_use_the_camera(live: Live):
    allowed = live.desk.client.get(live.place).headers["permissions-policy"]
    assert "camera=(self)" in allowed
    assert "microphone=()" in allowed
    other = live.desk.client.get(f"/jobs/{TAG}").headers["permissions-policy"]
    assert "camera=()" in other


def test_no_picture_is_left_when_its_line_is_closed(live: Live):
    with line(live) as opened:
        opened.receive_json()
        assert len(live.pictures) == 1
    assert live.pictures.is_emptied()
