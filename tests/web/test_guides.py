"""Guides and the refit sheet on the page."""

import json
import re
import shutil
from collections.abc import Iterator
from html import unescape
from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader

from needlewright.composing.guides import guide_document, list_document
from needlewright.records.families import families, keep_family
from needlewright.records.jobs import new_job
from needlewright.records.shop import change_settings
from web.bench_page import ANNA, FAMILY_FOLDER, Browser, page

NAMES = [one["name"] for one in list_document()["guides"]]
REFIT = {
    "fasteners": [
        {"what": "upper screws", "count": 2, "tightness": "hand tight"},
        {"what": "screws of the lens", "count": 7, "at": "opened"},
    ],
    "cautions": ["The trim breaks when it is <cold>."],
}


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    folder = tmp_path_factory.mktemp("guides")
    shutil.copytree(FAMILY_FOLDER, folder / "family")
    path: Path = folder / "family" / "family.json"
    said = json.loads(path.read_text(encoding="utf-8"))
    path.write_text(json.dumps({**said, "name": "screwed", "refit": REFIT}), encoding="utf-8")
    with page(folder / "shop") as one:
        keep_family(one.shop, folder / "family", ANNA)
        new_job(one.shop, {"tag": "EX-1", "family": "screwed"}, ANNA)
        yield one


def test_the_list_leads_to_every_guide_and_families_to_their_refit_sheet(browser: Browser) -> None:
    text = browser.get("/guides").text
    assert re.findall(r'<a href="/guides/([\w-]+)">', text) == NAMES[:-1]
    ids = [one.version_id for one in families(browser.shop)]
    assert re.findall(r'<a href="/guides/refit\?family=(\d+)">', text) == [str(n) for n in ids]
    assert '<a href="/guides">' in browser.get("/sums").text


def test_a_job_leads_to_the_guides_of_its_family(browser: Browser) -> None:
    sheet = browser.get("/jobs/EX-1").text
    assert 'href="/guides?job=EX-1"' in sheet
    assert 'href="/guides/refit?job=EX-1"' in sheet
    text = browser.get("/guides?job=EX-1").text
    assert re.findall(r'<a href="/guides/([\w-]+)\?job=EX-1">', text) == NAMES


@pytest.mark.parametrize("name", NAMES[:-1])
def test_a_guide_shows_its_cautions_drawings_and_boxes(browser: Browser, name: str) -> None:
    answer = browser.get(f"/guides/{name}")
    assert answer.status_code == 200
    said, text = guide_document(name), answer.text
    plain = unescape(text)
    for words in (*said["cautions"], *said["tools"], *said["good"], said["title"]):
        assert words in plain
    assert text.count('role="img"') == len(said["drawings"])
    boxes = [said[key] for key in ("steps", "tools", "photos", "counted", "checks")]
    assert text.count('type="checkbox"') == sum(map(len, boxes))
    assert "style=" not in text, "the page allows no style written into it"


def test_the_refit_sheet_of_a_job_begins_with_the_wait(browser: Browser) -> None:
    text = unescape(browser.get("/guides/refit?job=EX-1").text)
    # common practice, no source: 10 minutes unless the vehicle's own manual says otherwise
    assert "wait 10 minutes, unless this vehicle's own manual says otherwise" in text
    assert "2 × upper screws; hand tight" in text
    assert "The trim breaks when it is <cold>." in text
    assert "screws of the lens" not in text
    assert text.index("wait 10 minutes") < text.index("2 × upper screws") < text.index("Lamp check")
    change_settings(browser.shop, {"battery_wait": "90 s, its manual"})
    assert "wait 90 s, its manual." in browser.get("/guides/refit?job=EX-1").text
    change_settings(browser.shop, {"battery_wait": ""})


def test_the_same_comes_as_one_page_of_pdf(browser: Browser) -> None:
    answer = browser.get("/guides/replace-lamps/pdf?job=EX-1&paper=letter")
    assert answer.headers["content-type"] == "application/pdf"
    pages = PdfReader(BytesIO(answer.content)).pages
    assert len(pages) == 1
    assert pages[0].mediabox.width == 612
    text = pages[0].extract_text()
    assert "screws of the lens" in text
    assert "EX-1" in text


@pytest.mark.parametrize(
    ("address", "code"),
    [
        ("/guides/polish", 404),
        ("/guides/refit", 404),
        ("/guides/set-needle?job=NONE", 404),
        ("/guides/set-needle?family=999", 404),
        ("/guides/set-needle?family=x", 422),
        ("/guides/set-needle/pdf?paper=a0", 422),
    ],
)
def test_what_is_not_there_is_said(browser: Browser, address: str, code: int) -> None:
    answer = browser.get(address)
    assert answer.status_code == code
    assert "Traceback" not in answer.text
