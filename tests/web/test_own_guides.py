"""Guides of the shop's own, kept by the page."""

from collections.abc import Iterator
from html import unescape

import pytest

from composing.test_own_guides import POLISH
from needlewright.records.shop_guides import shop_guides
from web.sheet_desk import Desk, desk, words_of

OWN = POLISH.replace("polish_lens", "set_needle").replace("Polish the lens", "Set it our way")
FITS = OWN.replace('"static", "lens", "supply"', '"static", "lens", "needle", "supply"')


@pytest.fixture
def one(tmp_path) -> Iterator[Desk]:
    with desk(tmp_path / "shop", job=False) as opened:
        yield opened


def sent(one: Desk, name: str, text: str):
    return one.post("/guides/own", files={"file": (name, text.encode(), "text/plain")})


def test_one_is_kept_shown_and_left_out(one: Desk) -> None:
    said = sent(one, "set-needle.toml", FITS)
    assert said.status_code == 303, words_of(said.text)[:400]
    assert "Set it our way" in one.get("/guides/set-needle")
    page = one.get("/guides")
    own = page.split('id="own"', 1)[1]
    assert "set-needle" in own
    text = own.split('href="/originals/', 1)[1].split('"', 1)[0]
    assert one.client.get(f"/originals/{text}").content == FITS.encode()
    assert one.post("/guides/own/set-needle/off").status_code == 303
    assert shop_guides(one.shop) == ()
    assert "Set it our way" not in one.get("/guides/set-needle")


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("set-needle.toml", OWN, "needs the caution"),
        ("set-needle.toml", "\x00\xff", "is no TOML"),
        ("set-needle.toml", "x = 1\n" * 20_000, "bytes are no guide"),
        ("Set needle.toml", FITS, "is no name of a guide"),
        ("", "", "no file was chosen"),
    ],
)
def test_one_that_cannot_be_used_is_said_and_not_kept(
    one: Desk, name: str, text: str, words: str
) -> None:
    said = sent(one, name, text) if name else one.post("/guides/own", {"x": "y"})
    assert said.status_code == 422
    assert words in unescape(said.text.split('id="own"', 1)[1])
    assert shop_guides(one.shop) == ()
    assert one.post("/guides/own/none/off").status_code == 404
