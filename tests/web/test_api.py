"""The JSON API: the whole job by it, its one form of errors, and its own description."""

import io
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from needlewright.records.run_readings import store_outcome
from records.benches import jpeg, outcomes, told
from web.bench_page import ANNA, LAN, Browser, page

OK = {f"{what}_ok": True for what in ("family", "variant", "face", "connector")}
BY = {"by": ANNA}


def ask(browser: Browser, method: str, path: str, json: Any = None, status: int = 200) -> Any:
    answer = browser.send(method, f"/api{path}", json)
    assert answer.status_code == status, (method, path, answer.text)
    return answer.json()


def row(one: Any) -> dict[str, Any]:
    return {
        "step": one.step,
        "dial": one.dial,
        "unit": one.unit,
        "approach": one.approach,
        "commanded": one.commanded,
        "temperature_c": one.temperature_c,
        "u_commanded": one.u_commanded,
    }


def measure(browser: Browser, side: str) -> None:
    """Start a run, send its photos, and read them as a perfect reader would."""
    name = {"found": "as-found", "left": "as-left"}[side]
    rows = [row(one) for one in told(name)]
    run = ask(browser, "POST", "/jobs/T-77/runs", {"side": side, "rows": rows}, 201)
    seen = outcomes(name)
    photos = [
        ("photo", (f"{step}.jpg", io.BytesIO(jpeg(3000 + step + 100 * (side == "left"))), "x/y"))
        for step in seen
    ]
    token = {"X-Form-Token": browser.token, "Accept": "application/json"}
    sent = browser.client.post(f"/api/runs/{run['id']}/photos", files=photos, headers=token)
    assert sent.status_code == 201, sent.text
    assert [photo["step"] for photo in sent.json()] == sorted(seen)
    for photo in sent.json():
        store_outcome(browser.shop, photo["id"], seen[photo["step"]], jpeg(9))


def test_the_whole_job_by_program(tmp_path: Path) -> None:
    with page(tmp_path) as browser:
        assert ask(browser, "POST", "/session", {"person": ANNA})["person"] == ANNA
        ask(
            browser,
            "POST",
            "/instruments",
            {"name": "thermometer", "number": "N-1", "due": "2030-01-01"},
            201,
        )
        job = ask(
            browser,
            "POST",
            "/jobs",
            {
                "tag": "T-77",
                "family": "fam-job",
                "serial": "S-123",
                "owner": "C. Ustomer",
                "vehicle": "an invented van",
                "complaint": "speedometer sticks at 60",
            },
            201,
        )
        assert job["version"] == 1
        assert ask(browser, "GET", "/shelf")["lines"][0]["tag"] == "T-77"
        received = {
            "sender": "C. Ustomer",
            "contents": [{"what": "cluster", "ticked": True}],
            "packing": "double box",
            "condition": "two screws missing",
            "odometer_in": 184213,
            **OK,
        }
        ask(browser, "PATCH", "/jobs/T-77/received", received)
        assert ask(browser, "GET", "/jobs/T-77/stages/received/missing") == []
        ask(browser, "POST", "/jobs/T-77/stages/received/finish")
        ask(browser, "PUT", "/jobs/T-77/instruments", {"numbers": ["N-1"]})
        measure(browser, "found")
        state = ask(browser, "GET", "/jobs/T-77/reading")
        assert state == {"photos": 12, "unread": 0, "ahead": 0, "left_s": None, "trouble": None}
        ask(browser, "POST", "/jobs/T-77/stages/bench_check/finish")
        ask(browser, "PATCH", "/jobs/T-77", {"work_done": ["speed: movement replaced"]})
        ask(browser, "POST", "/jobs/T-77/stages/needles/finish")
        measure(browser, "left")
        returned = {
            "contents": [{"what": "cluster", "ticked": True}],
            "packing": "double box",
            "carrier": "by hand",
            "odometer_out": 184213,
        }
        ask(browser, "PATCH", "/jobs/T-77/returned", returned)
        paper = ask(browser, "POST", "/jobs/T-77/papers", {"asked": "certificate"}, 201)
        assert paper["kind"] == "certificate"
        fetched = browser.get(f"/api/papers/{paper['name']}/pdf")
        assert fetched.content.startswith(b"%PDF-")
        assert fetched.headers["content-type"] == "application/pdf"
        assert browser.get(f"/api/papers/{paper['name']}/json").json()["name"] == paper["name"]
        ask(browser, "POST", "/jobs/T-77/stages/final_check/finish")
        assert ask(browser, "GET", "/jobs/T-77/odometer")["lawful"] is True
        closed = ask(browser, "POST", "/jobs/T-77/stages/returned/finish")
        assert closed["closed_at"] is not None
        assert ask(browser, "POST", "/check") == {
            "originals": ask(browser, "POST", "/check")["originals"],
            "problems": [],
        }


def test_a_changed_odometer_bars_the_return_here_too(tmp_path: Path) -> None:
    with page(tmp_path) as browser:
        ask(browser, "POST", "/session", {"person": ANNA})
        ask(browser, "POST", "/jobs", {"tag": "T-77", "family": "fam-job"}, 201)
        ask(browser, "PATCH", "/jobs/T-77/received", {"odometer_in": 100, **OK})
        ask(browser, "PATCH", "/jobs/T-77/returned", {"odometer_out": 90})
        state = ask(browser, "GET", "/jobs/T-77/odometer")
        assert state["lawful"] is False
        said = ask(browser, "POST", "/jobs/T-77/stages/returned/finish", None, 422)
        assert "odometer" in str(said)


def test_the_notice_of_an_odometer_is_printed_here_too(tmp_path: Path) -> None:
    with page(tmp_path) as browser:
        ask(browser, "POST", "/session", {"person": ANNA})
        ask(browser, "POST", "/jobs", {"tag": "T-77", "family": "fam-job"}, 201)
        came = ask(browser, "PATCH", "/jobs/T-77/received", {"odometer_in": 100, **OK})
        said = ask(browser, "POST", "/jobs/T-77/notice", {}, 422)
        assert "there is nothing to print" in said["error"]["what"]
        day = came["received"]["day"]
        law = {"law": "us", "notice_mileage_before": 100, "notice_day": day, "odometer_out": 0}
        ask(browser, "PATCH", "/jobs/T-77/returned", law)
        first = ask(browser, "POST", "/jobs/T-77/notice", {}, 201)
        assert (first["kind"], first["version"]) == ("odometer_notice", 1)
        said = ask(browser, "POST", "/jobs/T-77/notice", {}, 422)
        assert "say why a new version replaces it" in said["error"]["do"]
        second = ask(browser, "POST", "/jobs/T-77/notice", {"because": "a smudge"}, 201)
        assert (second["version"], second["replaces"]) == (2, first["name"])
        pdf = browser.client.get(f"/api/papers/{second['name']}/pdf")
        assert pdf.content.startswith(b"%PDF")


def test_a_job_cannot_leave_before_it_came_here_either(tmp_path: Path) -> None:
    with page(tmp_path) as browser:
        ask(browser, "POST", "/session", {"person": ANNA})
        ask(browser, "POST", "/jobs", {"tag": "T-77", "family": "fam-job"}, 201)
        ask(browser, "PATCH", "/jobs/T-77/received", {"day": "2026-03-02", **OK})
        said = ask(browser, "PATCH", "/jobs/T-77/returned", {"day": "2026-03-01"}, 422)
        assert said["error"] == {
            "where": "job T-77",
            "what": "the day of return, 2026-03-01, lies before the day of receipt, 2026-03-02",
            "do": "correct the one that is wrong",
        }
        assert ask(browser, "GET", "/jobs/T-77")["returned"]["day"] is None


def test_two_programs_saving_the_same_field_notice_each_other(tmp_path: Path) -> None:
    with page(tmp_path) as browser:
        ask(browser, "POST", "/session", {"person": ANNA})
        ask(browser, "POST", "/jobs", {"tag": "T-77", "family": "fam-job"}, 201)
        ask(browser, "PATCH", "/jobs/T-77?seen=1", {"owner": "first"})
        said = ask(browser, "PATCH", "/jobs/T-77?seen=1", {"owner": "second"}, 409)
        assert "it is now 'first', you typed 'second'" in said["error"]["what"]
        assert ask(browser, "GET", "/jobs/T-77")["owner"] == "first"
        ask(browser, "PATCH", "/jobs/T-77?seen=1", {"vehicle": "a van"})  # another field


@pytest.mark.parametrize(
    ("method", "path", "json", "status", "what"),
    [
        ("GET", "/jobs/none", None, 404, "there is no job with the tag 'none'"),
        ("GET", "/runs/99", None, 404, "there is no run 99"),
        ("POST", "/photos/99/retake", None, 422, "no photo was sent"),
        ("GET", "/papers/none", None, 404, "there is no paper 'none'"),
        ("PUT", "/instruments/none", {}, 404, "there is no instrument number 'none'"),
        ("GET", "/families/99", None, 404, "there is no version 99 of any family"),
        ("GET", "/runs/0", None, 422, "Input should be greater than or equal to 1"),
        ("GET", "/runs/9223372036854775808", None, 422, "less than or equal to"),
        ("POST", "/jobs", {"tag": "T-1"}, 422, "the field 'family' is missing"),
        ("POST", "/jobs", {"tag": "", "family": "x"}, 422, "expected 1 to 40 printable"),
        ("PATCH", "/settings", {"law": "none"}, 422, "expected 'us' or 'local'"),
        ("PATCH", "/settings", {"colour": "red"}, 422, "the field 'colour' is not known"),
        ("PATCH", "/settings", [], 422, "valid dictionary"),
        ("POST", "/session", {"person": "Nobody"}, 422, "nobody named 'Nobody'"),
        ("GET", "/shelf?limit=0", None, 422, "greater than or equal to 1"),
        ("GET", "/shelf?waits_for=x", None, 422, "Input should be"),
        ("GET", "/nothing", None, 404, "there is nothing here"),
        ("DELETE", "/people", None, 405, "this cannot be done here"),
    ],
)
def test_every_error_has_the_one_form(
    tmp_path: Path, *, method: str, path: str, json: Any, status: int, what: str
) -> None:
    with page(tmp_path) as browser:
        said = ask(browser, method, path, json, status)
        assert set(said) == {"error"}
        assert set(said["error"]) == {"what", "where", "do"}
        assert what in f"{said['error']['where']}: {said['error']['what']}"


def test_half_a_character_is_kept_nowhere(tmp_path: Path) -> None:
    """JSON can escape one half of a character that takes two; no file can hold it."""
    with page(tmp_path) as browser:
        ask(browser, "POST", "/session", {"person": ANNA})
        ask(browser, "POST", "/jobs", {"tag": "T-77", "family": "fam-job"}, 201)
        token = {"X-Form-Token": browser.token, "Content-Type": "application/json"}
        for method, path, body in (
            ("PATCH", "/settings", b'{"name": "a\\ud800"}'),
            ("PATCH", "/settings", b'{"a\\ud800": 1}'),
            ("POST", "/people", b'{"name": "\\udcff"}'),
            ("POST", "/jobs/T-77/notes", b'{"text": "\\udfff"}'),
            ("PUT", "/jobs/T-77/instruments", b'{"numbers": ["\\ud83d"]}'),
            ("POST", "/jobs/T-77/waits", b'{"what": "\\ud83d"}'),
            ("PATCH", "/jobs/T-77/received", b'{"contents": [{"what": "\\ud83d"}]}'),
        ):
            answer = browser.client.request(method, f"/api{path}", content=body, headers=token)
            assert answer.status_code == 422, (path, answer.text)
            assert set(answer.json()["error"]) == {"what", "where", "do"}


def test_a_body_that_is_no_json_is_refused(tmp_path: Path) -> None:
    with page(tmp_path) as browser:
        headers = {"X-Form-Token": browser.token, "Content-Type": "application/json"}
        for content in (b"{", b"\xff", b"NaN", b"[" * 5000, b"", b'{"name": NaN}'):
            answer = browser.client.post("/api/people", content=content, headers=headers)
            assert answer.status_code in (400, 422), content[:20]
            assert set(answer.json()["error"]) == {"what", "where", "do"}


def test_a_text_file_named_jpg_is_refused_and_those_before_it_stay(tmp_path: Path) -> None:
    with page(tmp_path) as browser:
        ask(browser, "POST", "/session", {"person": ANNA})
        ask(browser, "POST", "/jobs", {"tag": "T-77", "family": "fam-job"}, 201)
        ask(browser, "PATCH", "/jobs/T-77/received", {"condition": "good", **OK})
        ask(browser, "PATCH", "/jobs/T-77/received", {"sender": "x", "packing": "box"})
        ask(
            browser,
            "PATCH",
            "/jobs/T-77/received",
            {"contents": [{"what": "cluster", "ticked": True}], "odometer_in": 5},
        )
        ask(browser, "POST", "/jobs/T-77/stages/received/finish")
        run = ask(browser, "POST", "/jobs/T-77/runs", {"side": "found"}, 201)
        assert len(run["told"]) > 20  # proposed from the rules' check points
        files = [
            ("photo", ("good.jpg", io.BytesIO(jpeg(1)), "image/jpeg")),
            ("photo", ("letter.jpg", io.BytesIO(b"Dear Sir"), "image/jpeg")),
        ]
        token = {"X-Form-Token": browser.token, "Accept": "application/json"}
        answer = browser.client.post(f"/api/runs/{run['id']}/photos", files=files, headers=token)
        assert answer.status_code == 422
        assert answer.json()["error"]["where"] == "letter.jpg"
        assert len(ask(browser, "GET", f"/runs/{run['id']}")["photos"]) == 1


def test_a_picture_of_a_hundred_megapixels_is_taken_and_a_bomb_is_not(tmp_path: Path) -> None:
    stream = io.BytesIO()
    Image.new("1", (20_000, 20_000)).save(stream, "PNG")
    with page(tmp_path) as browser:
        ask(browser, "POST", "/session", {"person": ANNA})
        ask(browser, "POST", "/jobs", {"tag": "T-77", "family": "fam-job"}, 201)
        files = {"photo": ("bomb.png", io.BytesIO(stream.getvalue()), "image/png")}
        answer = browser.post(
            "/jobs/T-77/photos",
            {"stage": "received", "kind": "damage"},
            files=files,
            headers={"Accept": "application/json"},
        )
        assert answer.status_code == 422
        assert "bomb.png" in answer.json()["error"]["where"]


def test_the_description_is_whole_and_needs_no_network(tmp_path: Path) -> None:
    with page(tmp_path) as browser:
        text = browser.get("/openapi.json").text
        document = browser.get("/openapi.json").json()
    assert "http://" not in text
    assert "https://" not in text
    operations = [
        (method, path, operation)
        for path, methods in document["paths"].items()
        for method, operation in methods.items()
    ]
    assert len(operations) > 35
    assert all(path.startswith("/api/") for _, path, _ in operations)
    error = {"$ref": "#/components/schemas/Error"}
    for method, path, operation in operations:
        assert operation["summary"], path
        assert operation["description"], path
        for status in ("404", "409", "422"):
            content = operation["responses"][status]["content"]["application/json"]
            assert content == {"schema": error}
        saves = method in ("post", "put", "patch")
        assert (operation.get("security") == [{"form_token": []}]) is saves, path


def test_every_operation_is_documented_for_people(tmp_path: Path) -> None:
    text = (Path(__file__).parents[2] / "docs" / "api.md").read_text(encoding="utf-8")
    with page(tmp_path) as browser:
        document = browser.get("/openapi.json").json()
    for path, methods in document["paths"].items():
        for method in methods:
            assert f"`{method.upper()} {path}`" in text


def test_the_api_is_shut_without_signing_in(tmp_path: Path) -> None:
    with page(tmp_path, LAN) as browser:
        assert browser.get("/api/session").status_code == 401
        browser.sign_in()
        assert browser.get("/api/session").json()["people"] == [ANNA, "Bert Invented"]
