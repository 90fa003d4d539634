"""Signing in with the pass code, how sessions end, and how guessing slows down."""

import re
from html import unescape
from pathlib import Path

import pytest

from needlewright.errors import UsageError
from needlewright.web.house import Listening
from needlewright.web.posted import TOKEN
from needlewright.web.session import IDLE_S, WHOLE_S, Sessions
from needlewright.web.session_codes import (
    FREE_FOR_ALL,
    LONGEST_WAIT_FOR_ALL_S,
    LONGEST_WAIT_S,
    MOST_DEVICES,
    CodeCheck,
    checked_code,
    new_code,
    spaced,
)
from web.bench_page import ANNA, CODE, LAN, SAME, Browser, page, routes_of


class Hand:
    """A clock moved by hand."""

    def __init__(self) -> None:
        self.at_s = 1000.0

    def __call__(self) -> float:
        return self.at_s


def test_a_session_ends_when_idle_and_after_a_day_at_work() -> None:
    hand = Hand()
    sessions = Sessions(hand)
    one = sessions.open()
    hand.at_s += IDLE_S
    assert sessions.find(one.id) is one
    hand.at_s += IDLE_S + 1
    assert sessions.find(one.id) is None
    used = sessions.open()
    begun_s = hand.at_s
    while hand.at_s - begun_s + 3600 <= WHOLE_S:
        hand.at_s += 3600
        assert sessions.find(used.id) is used
    hand.at_s += 1
    assert sessions.find(used.id) is None
    assert len(sessions) == 0


def test_sessions_are_many_and_none_can_be_guessed() -> None:
    sessions = Sessions(most=5)
    signed = sessions.open(signed_in=True)
    others = [sessions.open() for _ in range(20)]
    assert len(sessions) == 5
    assert sessions.find(signed.id) is signed  # those not signed in make room first
    assert sessions.find(others[0].id) is None
    assert sessions.find(others[-1].id) is others[-1]
    ids = {one.id for one in others} | {one.form_token for one in others}
    assert len(ids) == 40
    assert min(len(one) for one in ids) == 43  # 256 bits
    for wrong in ("", "x", others[-1].id + " ", "\udcff"):
        assert sessions.find(wrong) is None


def test_the_right_code_is_right_however_it_is_typed() -> None:
    check = CodeCheck("4711 0815", Hand())
    for typed in ("47110815", "4711 0815", " 4711-0815 ", "4 7 1 1 0 8 1 5"):
        assert check.attempt(typed, "192.168.7.9").right
    assert not CodeCheck("Abcdefgh", Hand()).attempt("abcdefgh", "192.168.7.9").right


def test_a_device_that_guesses_waits_twice_as_long_each_time() -> None:
    hand = Hand()
    check = CodeCheck(CODE, hand)
    waits = []
    for _ in range(12):
        tried = check.attempt("00000000", "192.168.7.9")
        assert not tried.right
        waits.append(tried.wait_s)
        hand.at_s += tried.wait_s
    assert waits == [0, 0, 2, 4, 8, 16, 32, 64, 128, 256, LONGEST_WAIT_S, LONGEST_WAIT_S]
    hand.at_s -= 10
    assert check.attempt(CODE, "192.168.7.9").right is False  # not even the right one is looked at
    assert check.attempt(CODE, "192.168.7.9").wait_s == 10
    assert check.attempt(CODE, "192.168.7.10").right  # another device is not held up
    hand.at_s += 10
    assert check.attempt(CODE, "192.168.7.9").right
    assert check.attempt("00000000", "192.168.7.9").wait_s == 0  # and begins anew


def test_a_wrong_code_is_forgotten_after_an_hour() -> None:
    hand = Hand()
    check = CodeCheck(CODE, hand)
    for _ in range(2):
        check.attempt("00000000", "192.168.7.9")
    hand.at_s += 3601
    assert check.attempt("00000000", "192.168.7.9").wait_s == 0


def test_many_devices_that_guess_hold_everybody_up_a_little() -> None:
    hand = Hand()
    check = CodeCheck(CODE, hand)
    for number in range(FREE_FOR_ALL - 1):
        assert check.attempt("00000000", f"10.0.0.{number}").wait_s == 0
    assert check.attempt("00000000", "10.0.1.1").wait_s == 1
    assert not check.attempt(CODE, "10.0.2.2").right
    guesses, begun_s = 0, hand.at_s
    while hand.at_s - begun_s < 3600:
        tried = check.attempt(f"{guesses:08}", f"10.1.{guesses // 250}.{guesses % 250}")
        guesses += 1
        hand.at_s += max(tried.wait_s, 0.001)
    assert tried.wait_s <= LONGEST_WAIT_FOR_ALL_S
    # an hour of it, however many devices: about a guess every 20 to 30 s of 10^8 codes
    assert guesses < 250


def test_the_table_of_devices_does_not_grow_for_ever() -> None:
    hand = Hand()
    check = CodeCheck(CODE, hand)
    for number in range(MOST_DEVICES + 200):
        hand.at_s += 31
        check.attempt("00000000", f"10.{number // 62500}.{number // 250 % 250}.{number % 250}")
    assert len(check._devices) == MOST_DEVICES


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("2001:db8:1:2::1", "2001:db8:1:2:ffff::9", True),
        ("2001:db8:1:2::1", "2001:db8:1:3::1", False),
        ("::ffff:10.0.0.1", "10.0.0.1", True),
        ("10.0.0.1", "10.0.0.2", False),
        ("fe80::1%eth0", "fe80::2%eth1", True),
    ],
)
def test_a_device_cannot_change_its_address_to_guess_on(one: str, other: str, same: bool) -> None:
    hand = Hand()
    check = CodeCheck(CODE, hand)
    for _ in range(3):
        check.attempt("00000000", one)
    assert (check.attempt(CODE, other).right is False) is same


def test_codes_that_are_made_are_digits_and_never_the_same() -> None:
    codes = {new_code() for _ in range(200)}
    assert len(codes) > 195
    assert all(re.fullmatch(r"[0-9]{8}", code) for code in codes)
    assert spaced("47110815") == "4711 0815"


@pytest.mark.parametrize("code", ["", "1234", "1 2 3 4 5 6 7", "x" * 129])
def test_a_chosen_code_is_long_enough(code: str) -> None:
    with pytest.raises(UsageError, match="a pass code has 8 to 128 characters"):
        checked_code(code, "--code-file x")


def test_nothing_is_seen_before_signing_in(tmp_path: Path) -> None:
    with page(tmp_path, LAN) as browser:
        reading = [path for method, path in routes_of(browser.app) if method == "GET"]
        assert len(reading) > 30
        for path in reading:
            if path.startswith("/static/") or path == "/sign-in":
                continue
            shown = browser.get(path, headers={"Accept": "text/html"})
            told = browser.get(path, headers={"Accept": "application/json"})
            if path.startswith(("/api/", "/openapi")):
                shown = told if path.startswith("/api/") else shown
            assert shown.status_code in (303, 401), path
            assert told.status_code == 401, path
            assert ANNA not in shown.text + told.text
        signing = browser.get("/sign-in").text
        assert ANNA not in signing
        assert "Test Bench" not in signing
        assert CODE not in signing


def test_nothing_is_done_before_signing_in(tmp_path: Path) -> None:
    with page(tmp_path, LAN) as browser:
        token = browser.token
        for method, path in routes_of(browser.app):
            if method == "GET" or path == "/sign-in":
                continue
            sent = {TOKEN: token, "name": "Intruder"}
            answer = browser.client.request(method, path, data=sent, headers=SAME)
            assert answer.status_code in (303, 401), (method, path)
            if answer.status_code == 303:
                assert answer.headers["location"] == "/sign-in"
        assert browser.sign_in().status_code == 303
        assert "Intruder" not in browser.get("/shop").text


def test_signing_in_leads_back_and_changes_the_session(tmp_path: Path) -> None:
    with page(tmp_path, LAN) as browser:
        asked = browser.get("/jobs/new?family=a%20b")
        assert asked.headers["location"] == "/sign-in?next=%2Fjobs%2Fnew%3Ffamily%3Da%2520b"
        before = browser.client.cookies[LAN.cookie]
        assert (
            'name="next" value="/jobs/new?family=a%20b"'
            in browser.get(asked.headers["location"]).text
        )
        answer = browser.post("/sign-in", {"code": "47110815", "next": "/jobs/new?family=a%20b"})
        assert answer.headers["location"] == "/jobs/new?family=a%20b"
        after = browser.client.cookies[LAN.cookie]
        assert after != before
        assert browser.house.sessions.find(before) is None  # fixation: the old name is no use
        assert browser.get("/").status_code == 200


def test_a_session_somebody_planted_is_never_taken_up(tmp_path: Path) -> None:
    with page(tmp_path, LAN) as browser:
        browser.client.cookies.set(LAN.cookie, "planted", domain="192.168.7.5", path="/")
        browser.get("/sign-in")
        assert browser.client.cookies[LAN.cookie] != "planted"


def test_wrong_codes_are_said_and_slow_down(tmp_path: Path) -> None:
    with page(tmp_path, LAN) as browser:
        for _ in range(2):
            answer = browser.sign_in("11111111")
            assert answer.status_code == 403
            assert "the pass code is not right" in answer.text
        answer = browser.sign_in("11111111")
        assert answer.status_code == 429
        assert answer.headers["retry-after"] == "2"
        assert "Wait 2 seconds, then type it again." in answer.text
        assert "11111111" not in answer.text
        assert browser.sign_in().status_code == 429
        assert browser.get("/").status_code == 303


def test_signing_out_ends_the_session(tmp_path: Path) -> None:
    with page(tmp_path, LAN) as browser:
        browser.sign_in()
        held = browser.client.cookies[LAN.cookie]
        assert browser.post("/sign-out").status_code == 303
        assert browser.house.sessions.find(held) is None
        assert browser.get("/shop").headers["location"] == "/sign-in?next=%2Fshop"


def test_the_machine_itself_signs_in_too(tmp_path: Path) -> None:
    with page(tmp_path, LAN) as browser:
        here = Browser(browser.app, "https://127.0.0.1:8737")
        assert here.get("/").status_code == 303
        assert here.sign_in().status_code == 303
        assert here.get("/").status_code == 200


def test_an_expired_session_asks_again_and_a_script_is_told(tmp_path: Path) -> None:
    with page(tmp_path, LAN) as browser:
        browser.sign_in()
        hand = Hand()
        browser.house.sessions.clock = hand
        session = browser.house.sessions.find(browser.client.cookies[LAN.cookie])
        assert session is None or session.signed_in
        hand.at_s = 1e12
        assert browser.get("/").headers["location"] == "/sign-in"
        told = browser.send("POST", "/api/people", {"name": "Carla Invented"})
        assert told.status_code == 401
        assert told.json()["error"]["do"] == "sign in with the pass code, then do it again"


def test_a_form_older_than_the_session_is_offered_again_not_lost(tmp_path: Path) -> None:
    """On loopback: the workbench was started anew while somebody was typing."""
    with page(tmp_path) as browser:
        browser.get("/")
        sent = {TOKEN: "of before", "name": 'Carla "C" Invented', "more": ""}
        answer = browser.client.post("/shop/people", data=sent, headers=SAME)
        assert answer.status_code == 403
        assert "Not saved yet" in answer.text
        assert 'name="name" value="Carla &#34;C&#34; Invented"' in answer.text
        assert f'name="{TOKEN}" value="{browser.token}"' in answer.text
        assert "of before" not in answer.text
        again = {TOKEN: browser.token, "name": 'Carla "C" Invented'}
        assert browser.client.post("/shop/people", data=again, headers=SAME).status_code == 303


def test_a_form_of_unknown_origin_is_not_offered_again(tmp_path: Path) -> None:
    with page(tmp_path) as browser:
        browser.get("/")
        answer = browser.client.post("/shop/people", data={TOKEN: "x", "name": "Intruder"})
        assert answer.status_code == 403
        assert "Intruder" not in answer.text
        assert browser.token not in answer.text.split("<main")[1].split("</main")[0]


def test_who_is_at_work_signs_what_is_saved(tmp_path: Path) -> None:
    with page(tmp_path) as browser:
        job = {"tag": "T-1", "family": "fam-job"}
        refused = browser.send("POST", "/api/jobs", job)
        assert refused.status_code == 422
        assert refused.json()["error"] == {
            "what": "several people work in this shop",
            "where": "",
            "do": f"say who does this: '{ANNA}', 'Bert Invented'",
        }
        assert browser.post("/person", {"person": "Bert Invented"}).status_code == 303
        assert browser.send("POST", "/api/jobs", job).status_code == 201
        assert browser.get("/api/jobs/T-1/history").json()[0]["by"] == "Bert Invented"
        browser.post("/person", {"person": "Nobody"})
        assert browser.get("/api/session").json()["person"] is None


def test_who_is_at_work_can_be_said_on_a_refused_form_and_nothing_typed_is_lost(
    tmp_path: Path,
) -> None:
    with page(tmp_path) as browser:
        typed = {"tag": "T-9", "family": "fam-job", "owner": 'A. "Sample"'}
        refused = browser.post("/jobs/new", typed)
        assert refused.status_code == 422
        form = refused.text.split('action="/person"', 1)[1].split("</form>", 1)[0]
        assert "data-stays" in form
        back = dict(re.findall(r'name="([^"]+)" value="([^"]*)"', form))
        assert (back["again"], back["kept-tag"], TOKEN in back) == ("/jobs/new", "T-9", True)
        assert f"kept-{TOKEN}" not in back
        back["kept-owner"] = typed["owner"]
        for person in ("Bert Invented", ANNA):  # changed once more on the page it comes back to
            shown = browser.post("/person", back | {"person": person})
            assert shown.status_code == 200
            main = shown.text.split("<main", 1)[1].split("</main", 1)[0]
            assert 'action="/jobs/new"' in main
            sent = dict(re.findall(r'name="([^"]+)" value="([^"]*)"', main))
            assert {"tag", "family", "owner"} <= set(sent)
            assert "A. &#34;Sample&#34;" in main
            head = shown.text.split('action="/person"', 1)[1].split("</form>", 1)[0]
            found = re.findall(r'name="([^"]+)" value="([^"]*)"', head)
            back = {name: unescape(text) for name, text in found}
            assert (back["again"], back["kept-tag"]) == ("/jobs/new", "T-9")
        assert browser.post("/light", back | {"light": "dark"}).status_code == 200
        elsewhere = browser.post("/person", {"again": "//example.org", "person": ANNA})
        assert "example.org" not in elsewhere.text.split("<main", 1)[1].split("</main", 1)[0]
        assert browser.post("/jobs/new", typed).status_code == 303
        assert browser.get("/api/jobs/T-9/history").json()[0]["by"] == ANNA


def test_the_light_is_kept_by_the_browser(tmp_path: Path) -> None:
    with page(tmp_path) as browser:
        assert "data-light" not in browser.get("/").text
        answer = browser.post("/light", {"light": "dark", "next": "/shop"})
        assert answer.headers["location"] == "/shop"
        assert '<html lang="en" data-light="dark">' in browser.get("/").text
        browser.post("/light", {"light": ""})
        assert "data-light" not in browser.get("/").text
        browser.client.cookies.set("needlewright-light", '"><script>', domain="127.0.0.1")
        assert "<script>" not in browser.get("/").text


def test_without_a_code_nobody_signs_in(tmp_path: Path) -> None:
    with page(tmp_path, Listening(port=8737)) as browser:
        assert browser.get("/sign-in?next=/shop").headers["location"] == "/shop"
        assert browser.post("/sign-in", {"code": "x"}).headers["location"] == "/"
