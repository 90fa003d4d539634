"""The catalogue of operations: what it holds, what a family adds, and what is refused."""

import json
import shutil
from fractions import Fraction
from importlib import resources
from pathlib import Path
from typing import Any

import pytest

from needlewright.errors import PlanError
from needlewright.families.folder import load_family
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.plans.catalogue.load import load_catalogue
from needlewright.plans.catalogue.model import Catalogue, Spread

ROOT = Path(__file__).parents[2]
FAMILY = ROOT / "src/needlewright/demo_data/family"
TEXT = (resources.files("needlewright.plans.catalogue") / "catalogue.toml").read_text("utf-8")
KNOWN = load_knowledge(None)


def loaded(tmp_path: Path, text: str = TEXT, variant: str | None = None, **added: Any) -> Catalogue:
    """A catalogue of that text, for the invented family with fields added."""
    folder = tmp_path / "family"
    shutil.copytree(FAMILY, folder, dirs_exist_ok=True)
    raw = json.loads((folder / "family.json").read_text("utf-8")) | added
    (folder / "family.json").write_text(json.dumps(raw), "utf-8")
    (tmp_path / "catalogue.toml").write_text(text, "utf-8")
    return load_catalogue(KNOWN, load_family(folder), tmp_path / "catalogue.toml", variant)


def test_every_fault_inside_a_cluster_has_an_operation():
    catalogue = load_catalogue(KNOWN, load_family(FAMILY))
    states = [state for cause in KNOWN.causes.values() if cause.inside for state in cause.states]
    untreated = [
        state for state in states if not any(o.cures(state) for o in catalogue.operations.values())
    ]
    assert untreated == []


def test_three_points_make_a_mean_and_a_spread():
    # PERT's three-point estimate (from memory): (a + 4 m + b) / 6, (b - a) / 6
    spread = Spread(Fraction(10), Fraction(14), Fraction(30))
    assert spread.mean == 16
    assert spread.variance == Fraction(100, 9)


def test_prices_are_exact_and_lamps_are_counted_by_the_family(tmp_path: Path):
    lamps = [{"id": f"l{n}", "centre_mm": [10 * n + 10, 10]} for n in range(4)]
    catalogue = loaded(tmp_path, lamps=lamps)
    (need,) = catalogue.operations["replace_lamps"].needs
    assert (need.part.price, need.count) == (Fraction(6, 5), 4)
    unlisted = loaded(tmp_path, lamps=None)
    assert unlisted.operations["replace_lamps"].needs[0].count == 6


def test_a_family_adds_weak_points_and_operations(tmp_path: Path):
    catalogue = loaded(
        tmp_path,
        variant="b",
        variants=[{"id": "a"}, {"id": "b"}],
        displays=[{"id": "clock"}],
        weak_points=[
            {
                "id": "movement_worn",
                "scope": "dial",
                "dials": ["fuel"],
                "words": "{dial}'s movement is of the first series",
                "leads_to": "lost_steps/movement",
                "life": {"shape": 3, "km": 180000},
                "source": "invented",
            },
            {
                "id": "plug",
                "scope": "whole",
                "variants": ["a"],
                "words": "plug",
                "leads_to": "supply_joint",
                "life": {"shape": 2, "years": 9},
                "source": "invented",
            },
            {"id": "lens-scratches", "note": "only told"},
        ],
        plan={"part": {"movement": {"words": "movement", "price": 21.3, "source": "invented"}}},
    )
    worn = catalogue.weak_points["movement_worn"]
    assert (worn.law.shape, worn.law.scale, worn.clock, worn.dials) == (3, 180000, "km", ("fuel",))
    assert "plug" not in catalogue.weak_points
    assert "display_feed_aged" in catalogue.weak_points
    assert catalogue.operations["replace_movement"].needs[0].part.price == Fraction(213, 10)
    assert [words.split(" is not")[0] for words in catalogue.not_used] == [
        "weak point 'lens-scratches' of the family"
    ]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (
            "life = { shape = 2.5, years = 60 }",
            "life = { shape = 2.5, years = true }",
            "life.years: expected a number, found true",
        ),
        (
            'part = "lamp", count = 6',
            'part = "lamp", count = true',
            "parts.0.count: expected a number, found true",
        ),
        (
            'least = 5, usual = 10, most = 25 }\nopen = ["face off"]\ncau',
            'least = -3, usual = 10, most = 25 }\nopen = ["face off"]\ncau',
            "operation.mend_stop.minutes.least: minutes must not be negative, found -3",
        ),
        (
            'least = 5, usual = 10, most = 25 }\nopen = ["face off"]\ncau',
            'least = 11, usual = 10, most = 25 }\nopen = ["face off"]\ncau',
            "operation.mend_stop.minutes: least 11, usual 10 and most 25 minutes must not fall",
        ),
        (
            '"needle_offset/needle" = 0.97, "drag',
            '"needle_ofset/needle" = 0.97, "drag',
            "operation.set_needle.fixes: there is no fault 'needle_ofset'; known: backlash",
        ),
        (
            '"needle_offset/needle" = 0.97, "drag',
            '"needle_offset/spring" = 0.97, "drag',
            "operation.set_needle.fixes: 'needle_offset' has no part 'spring'; its parts: needle",
        ),
        (
            '"needle_offset/needle" = 0.97, "drag',
            '"sender" = 0.97, "drag',
            "operation.set_needle.fixes: 'sender' is in the vehicle and not in the cluster",
        ),
        (
            '"needle_offset/needle" = 0.97, "drag',
            '"corrosion" = 0.97, "drag',
            "operation.set_needle.fixes: 'corrosion' is a fault of scope 'whole' and stands in one",
        ),
        (
            'parts = [{ part = "movement" }]',
            'parts = [{ part = "motor" }]',
            "operation.replace_movement.parts: there is no part 'motor'; known: display, driver",
        ),
        (
            'guide = "set-needle"\nsource = "common practice, no source"\n',
            'guide = "set-needle"\n',
            "operation.set_needle.source: is missing; add it",
        ),
        (
            'guide = "set-needle"',
            'gide = "set-needle"',
            "operation.set_needle.gide: there is no such key",
        ),
        (
            'open = ["needles off"]',
            'open = ["needle off"]',
            "operation.set_needle.open: there is no level 'needle off'; known: board out, face off",
        ),
        (
            'open = ["opened"]',
            'open = ["needles off"]',
            "operation.replace_lamps.open: 'needles off' is of one dial and the operation of the",
        ),
        (
            "[level.opened]",
            '[level.opened]\nneeds = ["board out"]',
            "levels need one another in a circle (opened -> board out -> face off -> opened)",
        ),
        ('currency = "EUR"', 'currency = "EURO"', "currency: there is no currency 'EURO'"),
        (
            "life = { shape = 2.5, years = 40 }",
            "life = { shape = 2.5 }",
            "weak_point.lamps_aged.life: give the scale either in 'years' or in 'km'",
        ),
        (
            "prevents = { lamps_aged = 1 }",
            "prevents = { lamps_old = 1 }",
            "operation.replace_lamps.prevents: there is no weak point 'lamps_old'",
        ),
        ("hour = 60.00", "hour = -60.00", "shop.hour: input should be greater than or equal to 0"),
        (
            "hour = 60.00",
            'hour = "60,00"',
            "shop.hour: expected a number with a point, such as 16.50, found '60,00'",
        ),
        ("hour = 60.00", "hour = ", "is no TOML"),
        (
            'included_in = "needles off"',
            'included_in = "board out"',
            "operation.set_needle.included_in: 'board out' must be a level of scope 'dial' that",
        ),
        (
            'included_in = "needles off"',
            'included_in = "needles off"\nminutes = { least = 3, usual = 6, most = 15 }',
            "operation.set_needle: give its minutes, or the level whose way out contains it",
        ),
        (
            'checks = [{ words = "both sides photographed", at = "board out", powered = false }, {',
            'checks = [{ words = "face lit evenly in the dark, no zone dark", '
            "minutes = { least = 1, usual = 2, most = 4 } }, {",
            "has its minutes in operation.clean_board already, and would be charged twice",
        ),
        (
            '"both sides photographed", at = "board out"',
            '"both sides photographed", at = "bord out"',
            "operation.clean_board.checks: 'both sides photographed': at: there is no level 'bord",
        ),
        (
            '"both sides photographed", at = "board out"',
            '"both sides photographed", at = 3',
            "operation.clean_board.checks",
        ),
        (
            'no zone dark", at = "opened"',
            'no zone dark", at = "board out"',
            "at: 'board out' does not stand open after that; name one that does (opened), or leave",
        ),
        (  # there is one for every dial, and the work is of the whole
            '"both sides photographed", at = "board out"',
            '"both sides photographed", at = "needles off"',
            "does not stand open after that; name one that does (board out, face off, opened), or",
        ),
        (  # closing it is the work that would be checked
            'checks = ["{dial} read at every check point, from below and from above"]',
            'checks = [{ words = "free", at = "needles off" }]',
            "at: 'needles off' does not stand open after that; name one that does (opened), or",
        ),
        (
            'in its colour", at = "opened", cautions = ["hot"] }]\nguide = "replace-lamps"\nsource',
            'in its colour" }, { words = "both sides photographed", at = "opened" }]\nsource',
            "at: 'opened' here and 'board out' in operation.clean_board; one check is made once",
        ),
    ],
)
def test_what_does_not_fit_is_one_sentence_with_its_place(
    tmp_path: Path, old: str, new: str, said: str
):
    assert old in TEXT
    with pytest.raises(PlanError) as refused:
        loaded(tmp_path, TEXT.replace(old, new, 1))
    assert said in str(refused.value)
    assert str(refused.value).startswith(f"{tmp_path}/catalogue.toml")
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize(
    ("added", "said"),
    [
        (
            {"weak_points": [{"id": "x", "leads_to": "lamp_out"}]},
            "weak_points[0]: scope: is missing",
        ),
        ({"plan": 3}, "plan: all of it: expected a table, found 3"),
        (
            {"plan": {"operation": {"set_needle": {}}}},
            "plan: operation.set_needle.scope: is missing",
        ),
    ],
)
def test_what_a_family_adds_is_checked_too(tmp_path: Path, added: dict[str, Any], said: str):
    with pytest.raises(PlanError) as refused:
        loaded(tmp_path, **added)
    assert said in str(refused.value)


def test_a_variant_the_family_does_not_have_is_refused(tmp_path: Path):
    with pytest.raises(PlanError, match=r"has no variant 'z'; it has: kmh-220, mph-140"):
        loaded(tmp_path, variant="z")
    with pytest.raises(PlanError, match="cannot be opened: No such file"):
        load_catalogue(KNOWN, load_family(FAMILY), tmp_path / "gone.toml")
