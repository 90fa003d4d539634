"""The shop's own catalogue of operations on the page, and the plan that is made with it."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from needlewright.composing.shop_catalogue import text_in_use
from needlewright.records.catalogues import catalogues, set_catalogue
from web.sheet_desk import TAG, Desk, desk, part_of, words_of


@pytest.fixture
def one(tmp_path: Path) -> Iterator[Desk]:
    with desk(tmp_path / "shop") as opened:
        yield opened


def panel(page: str) -> str:
    return words_of(part_of(page, 'id="catalogue"', "</section>"))


def take(one: Desk, content: bytes, name: str = "ours.toml") -> int:
    return one.post("/shop/catalogue", files={"file": (name, content)}).status_code


def test_a_catalogue_is_downloaded_changed_taken_in_and_given_up(one: Desk) -> None:
    assert "The one that comes with the program" in panel(one.get("/shop"))
    shipped = one.client.get("/shop/catalogue.toml")
    assert shipped.headers["content-disposition"] == 'attachment; filename="catalogue.toml"'
    assert shipped.content == text_in_use(one.shop).content
    dearer = shipped.content.replace(b"hour = 60.00", b"hour = 75.00")
    assert take(one, dearer) == 303
    assert "The shop's own: ours.toml" in panel(one.get("/shop")).replace("&#39;", "'")
    assert one.client.get("/shop/catalogue.toml").content == dearer
    plan = one.get(f"/jobs/{TAG}/plan")
    assert "Reckoned with the catalogue ours.toml , 75.00 EUR an hour." in words_of(plan)
    assert 'href="/shop#catalogue"' in plan
    assert one.post("/shop/catalogue/shipped").status_code == 303
    page = one.get("/shop")
    assert "The one that comes with the program" in panel(page)
    older = re.search(r'name="sha256" value="([0-9a-f]{64})"', page)
    assert older
    assert one.post("/shop/catalogue/again", {"sha256": older.group(1)}).status_code == 303
    assert text_in_use(one.shop).content == dearer
    assert len(catalogues(one.shop)) == 3


def test_what_is_wrong_with_a_catalogue_is_said_beside_it(one: Desk) -> None:
    shipped = text_in_use(one.shop).content
    for content, says in (
        (b"\x00\xff", "is no TOML"),
        (shipped.replace(b"least = 4, usual = 7", b"least = -4, usual = 7"), "negative"),
        (shipped.replace(b"hour = 60.00", b"hours = 60.00"), "hours"),
    ):
        wrong = one.post("/shop/catalogue", files={"file": ("ours.toml", content)})
        assert wrong.status_code == 422
        assert says in panel(wrong.text)
    assert "no catalogue was chosen" in panel(one.post("/shop/catalogue").text)
    gone = one.post("/shop/catalogue/again", {"sha256": "0" * 64})
    assert gone.status_code == 404
    assert "is not here any more" in panel(gone.text)
    assert one.post("/shop/catalogue/shipped").status_code == 422
    assert catalogues(one.shop) == ()


def test_a_plan_stands_although_the_catalogue_cannot_be_used(one: Desk) -> None:
    set_catalogue(one.shop, "ours.toml", b"hours = 1")  # as another version could have kept it
    words = words_of(part_of(one.get(f"/jobs/{TAG}/plan"), 'id="terms"', "</section>"))
    assert "ours.toml: " in words
    assert "Change it on the Shop page" in words
    wrong = one.post(f"/jobs/{TAG}/plan", {"built": "2012"})
    assert wrong.status_code == 422
    assert "ours.toml" in wrong.text
