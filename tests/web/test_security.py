"""Who may ask what, how much, and what every answer says."""

import re
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from needlewright.records.shop import people
from needlewright.web import posted
from needlewright.web.house import Listening
from needlewright.web.posted import TOKEN
from needlewright.web.security_headers import ALWAYS, CONTENT_POLICY
from needlewright.web.security_hosts import is_host_known
from needlewright.web.session_pages import own_path
from web.bench_page import ANNA, LAN, SAME, page, routes_of

ALONE = Listening(port=8737)


@pytest.mark.parametrize(
    ("host", "alone", "lan"),
    [
        ("127.0.0.1:8737", True, True),
        ("127.9.8.7", True, True),
        ("localhost:8737", True, True),
        ("LOCALHOST.", True, True),
        ("[::1]:8737", True, True),
        ("192.168.7.5:8737", False, True),
        ("[fe80::1]", False, True),
        ("bench.local:8737", False, True),
        ("Bench", False, True),
        ("evil.example", False, False),
        ("127.0.0.1.evil.example", False, False),
        ("localhost.evil.example", False, False),
        ("somebody@127.0.0.1", False, False),
        ("127.0.0.1/..", False, False),
        ("127.0.0.1:no", False, False),
        ("", False, False),
    ],
)
def test_a_host_is_this_machine_or_it_is_not(host: str, alone: bool, lan: bool) -> None:
    assert is_host_known(host, ALONE) is alone
    assert is_host_known(host, LAN) is lan


def test_a_foreign_name_reads_nothing(tmp_path: Path) -> None:
    """DNS rebinding: a name of somebody else's that leads to this machine."""
    with page(tmp_path) as browser:
        answer = browser.get("/shop", headers={"Host": "evil.example:8737"})
        assert answer.status_code == 421
        assert ANNA not in answer.text
        assert "set-cookie" not in answer.headers
        assert browser.get("/api/people", headers={"Host": "evil.example"}).json() == {
            "error": {
                "what": "this name does not lead to this workbench",
                "where": "",
                "do": "use the address that the workbench shows in its terminal",
            }
        }


def test_nothing_is_saved_without_the_token(tmp_path: Path) -> None:
    """Every route there is, those of other modules included."""
    with page(tmp_path) as browser:
        saving = [(m, p) for m, p in routes_of(browser.app) if m not in ("GET", "HEAD")]
        assert len(saving) > 40
        assert ("POST", "/shop/people") in saving
        assert ("PATCH", "/api/settings") in saving
        browser.get("/")
        token = browser.token
        for method, path in saving:
            for kind in ("application/json", "application/x-www-form-urlencoded", "text/plain"):
                headers = SAME | {"Content-Type": kind, "Accept": "application/json"}
                bare = browser.client.request(method, path, content=b"", headers=headers)
                assert bare.status_code == 403, (method, path, kind)
                wrong = headers | {"X-Form-Token": token[:-1] + "!"}
                answer = browser.client.request(method, path, content=b"{}", headers=wrong)
                assert answer.status_code == 403, (method, path, kind)
            sent = {TOKEN: "no", "name": "Intruder"}
            form = browser.client.request(method, path, data=sent, headers={"Accept": "text/html"})
            assert form.status_code == 403, (method, path)
        assert [one.name for one in people(browser.shop)] == [ANNA, "Bert Invented"]


def test_the_token_of_one_session_is_no_use_in_another(tmp_path: Path) -> None:
    with page(tmp_path) as browser:
        other = TestClient(browser.app, base_url="http://127.0.0.1:8737", follow_redirects=False)
        other.get("/")
        token = browser.token
        sent = {TOKEN: token, "name": "Intruder"}
        assert other.post("/shop/people", data=sent, headers=SAME).status_code == 403
        assert browser.client.post("/shop/people", data=sent, headers=SAME).status_code == 303


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"Sec-Fetch-Site": "same-origin", "Origin": "http://127.0.0.1:8737"}, 303),
        ({"Sec-Fetch-Site": "same-origin"}, 303),
        ({"Origin": "http://127.0.0.1:8737"}, 303),
        ({}, 303),
        ({"Sec-Fetch-Site": "cross-site"}, 403),
        ({"Sec-Fetch-Site": "same-site"}, 403),
        ({"Sec-Fetch-Site": "none"}, 403),
        ({"Origin": "http://127.0.0.1:9999"}, 403),
        ({"Origin": "https://127.0.0.1:8737"}, 403),
        ({"Origin": "http://evil.example"}, 403),
        ({"Origin": "null"}, 403),
        ({"Sec-Fetch-Site": "same-origin", "Origin": "http://evil.example"}, 403),
    ],
)
def test_what_saves_comes_from_here(tmp_path: Path, headers: dict[str, str], status: int) -> None:
    with page(tmp_path) as browser:
        sent = {TOKEN: browser.token, "name": "Carla Invented"}
        answer = browser.client.post("/shop/people", data=sent, headers=headers)
        assert answer.status_code == status
        assert (len(people(browser.shop)) == 3) is (status == 303)


def test_other_sites_can_link_here_and_nothing_else(tmp_path: Path) -> None:
    with page(tmp_path) as browser:
        cross = {"Sec-Fetch-Site": "cross-site"}
        for dest, mode in (("image", "no-cors"), ("script", "no-cors"), ("iframe", "navigate")):
            embedded = {"Sec-Fetch-Dest": dest, "Sec-Fetch-Mode": mode} | cross
            assert browser.get("/", headers=embedded).status_code == 403
        link = {"Sec-Fetch-Dest": "document", "Sec-Fetch-Mode": "navigate"} | cross
        first = browser.get("/?words=a%20b", headers=link)
        assert first.headers["refresh"] == "0; url=/?words=a%20b"
        assert "set-cookie" not in first.headers  # the session it has would be lost
        browser.get("/")
        assert "Shelf" in browser.get("/", headers=link).text


def test_a_link_from_elsewhere_leads_to_no_other_host(tmp_path: Path) -> None:
    link = {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate"}
    with page(tmp_path) as browser:
        for path in ("//evil.example/x", "/%0d%0aSet-Cookie:x", "/;url=http:evil.example"):
            where = browser.get(f"http://127.0.0.1:8737{path}", headers=link).headers["refresh"]
            assert re.fullmatch(r"0; url=/[^/\\\s;].*", where), where


@pytest.mark.parametrize("path", ["/", "/nothing", "/static/base.css", "/api/people", "/api/none"])
def test_every_answer_carries_the_headers(tmp_path: Path, path: str) -> None:
    with page(tmp_path) as browser:
        for answer in (
            browser.get(path),
            browser.get(path, headers={"Host": "evil.example"}),
            browser.client.delete(path),
        ):
            assert {name: answer.headers.get(name) for name in ALWAYS} == ALWAYS
            assert "strict-transport-security" not in answer.headers
            assert "server" not in answer.headers


def test_the_policy_lets_nothing_inline_and_nothing_foreign_in() -> None:
    assert CONTENT_POLICY.startswith("default-src 'none'")
    assert "unsafe" not in CONTENT_POLICY
    assert "http" not in CONTENT_POLICY
    assert "frame-ancestors 'none'" in CONTENT_POLICY


def test_no_page_has_anything_inline(tmp_path: Path) -> None:
    inline = re.compile(r"<style|\sstyle=|\son[a-z]+=|javascript:|<script(?![^>]*\b(src|json)\b)")
    with page(tmp_path) as browser:
        seen = 0
        for method, path in routes_of(browser.app):
            if method != "GET":
                continue
            answer = browser.get(path)
            if answer.headers.get("content-type", "").startswith("text/html"):
                assert not inline.search(answer.text), path
                assert "http://" not in answer.text.replace("http://www.w3.org/", ""), path
                seen += 1
        assert seen > 10


@pytest.mark.parametrize("secure", [False, True])
def test_the_cookie_is_out_of_reach(tmp_path: Path, secure: bool) -> None:
    with page(tmp_path, LAN if secure else None) as browser:
        said = browser.get("/sign-in" if secure else "/").headers["set-cookie"]
        name, rest = said.split("=", 1)
        assert {"HttpOnly", "SameSite=Strict", "Path=/"} <= set(rest.split("; "))
        assert ("Secure" in rest.split("; ")) is secure
        assert "Domain" not in rest
        assert name == ("__Host-needlewright-8737" if secure else "needlewright-8737")
        assert len(rest.split(";")[0]) >= 43  # 32 random bytes


@pytest.mark.parametrize(
    "path",
    [
        "/originals/../shop.db",
        "/originals/..%2fshop.db",
        "/originals/%2e%2e%2fshop.db",
        "/originals/" + "A" * 64,
        "/originals/" + "0" * 63,
        "/originals/" + "0" * 64,
        "/originals/" + "0" * 64 + "/small",
        "/originals/" + "0" * 62 + "%00",
        "/originals/%2Fetc%2Fpasswd",
        "/static/../app.py",
        "/static/..%2fapp.py",
        "/static/%2e%2e/app.py",
        "/static/.%00base.css",
        "/families/..%2f..%2fshop.db/marks",
        "/families/0/marks",
        "/families/99999999999999999999999/marks",
    ],
)
def test_no_path_reaches_a_file(tmp_path: Path, path: str) -> None:
    with page(tmp_path) as browser:
        answer = browser.get(f"http://127.0.0.1:8737{path}")
        assert answer.status_code in (404, 422)
        assert "SQLite format" not in answer.text
        assert "create_app" not in answer.text
        assert str(tmp_path) not in answer.text


def test_an_original_is_found_by_its_hash_alone(tmp_path: Path) -> None:
    with page(tmp_path) as browser:
        kept = next(iter(browser.get("/api/families").json()))["files"]
        (face,) = (sha for name, sha in kept if name == "face.png")
        answer = browser.get(f"/originals/{face}")
        assert answer.status_code == 200
        assert answer.headers["content-type"] == "image/png"
        assert answer.content == browser.shop.originals.read(face)
        assert "immutable" in answer.headers["cache-control"]
        small = browser.get(f"/originals/{face}/small")
        assert small.headers["content-type"] == "image/jpeg"
        assert len(small.content) < 60_000
        assert browser.client.post(f"/originals/{face}", headers=SAME).status_code == 403


@pytest.mark.parametrize(
    ("where", "own"),
    [
        ("/jobs/EX-1?x=2", "/jobs/EX-1?x=2"),
        ("/", "/"),
        ("", "/"),
        ("//evil.example", "/"),
        ("/\\evil.example", "/"),
        ("https://evil.example/", "/"),
        ("javascript:alert(1)", "/"),
        ("/a\r\nSet-Cookie: x=y", "/"),
        ("/\t/evil.example", "/"),
        ("http://[", "/"),
    ],
)
def test_going_on_leads_to_this_page(where: str, own: str) -> None:
    assert own_path(where) == own


def test_an_accident_shows_no_traceback(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError("secret of the inside")

    with page(tmp_path) as browser:
        monkeypatch.setattr("needlewright.web.shop.people", broken)
        for answer in (browser.get("/shop"), browser.get("/shop", headers=JSON)):
            assert answer.status_code == 500
            for inside in ("Traceback", "ZeroDivision", "secret of the inside", ".py"):
                assert inside not in answer.text
            assert {name: answer.headers.get(name) for name in ALWAYS} == ALWAYS
        assert answer.json() == {
            "error": {
                "what": "this should not have happened, and nothing of it was saved",
                "where": "/shop",
                "do": "do it again; if it happens again, the workbench's terminal says more",
            }
        }


JSON = {"Accept": "application/json"}


@pytest.mark.parametrize(
    ("method", "path", "status"),
    [("GET", "/nothing", 404), ("GET", "/person", 405), ("GET", "/?page=none", 422)],
)
def test_errors_are_pages_for_people_and_one_form_for_programs(
    tmp_path: Path, method: str, path: str, status: int
) -> None:
    with page(tmp_path) as browser:
        shown = browser.client.request(method, path, headers={"Accept": "text/html"})
        assert shown.status_code == status
        assert '<div class="wrong" role="alert">' in shown.text
        told = browser.client.request(method, path, headers=JSON)
        assert told.status_code == status
        assert set(told.json()) == {"error"}
        assert set(told.json()["error"]) == {"what", "where", "do"}
        assert told.json()["error"]["what"]


def test_records_that_cannot_be_read_still_give_a_page(tmp_path: Path) -> None:
    with page(tmp_path) as browser:
        browser.get("/")
        browser.shop.engine.dispose()
        browser.shop.database_path.write_bytes(b"no database" * 1000)
        answer = browser.get("/")
        assert answer.status_code == 422
        assert "the database is damaged" in answer.text
        assert "Traceback" not in answer.text


def test_posted_limits_are_those_documented() -> None:
    assert (posted.LARGEST_FILE, posted.MOST_FILES) == (60 * 1024**2, 60)
    text = (Path(__file__).parents[2] / "docs" / "page.md").read_text(encoding="utf-8")
    assert "60 files" in text
    assert "60 MB" in text
