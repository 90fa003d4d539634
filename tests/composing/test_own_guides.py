"""Guides of a shop's own and of a family's: checked by the same rules, and kept whole."""

import json
import shutil
from pathlib import Path

import pytest

import needlewright.plans.catalogue as catalogue_room
from composing.planned_work import SLIPS, planned
from needlewright.composing.guides import guide_book, guide_document, has_guide
from needlewright.composing.job_guide import job_guide
from needlewright.composing.own_guides import (
    book_in_use,
    book_of_files,
    book_of_shop,
    keep_shop_guide,
)
from needlewright.composing.rebuild import job_rebuild
from needlewright.composing.shop_catalogue import take_catalogue
from needlewright.errors import NotThereError, PlanError, RecordError
from needlewright.families.folder import load_family
from needlewright.plans.guides.load import levels_of
from needlewright.records.backup import backup
from needlewright.records.families import keep_family
from needlewright.records.opening import open_shop
from needlewright.records.plans import keep_plan
from needlewright.records.restore import restore
from needlewright.records.shop_guides import drop_guide, guide_text, shop_guides
from records.benches import ANNA, FAMILY_FOLDER, bench, received, sqlite_only

CATALOGUE = Path(catalogue_room.__file__).parent / "catalogue.toml"
POLISH = """
title = "Polish the lens"
operations = ["polish_lens"]
cautions = ["static", "lens", "supply"]
tools = ["plastic polish, lint-free cloth"]
good = ["No scratch a nail feels."]
photos = ["the lens against the light"]
source = "invented"
step = [{ words = "Polish from the middle out, without pressing." }]
check = [{ words = "the face through it, every mark read" }]
"""
OPERATION = """
[operation.polish_lens]
scope = "whole"
kind = "repair"
words = "polish the lens"
fixes = { lens_dull = 1.0 }
minutes = { least = 5, usual = 10, most = 20 }
open = ["opened"]
guide = "polish-lens"
source = "invented"
"""


@pytest.fixture
def own(tmp_path: Path) -> Path:
    """A catalogue of one's own, with its guide next to it."""
    text = CATALOGUE.read_text(encoding="utf-8")
    first_fault = text.split("fixes = {", 1)[1].split("}", 1)[0]
    added = OPERATION.replace(" lens_dull = 1.0 ", first_fault)
    folder = tmp_path / "own"
    (folder / "guides").mkdir(parents=True)
    scope = text.split("[operation.", 1)[1].split('scope = "', 1)[1].split('"', 1)[0]
    added = added.replace('scope = "whole"', f'scope = "{scope}"')
    (folder / "ours.toml").write_text(f"{text}\n{added}", encoding="utf-8")
    (folder / "guides" / "polish-lens.toml").write_text(POLISH, encoding="utf-8")
    return folder / "ours.toml"


def test_a_guide_next_to_a_catalogue_is_that_of_its_operation(own):
    book = book_of_files(own, None)
    assert set(book.guides) == {*guide_book().guides, "polish-lens"}
    said = guide_document("polish_lens", book=book)
    assert (said["name"], said["title"]) == ("polish-lens", "Polish the lens")
    assert said["open_first"] == ["open the case: count fasteners, take the lens off"]
    assert "ESD mat, wrist strap" in said["tools"], "what is shared by its level"
    assert not has_guide("polish_lens")
    for name in guide_book().guides:
        assert guide_document(name, book=book) == guide_document(name)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('"polish_lens"]', '"polish"]', "operations: there is no operation 'polish'; known:"),
        ('"static", ', "", "needs the caution 'static' and it is not there; add it"),
        ('"lens", "supply"', '"lens", "noise"', "cautions: there is no caution 'noise'; known:"),
        ("title", "titel", "titel: there is no such key; take it out or mend its spelling"),
        ("step = [{ ", 'step = [{ drawing = "cat", ', "there is no drawing 'cat'; known:"),
        ("title = ", "title ", "is no TOML"),
        ('good = ["No scratch a nail feels."]', "", "good: is missing; add it"),
    ],
)
def test_one_is_held_to_the_rules_of_the_programs_own(own, old, new, said):
    path = own.parent / "guides" / "polish-lens.toml"
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(PlanError) as error:
        book_of_files(own, None)
    assert said in str(error.value)
    assert str(path) in str(error.value)
    assert "\n" not in str(error.value)


def test_an_operation_that_names_no_guide_or_one_there_is_not(own):
    (own.parent / "guides" / "polish-lens.toml").unlink()
    book = book_of_files(own, None)
    assert book.missing == (
        "operation 'polish_lens' names the guide 'polish-lens', which is not there",
    )
    assert not has_guide("polish_lens", book)
    text = own.read_text(encoding="utf-8").replace('guide = "polish-lens"\n', "")
    own.write_text(text, encoding="utf-8")
    book = book_of_files(own, None)
    assert book.missing == ()
    assert not has_guide("polish_lens", book)
    # a guide of the program tells of it too, with the cautions it needs
    words = 'words = "polish the lens"'
    own.write_text(text.replace(words, f'{words}\nguide = "set-needle"'), encoding="utf-8")
    said = guide_document("polish_lens", book=book_of_files(own, None))
    assert (said["name"], "polish_lens" in said["operations"]) == ("set-needle", True)


def test_the_shops_own_is_kept_used_replaced_and_left_out(tmp_path, own):
    with bench(tmp_path / "shop") as (opened, _):
        with pytest.raises(PlanError, match="operations: there is no operation 'polish_lens'"):
            keep_shop_guide(opened, "polish-lens", POLISH.encode(), ANNA)
        assert shop_guides(opened) == ()
        # the catalogue comes first; until its guide is there, what is wrong is said
        take_catalogue(opened, own, ANNA)
        assert len(book_of_shop(opened).missing) == 1
        first = keep_shop_guide(opened, "polish-lens", POLISH.encode(), ANNA)
        assert keep_shop_guide(opened, "polish-lens", POLISH.encode(), ANNA) == first
        received(opened, "T-77")
        assert job_guide(opened, "T-77", "polish_lens").document["title"] == "Polish the lens"
        changed = POLISH.replace("Polish the lens", "Polish a lens")
        keep_shop_guide(opened, "polish-lens", changed.encode(), ANNA)
        (now,) = shop_guides(opened)
        assert guide_text(opened, now) == changed.encode()
        assert opened.originals.read(first.sha256) == POLISH.encode(), "every text stays"
        for name in ("refit", "Polish", "../up", ""):
            with pytest.raises((PlanError, RecordError)):
                keep_shop_guide(opened, name, POLISH.encode(), ANNA)
        with pytest.raises(NotThereError, match="it has: polish-lens"):
            drop_guide(opened, "polish", ANNA)
        drop_guide(opened, "polish-lens", ANNA)
        assert shop_guides(opened) == ()


def test_one_too_long_for_a_sheet_is_refused(tmp_path, own):
    with bench(tmp_path / "shop") as (opened, _):
        take_catalogue(opened, own, ANNA)
        many = ", ".join('{ words = "Polish once more." }' for _ in range(120))
        long = POLISH.replace("step = [", f"step = [{many}, ")
        with pytest.raises(Exception, match="shorten") as error:
            keep_shop_guide(opened, "polish-lens", long.encode(), ANNA)
        assert error.value.exit_code == 1
        assert shop_guides(opened) == ()


@sqlite_only
def test_a_backup_holds_them(tmp_path, own):
    with bench(tmp_path / "shop") as (opened, _):
        take_catalogue(opened, own, ANNA)
        keep_shop_guide(opened, "polish-lens", POLISH.encode(), ANNA)
        backup(opened, tmp_path / "b.zip")
    restore(tmp_path / "b.zip", tmp_path / "again")
    with open_shop(tmp_path / "again") as there:
        (one,) = shop_guides(there)
        assert guide_text(there, one) == POLISH.encode()


def test_a_family_brings_guides_for_its_own_operations(tmp_path):
    shutil.copytree(FAMILY_FOLDER, tmp_path / "family")
    path = tmp_path / "family" / "family.json"
    said = json.loads(path.read_text(encoding="utf-8"))
    operation = {
        "scope": "dial",
        "kind": "repair",
        "words": "free {dial}'s shaft",
        "fixes": {"lost_steps": 1.0},
        "minutes": {"least": 1, "usual": 2, "most": 3},
        "open": ["opened"],
        "guide": "free-shaft",
        "source": "invented",
    }
    guide = {
        "title": "Free a shaft",
        "operations": ["free_shaft"],
        "cautions": ["static", "lens"],
        "tools": ["thin oil"],
        "good": ["It turns evenly."],
        "photos": ["the shaft from above"],
        "source": "invented",
        "step": [{"words": "One drop, no more."}],
        "check": [{"words": "swept from stop to stop"}],
    }
    said |= {"plan": {"operation": {"free_shaft": operation}}, "guides": {"free-shaft": guide}}
    path.write_text(json.dumps(said), encoding="utf-8")
    family = load_family(tmp_path / "family")
    assert (
        guide_document("free_shaft", family, book_of_files(None, family))["title"] == "Free a shaft"
    )
    with bench(tmp_path / "shop") as (opened, _):
        keep_family(opened, tmp_path / "family", ANNA)
        received(opened, "T-77")
        made = planned(family, "T-77", SLIPS)
        keep_plan(opened, "T-77", made, ANNA)
        work = job_rebuild(opened, "T-77")
        free = [one for one in work.steps if one.operation == "free_shaft:speed"]
        assert [(one.guide, one.guide_missing) for one in free] == [("free-shaft", False)]
        assert work.guides_trouble == ""
    del said["guides"]
    path.write_text(json.dumps(said), encoding="utf-8")
    with bench(tmp_path / "shop2") as (opened, _):
        keep_family(opened, tmp_path / "family", ANNA)
        received(opened, "T-77")
        keep_plan(opened, "T-77", made, ANNA)
        work = job_rebuild(opened, "T-77")
        assert work.guides_trouble == ""
        (free,) = [one for one in work.steps if one.operation == "free_shaft:speed"]
        assert (free.guide, free.guide_missing) == (None, True)


def test_a_guide_that_fits_no_more_is_said_and_those_of_the_program_stand(tmp_path, own):
    with bench(tmp_path / "shop") as (opened, _):
        take_catalogue(opened, own, ANNA)
        keep_shop_guide(opened, "polish-lens", POLISH.encode(), ANNA)
        take_catalogue(opened, CATALOGUE, ANNA)
        book, trouble = book_in_use(opened)
        assert trouble.startswith(
            "the shop's guide 'polish-lens': operations: there is no operation 'polish_lens'; known"
        )
        assert book.guides == guide_book().guides
        received(opened, "T-77")
        assert job_guide(opened, "T-77", "set-needle").document["name"] == "set-needle"
        with pytest.raises(PlanError, match="there is no operation 'polish_lens'"):
            job_guide(opened, "T-77", "polish-lens")


@pytest.mark.parametrize("level", ["opened", "needles off", "face off", "board out"])
def test_a_caution_more_on_a_level_goes_onto_every_guide_that_opens_it(tmp_path, level):
    # "replace-led" opens further than its operations do, and has no such caution of its own
    words = CATALOGUE.read_text(encoding="utf-8")
    title = f'[level."{level}"]' if " " in level else f"[level.{level}]"
    head, tail = words.split(title, 1)
    text = head + title + tail.replace("cautions = [", 'cautions = ["chips", ', 1)
    (tmp_path / "ours.toml").write_text(text, encoding="utf-8")
    book = book_of_files(tmp_path / "ours.toml", None)
    openers = [
        name
        for name, one in book.guides.items()
        if level in levels_of(book.catalogue, one.operations, one.open)
    ]
    assert "replace-led" in openers
    assert all("chips" in book.guides[name].cautions for name in openers)
    dust = book.catalogue.caution["chips"]
    assert dust in guide_document("replace-led", book=book)["cautions"]
    with bench(tmp_path / "shop") as (opened, _):
        take_catalogue(opened, tmp_path / "ours.toml", ANNA)
        in_use, trouble = book_in_use(opened)
        assert trouble == ""
        assert "chips" in in_use.guides["replace-led"].cautions
