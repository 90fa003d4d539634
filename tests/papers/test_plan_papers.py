"""The sheet of the work and the quote."""

import json
from datetime import date
from functools import cache
from pathlib import Path
from shutil import which
from typing import Any

import pypdfium2
import pytest
from playwright.sync_api import sync_playwright

from needlewright.errors import PaperError
from needlewright.families.folder import load_family
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.papers.blocks import Table
from needlewright.papers.plan_sheet import plan_sheet, plan_sheet_pdf
from needlewright.papers.quote import quote_html
from needlewright.plans.catalogue.load import load_catalogue
from needlewright.plans.rebuild.findings import findings_from
from needlewright.plans.rebuild.plan import plan_of
from needlewright.plans.rebuild.plan_json import plan_document
from needlewright.plans.rebuild.risks import Life

FAMILY = load_family(Path(__file__).parents[2] / "src/needlewright/demo_data/family")
DAY = date(2026, 3, 2)
CHROMIUM = which("chromium") or ""


@cache
def document() -> dict[str, Any]:
    known = load_knowledge(None)
    catalogue = load_catalogue(known, FAMILY)
    shares = {("speed", "lost_steps"): 0.9, ("whole", "lamp_dim"): 0.6, ("fuel", "sender"): 0.1}
    found = findings_from(shares, known, FAMILY)
    plan = plan_of(found, catalogue, FAMILY, known, Life(14, 190_000))
    return plan_document(plan, catalogue, invented=True, variant=None, tag="EX-1")


def test_the_sheet_has_a_box_for_every_part_and_step():
    made, sheet = document(), plan_sheet(document(), "recommended", DAY)
    tables = [one for one in sheet.blocks if isinstance(one, Table)]
    steps = made["options"][0]["steps"]
    assert len(tables[0].rows) == len(steps) == 19
    assert all(row[0].sign == "box" for row in tables[0].rows)
    assert [column.head for column in tables[0].columns][-2:] == ["who", "when"]
    for row, step in zip(tables[0].rows, steps, strict=True):
        assert all(f"CAUTION: {one}" in row[2].under for one in step["cautions"])
    assert len(tables[1].rows) == len(made["options"][0]["left"]) == 8
    assert sheet.banner == "INVENTED DEMONSTRATION"


def test_the_sheet_as_a_file():
    pdf = pypdfium2.PdfDocument(plan_sheet_pdf(document(), "only_failed", DAY))
    words = " ".join(page.get_textpage().get_text_range() for page in pdf)
    plain = " ".join(words.split())
    assert f"plan {document()['number']}" in plain
    assert "A speedometer is left in doubt" in plain
    assert "Leaded solder: extraction, wash hands" in plain
    assert "replace speed's movement" in plain
    assert "Mileage is recorded and never altered" in plain
    pdf.close()


def test_an_option_there_is_not():
    with pytest.raises(PaperError, match="no option 'half'; it has: recommended, only_failed"):
        plan_sheet(document(), "half", DAY)


def test_what_is_in_a_quote_cannot_break_it():
    odd = json.loads(json.dumps(document()))
    odd["tag"] = "<b>&</script><!--options-->"
    odd["number"] = "</script>"
    page = quote_html(odd, "Bench & <Sons>")
    assert "<b>" not in page
    assert page.count("</script>") == 1
    assert "Bench &amp; &lt;Sons&gt;" in page
    assert page.count('<section class="option') == 3


@pytest.mark.skipif(not CHROMIUM, reason="needs a browser")
def test_a_quote_is_accepted_with_who_when_and_how(tmp_path: Path):
    (tmp_path / "quote.html").write_text(quote_html(document()), "utf-8")
    with sync_playwright() as played:
        browser = played.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        page = browser.new_page(viewport={"width": 390, "height": 800})
        asked: list[str] = []
        page.on("request", lambda request: asked.append(request.url))
        page.goto((tmp_path / "quote.html").as_uri())
        text = page.locator("#text")
        assert text.input_value() == "not accepted yet: missing an option, who, when, how\n"
        page.get_by_label("recommended,").check()
        page.get_by_label("Who accepts").fill("An invented owner")
        page.get_by_label("When").fill("2026-03-02")
        page.get_by_label("How").select_option("by message")
        assert text.input_value().splitlines() == [
            f"acceptance of plan {document()['number']}",
            "option: recommended",
            "price: 124.77 EUR",
            "who: An invented owner",
            "when: 2026-03-02",
            "how: by message",
        ]
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
        assert len(asked) == 1
        browser.close()
