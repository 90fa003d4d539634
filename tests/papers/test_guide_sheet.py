"""Guides on paper: each is one page, and says what its document says."""

import json
import re
import shutil
from datetime import date
from io import BytesIO
from pathlib import Path
from xml.etree import ElementTree

import pytest
from pypdf import PdfReader

from needlewright.composing.guides import guide_document, list_document, refit_document
from needlewright.errors import PaperError
from needlewright.families.folder import load_family
from needlewright.families.model import Family
from needlewright.papers.guide_drawings import DRAWINGS, drawing_title, guide_drawing
from needlewright.papers.guide_sheet import guide_pdf
from needlewright.papers.sums_sheet import WIDTH

DEMO = Path(__file__).parents[2] / "src" / "needlewright" / "demo_data" / "family"
DAY = date(2026, 3, 6)
NAMES = [one["name"] for one in list_document()["guides"]]
MM = 72 / 25.4
EM = 0.57
"""Mean width of a character in ems, on the large side for both types."""


def document(name: str) -> dict:
    return refit_document(load_family(DEMO)) if name == "refit" else guide_document(name)


def squeezed(text: str) -> str:
    return re.sub(r"\s+", "", text)


@pytest.mark.parametrize("size", ["a4", "letter"])
@pytest.mark.parametrize("name", NAMES)
def test_every_guide_is_one_page(name, size):
    said = document(name)
    pages = PdfReader(BytesIO(guide_pdf(said, DAY, size))).pages
    assert len(pages) == 1
    wide, high = (210, 297) if size == "a4" else (215.9, 279.4)  # ISO 216; ANSI/ASME Y14.1 size A
    assert float(pages[0].mediabox.width) / MM == pytest.approx(wide, abs=0.1)
    assert float(pages[0].mediabox.height) / MM == pytest.approx(high, abs=0.1)
    text = squeezed(pages[0].extract_text())
    for words in (*said["cautions"], *said["tools"], *said["good"], *said["photos"]):
        assert squeezed(words) in text
    for step in said["steps"]:
        assert squeezed(step["words"] + (step["drawing"] or "")) in text
    for check in said["checks"]:
        assert squeezed(check["words"]) in text
        assert squeezed(check["command"] or "") in text
    for line in said["counted"]:
        assert squeezed(line["what"]) in text


def much_noted(folder: Path, lines: int, longest: int, levels: tuple[str, ...]) -> Family:
    """The demonstration's family with so many lines of each kind, spread over the levels."""
    shutil.copytree(DEMO, folder)
    path = folder / "family.json"
    said = json.loads(path.read_text(encoding="utf-8"))
    words = "of the upper left corner, behind the trim and under the hood of the panel"

    def noted(kind: str) -> list[dict[str, object]]:
        return [
            {"what": f"{kind} {n} {words}"[:longest], "count": n + 1, "at": levels[n % len(levels)]}
            for n in range(lines)
        ]

    said["refit"] = {
        "fasteners": [one | {"tightness": "hand tight"} for one in noted("screws")],
        "loose_parts": noted("clips"),
        "connectors": noted("plugs"),
        "cautions": ["The trim breaks when it is cold: warm it for a quarter of an hour."] * 4,
    }
    path.write_text(json.dumps(said), encoding="utf-8")
    return load_family(folder)


@pytest.mark.parametrize("name", ["replace-display", "replace-movement", "restore-coating"])
def test_a_family_that_notes_much_still_has_guides_of_one_page(tmp_path, name):
    # Eighteen kinds of parts; in two columns they stand in the order of the family, downwards.
    family = much_noted(tmp_path / "f", 6, 60, ("opened", "face off", "board out"))
    said = guide_document(name, family)
    noted = [line["what"] for line in said["counted"] if "upper left corner" in line["what"]]
    assert len(noted) == 18
    pages = PdfReader(BytesIO(guide_pdf(said, DAY, "letter"))).pages
    assert len(pages) == 1
    text = squeezed(pages[0].extract_text())
    places = [text.index(squeezed(what)) for what in noted]
    assert places == sorted(places)


def test_a_refit_sheet_with_twelve_lines_of_every_kind_is_one_page(tmp_path):
    said = refit_document(much_noted(tmp_path / "f", 12, 40, ("vehicle",)))
    pages = PdfReader(BytesIO(guide_pdf(said, DAY, "letter"))).pages
    assert len(pages) == 1
    text = squeezed(pages[0].extract_text())
    for kind, lines in said["lines"].items():
        assert len(lines) == 12, kind
        places = [text.index(squeezed(f"{line['count']}×{line['what']}")) for line in lines]
        assert places == sorted(places)


def test_what_a_family_says_stands_in_the_order_of_refitting():
    said = refit_document(load_family(DEMO), mileage="771627 km", tag="EX-1")
    lines = said["lines"]
    lines["fasteners"] = [
        {"what": f"screw {n}", "count": n, "tightness": "hand tight"} for n in range(1, 13)
    ]
    lines["connectors"] = [{"what": "large connector", "count": 1, "tightness": ""}]
    lines["loose_parts"] = [{"what": "trim clips", "count": None, "tightness": ""}]
    pages = PdfReader(BytesIO(guide_pdf(said, DAY, "letter"))).pages
    assert len(pages) == 1
    text = squeezed(pages[0].extract_text())
    expected = (
        "wait10minutes",
        "trimclips",
        "1×largeconnector",
        "Alignmentbeforepressure",
        "1×screw1:handtight",
        "12×screw12:handtight",
        "771627km",
        "INVENTEDDEMONSTRATION",
    )
    for words in expected:
        assert words in text
    places = [text.index(words) for words in expected[:-1]]
    assert places == sorted(places)


def test_what_does_not_fit_on_one_sheet_is_refused():
    said = guide_document("mend-stop")
    said["tools"] = [f"tool {n}" for n in range(120)]
    with pytest.raises(PaperError, match="Set or replace a stop: does not fit on one sheet; short"):
        guide_pdf(said, DAY)


@pytest.mark.parametrize("name", DRAWINGS)
def test_a_drawing_keeps_its_words_on_its_sheet(name):
    root = ElementTree.fromstring(guide_drawing(name))
    _, _, wide, high = map(float, root.attrib["viewBox"].split())
    assert wide == WIDTH
    assert drawing_title(name)
    texts = [one for one in root.iter() if one.tag.endswith("}text")]
    assert texts
    for one in texts:
        x, y, size = (float(one.attrib[key]) for key in ("x", "y", "font-size"))
        length = len(one.text or "") * EM * size
        left = x - {"start": 0.0, "middle": 0.5, "end": 1.0}[one.attrib["text-anchor"]] * length
        assert left >= 0, one.text
        assert left + length <= wide, one.text
        assert size <= y <= high - 2, one.text
    for mark in root.iter():
        for x, y in re.findall(r"(-?[\d.]+),(-?[\d.]+)", mark.attrib.get("points", "")):
            assert 0 <= float(x) <= wide
            assert 0 <= float(y) <= high


def test_on_paper_a_drawing_leaves_the_sheet_white():
    assert 'height="100%" fill="#ffffff"' in guide_drawing("joint", on_paper=True)
    assert 'height="100%" fill="#fbf8f1"' in guide_drawing("joint")


def test_a_family_that_states_no_fasteners_has_it_said_on_paper():
    said = refit_document(load_family(DEMO))
    for kind in said["lines"]:
        said["lines"][kind] = []
    (page,) = PdfReader(BytesIO(guide_pdf(said, DAY))).pages
    text = squeezed(page.extract_text())
    stated = ":thefamilystatesnone;writeithere"
    assert f"fasteners,intheirorder;howtight{stated}" in text
    assert text.count(stated) == len(said["lines"]) == 3
    assert "771627" not in text
