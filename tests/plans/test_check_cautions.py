"""A check is made under power, often while the board lies open, and says what that asks for.

What is held here is common practice, no source: a bench supply is limited and fused wherever
there is power; where a board under power lies bare, what drives displays and backlights can be
touched.
"""

from datetime import date
from functools import cache
from importlib import resources
from pathlib import Path

import pytest

from needlewright.errors import PlanError
from needlewright.families.folder import load_family
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.papers.blocks import Cell
from needlewright.papers.guide_drawings import DRAWINGS
from needlewright.papers.plan_sheet import plan_sheet
from needlewright.plans.catalogue.check_cautions import check_cautions
from needlewright.plans.catalogue.file_tables import CheckTable
from needlewright.plans.catalogue.load import load_catalogue
from needlewright.plans.guides.load import load_guides, shipped_catalogue
from needlewright.plans.guides.made import guide_of
from needlewright.plans.rebuild.findings import findings_from
from needlewright.plans.rebuild.plan import plan_of
from needlewright.plans.rebuild.plan_json import plan_document
from needlewright.plans.rebuild.risks import Life

FAMILY = load_family(Path(__file__).parents[2] / "src/needlewright/demo_data/family")
KNOWN = load_knowledge(None)
TABLES = shipped_catalogue()
SAID = TABLES.caution
TEXT = (resources.files("needlewright.plans.catalogue") / "catalogue.toml").read_text("utf-8")


@cache
def document(dial: str, fault: str, file: Path | None = None):
    catalogue = load_catalogue(KNOWN, FAMILY, file)
    found = findings_from({(dial, fault): 1.0}, KNOWN, FAMILY)
    plan = plan_of(found, catalogue, FAMILY, KNOWN, Life(14, 190_000))
    return plan_document(plan, catalogue, invented=True, variant=None, tag="EX-1")


def check_of(made, words: str):
    (option,) = [one for one in made["options"] if one["id"] == "recommended"]
    (step,) = [one for one in option["steps"] if one["words"] == words]
    assert step["kind"] == "check"
    return step


@pytest.mark.parametrize(
    ("dial", "fault", "words", "kinds"),
    [
        (
            "speed",
            "stalled/driver",
            "current of the board within what it drew before",
            ("supply", "high_voltage", "static", "hot"),
        ),
        (
            "speed",
            "erratic/joint",
            "speed swept while the board is tapped: nothing drops out",
            ("supply", "high_voltage", "static", "hot"),
        ),
        (
            "whole",
            "lamp_out",
            "face lit evenly in the dark, no zone dark",
            ("supply", "high_voltage", "static", "lens", "hot"),
        ),
        (
            "speed",
            "stalled/driver",
            "burn-in: set it running, look in at its marks, end it",
            ("supply",),
        ),
        ("whole", "corrosion", "both sides photographed", ("static",)),
    ],
)
def test_a_check_says_what_power_and_the_open_level_ask_for(dial, fault, words, kinds):
    step = check_of(document(dial, fault), words)
    assert step["cautions"] == [SAID[kind] for kind in kinds]


def test_every_check_of_the_catalogue_under_power_says_so():
    every = [(f"level {code}", one.checks) for code, one in TABLES.level.items()]
    every += [(code, one.checks) for code, one in TABLES.operation.items()]
    without = [
        check if isinstance(check, str) else check.words
        for _, checks in every
        for check in checks
        if "supply" not in check_cautions(TABLES, check)
    ]
    assert without == ["both sides photographed"]
    bare = [
        check
        for _, checks in every
        for check in checks
        if isinstance(check, CheckTable) and check.at is not None and check.powered
    ]
    assert len(bare) == 6
    assert all("high_voltage" in check_cautions(TABLES, check) for check in bare)


def test_the_sheet_and_the_guide_say_it_too():
    made = document("speed", "stalled/driver")
    sheet = plan_sheet(made, "recommended", date(2026, 3, 2))
    cells = [
        cell
        for one in sheet.blocks
        for row in getattr(one, "rows", ())
        for cell in row
        if isinstance(cell, Cell)
    ]
    (under,) = [one.under for one in cells if "current of the board within" in one.text]
    assert f"CAUTION: {SAID['high_voltage']}" in under
    assert f"CAUTION: {SAID['hot']}" in under
    book = load_guides(TABLES, DRAWINGS)
    for name, operation in TABLES.operation.items():
        said = guide_of(book, name).cautions
        for check in operation.checks:
            assert {SAID[kind] for kind in check_cautions(TABLES, check)} <= set(said), name


def test_a_catalogue_without_words_for_it_has_those_of_the_program(tmp_path: Path):
    kept = [
        line for line in TEXT.splitlines() if not line.startswith(("hot = ", "high_voltage = "))
    ]
    text = "\n".join(kept).replace(', cautions = ["hot"]', "").replace(', "high_voltage"]', "]")
    (tmp_path / "ours.toml").write_text(text, "utf-8")
    made = document("speed", "stalled/driver", tmp_path / "ours.toml")
    step = check_of(made, "current of the board within what it drew before")
    assert step["cautions"] == [SAID[kind] for kind in ("supply", "high_voltage", "static")]


def test_a_caution_of_a_check_that_there_is_not_is_refused(tmp_path: Path):
    old = 'what it drew before", at = "board out", minutes = { least = 1, usual = 1, most = 3 }, '
    assert f'{old}cautions = ["hot"]' in TEXT
    text = TEXT.replace(f'{old}cautions = ["hot"]', f'{old}cautions = ["warm"]')
    (tmp_path / "ours.toml").write_text(text, "utf-8")
    with pytest.raises(PlanError) as wrong:
        load_catalogue(KNOWN, FAMILY, tmp_path / "ours.toml")
    assert (
        "operation.replace_driver.checks: 'current of the board within what it drew before': "
        "cautions: there is no caution 'warm'; known: chips, face, high_voltage, hot"
        in str(wrong.value)
    )
