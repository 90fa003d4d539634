"""Families, shop and phone: what they show, what they save, what they refuse."""

import io
import json
import shutil
import zipfile
from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
import segno
import zxingcpp
from httpx2 import Response
from PIL import Image

from needlewright.families.folder import write_family
from needlewright.families.packing import packed
from needlewright.records.restore import restore
from needlewright.records.shop import add_instrument, instruments, people, settings
from needlewright.records.views import InstrumentView
from needlewright.web.shop import instrument_line
from web.bench_page import ANNA, FAMILY_FOLDER, LAN, Browser, page

TODAY = date(2026, 3, 4)


@pytest.fixture
def browser(tmp_path: Path) -> Iterator[Browser]:
    with page(tmp_path / "shop") as one:
        one.shop.now = lambda: datetime(2026, 3, 4, 12, tzinfo=UTC)  # type: ignore[method-assign]
        yield one


@pytest.mark.parametrize(
    ("due", "retired", "state", "days"),
    [
        (date(2026, 3, 3), False, "overdue", -1),
        (date(2026, 3, 4), False, "soon", 0),
        (date(2026, 4, 3), False, "soon", 30),
        (date(2026, 4, 4), False, "good", 31),
        (None, False, "unknown", None),
        (date(2020, 1, 1), True, "retired", None),
    ],
)
def test_an_instrument_is_due_the_day_after_its_day(
    due: date | None, retired: bool, state: str, days: int | None
) -> None:
    line = instrument_line(InstrumentView("meter", "N-1", due, None, retired), TODAY)
    assert (line.state, line.days) == (state, days)


def test_overdue_is_marked_by_a_word_and_a_shape(browser: Browser) -> None:
    add_instrument(browser.shop, "ohmmeter", "N-1", "2026-03-03")
    text = browser.get("/shop").text
    assert '<span class="verdict" data-result="bad">overdue since Tue 3 Mar 2026</span>' in text
    css = browser.get("/static/base.css").text
    assert '.verdict[data-result="bad"]::before' in css
    assert "clip-path: polygon" in css


def test_instruments_are_added_changed_and_retired(browser: Browser) -> None:
    sent = {"name": "meter", "number": "N 1/2", "due": "2027-01-01", "traceable_to": "a lab"}
    assert browser.post("/shop/instruments", sent).headers["location"] == "/shop#instruments"
    assert 'action="/shop/instruments/N%201~12"' in browser.get("/shop").text
    changed = {"due": "", "has_retired": "yes", "retired": "yes"}
    assert browser.post("/shop/instruments/N%201~12", changed).status_code == 303
    assert instruments(browser.shop) == (InstrumentView("meter", "N 1/2", None, "a lab", True),)


def test_what_cannot_be_saved_stays_where_it_was_typed(browser: Browser) -> None:
    sent = {"name": "my <meter>", "number": "N-1", "due": "tomorrow"}
    answer = browser.post("/shop/instruments", sent)
    assert answer.status_code == 422
    assert 'value="my &lt;meter&gt;"' in answer.text
    assert "due: expected a day such as 2026-03-02, found" in answer.text
    assert '<details class="adding" open>' in answer.text
    assert instruments(browser.shop) == ()


def test_settings_are_saved_field_by_field(browser: Browser) -> None:
    before = settings(browser.shop)
    token = {"X-Form-Token": browser.token, "Accept": "application/json"}
    sent = {"seen": str(before.version), "place": "3 New Road"}
    answer = browser.client.post("/shop/settings", data=sent, headers=token)
    assert answer.json()["version"] == before.version + 1
    assert settings(browser.shop).place == "3 New Road"
    assert settings(browser.shop).name == before.name
    assert settings(browser.shop).invented is False
    late = browser.client.post("/shop/settings", data=sent, headers=token)
    assert late.status_code == 409
    ticked = {"has_invented": "yes", "invented": "yes"}
    browser.client.post("/shop/settings", data=ticked, headers=token)
    assert settings(browser.shop).invented is True
    assert "everything here is invented" in browser.get("/").text


def test_people_come_and_go_and_come_back(browser: Browser) -> None:
    browser.post("/shop/people", {"name": "Carla / Invented"})
    browser.post("/shop/people/Carla%20~1%20Invented/left")
    assert [one.name for one in people(browser.shop) if one.has_left] == ["Carla / Invented"]
    browser.post("/shop/people/Carla%20~1%20Invented/back")
    assert not any(one.has_left for one in people(browser.shop))
    twice = browser.post("/shop/people", {"name": ANNA})
    assert twice.status_code == 422
    assert f"&#39;{ANNA}&#39; works in this shop already" in twice.text


def test_a_backup_is_downloaded_and_can_be_restored(browser: Browser, tmp_path: Path) -> None:
    answer = browser.post("/shop/backup")
    assert answer.status_code == 200
    assert 'filename="needlewright-2026-03-04' in answer.headers["content-disposition"]
    assert answer.headers["cache-control"] == "no-store"
    assert not any("tls" in n for n in zipfile.ZipFile(io.BytesIO(answer.content)).namelist())
    file = tmp_path / "b.zip"
    file.write_bytes(answer.content)
    summary = restore(file, tmp_path / "again")
    assert (summary.jobs, summary.originals) == (0, 2)


def test_the_records_are_checked_on_the_page(browser: Browser) -> None:
    assert "everything is whole: the database and 2 originals" in browser.post("/shop/check").text
    original = next(p for p in (browser.shop.folder / "originals").rglob("*.json"))
    original.chmod(0o644)
    original.write_text("{}")
    text = browser.post("/shop/check").text
    assert "one thing is not as it was stored" in text
    assert original.name[:20] in text


def test_a_family_is_shown_with_its_marks(browser: Browser) -> None:
    (version_id,) = (one["version_id"] for one in browser.get("/api/families").json())
    text = browser.get(f"/families/{version_id}").text
    for words in ("fam-job", "speed, km/h", "temp, °C", "−110.32°", "stepper, cycle 2°"):
        assert words in text, words
    assert str(browser.shop.folder) not in text
    full = Image.open(io.BytesIO(browser.get(f"/families/{version_id}/marks").content))
    small = Image.open(io.BytesIO(browser.get(f"/families/{version_id}/marks/small").content))
    assert (full.width, small.width) == (2000, 960)
    assert (
        full.height / full.width > small.height / small.width
    )  # the key stands under the large one


def test_a_family_is_added_by_its_two_files(browser: Browser) -> None:
    def files(json: bytes) -> dict[str, tuple[str, bytes, str]]:
        face = (FAMILY_FOLDER / "face.png").read_bytes()
        return {
            "family": ("../../evil.json", json, "application/json"),
            "face": ("x.png", face, "image/png"),
        }

    json = (FAMILY_FOLDER / "family.json").read_bytes()
    changed = json.replace(b'"fam-job"', b'"fam-other"')
    assert changed != json
    answer = browser.post("/families", files=files(changed))
    assert answer.status_code == 303
    assert "fam-other" in browser.get(answer.headers["location"]).text
    broken = browser.post("/families", files=files(b"{"))
    assert broken.status_code == 422
    assert "family.json" in broken.text
    assert "/tmp" not in broken.text
    lone = browser.post("/families", files={"family": ("f.json", json, "application/json")})
    assert "face.png was not sent" in lone.text


def test_a_phone_reads_the_address(tmp_path: Path) -> None:
    with page(tmp_path, LAN) as browser:
        browser.sign_in()
        text = browser.get("/phone").text
        assert "https://192.168.7.5:8737/" in text
        assert "4711 0815" in text
        drawn = browser.get("/phone/code.svg")
        assert drawn.headers["content-type"].startswith("image/svg+xml")
        assert browser.get("/phone/code.svg?number=2").status_code == 404


def test_the_picture_holds_the_address_and_no_code() -> None:
    out = io.BytesIO()
    segno.make(LAN.urls()[0], error="m").save(out, kind="png", scale=8, border=4)
    (read,) = zxingcpp.read_barcodes(Image.open(out))
    assert read.text == "https://192.168.7.5:8737/"
    assert "4711" not in read.text


def test_without_lan_no_code_is_shown(browser: Browser) -> None:
    text = browser.get("/phone").text
    assert "needlewright serve --lan" in text
    assert "code.svg" not in text
    assert browser.get("/phone/code.svg").status_code == 404


def test_a_family_goes_out_and_comes_in_as_one_file(browser: Browser, tmp_path: Path) -> None:
    answer = browser.get("/families/1/file")
    assert answer.headers["content-disposition"] == 'attachment; filename="fam-job-v1.zip"'
    assert answer.content == packed(FAMILY_FOLDER)[0]
    assert browser.get("/families/9/file").status_code == 404
    shutil.copytree(FAMILY_FOLDER, tmp_path / "changed")
    family = json.loads((FAMILY_FOLDER / "family.json").read_text())
    family["dials"][0]["needle"]["height_mm"] = 4.0
    write_family(family, tmp_path / "changed")
    changed = packed(tmp_path / "changed")[0]

    def take(content: bytes, **fields: str) -> Response:
        files = {"packed": ("../their.zip", content, "application/zip")}
        return browser.post("/families", {"form": "take", "note": "<b>", **fields}, files=files)

    refused = take(changed)
    assert refused.status_code == 409
    assert "differs from its version 1 in 1 thing" in refused.text
    assert "Take it in as a new version or under another name." in refused.text
    assert 'name="note" maxlength="2000" value="&lt;b&gt;"' in refused.text  # what was typed stays
    cut = take(changed[:-40])
    assert cut.status_code == 422
    assert "their.zip: is cut short, its end is missing" in cut.text
    assert "/tmp" not in cut.text
    assert "no file was sent" in browser.post("/families", {"form": "take"}, files={}).text
    taken = take(changed, new_version="yes")
    assert taken.headers["location"] == "/families/2"
    text = browser.get("/families/2").text
    for words in (
        "new jobs are worked by it",
        "1 thing differs from version 1",
        "dial &#39;engine&#39;, needle.height_mm is 4.0, was 4.35",
        "&lt;b&gt;",
    ):
        assert words in text, words
    old = browser.get("/families/1").text
    assert "This is version 1. New jobs are worked by another one." in old
    assert browser.post("/families/1/choose").headers["location"] == "/families/1"
    assert "This is version 1." not in browser.get("/families/1").text
    assert take(changed, **{"as": "fam-job high"}).headers["location"] == "/families/3"
    assert [one["name"] for one in browser.get("/api/families").json()] == [
        "fam-job",
        "fam-job high",
    ]
