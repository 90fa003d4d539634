"""Every single key the page acts on stands on the page of keys."""

import re
from html import unescape
from pathlib import Path

import needlewright.web
from web.bench_page import page

WEB = Path(needlewright.web.__file__).parent


def keys_in_templates() -> set[str]:
    """Those that templates give to elements; the places of the head are numbered."""
    found = {
        key
        for template in sorted((WEB / "templates").rglob("*.html"))
        for key in re.findall(r'data-key="([^"]*)"', template.read_text(encoding="utf-8"))
    }
    return found - {"{{ loop.index }}"}


def keys_in_scripts() -> set[str]:
    """Those that scripts act on themselves."""
    return {
        key
        for script in sorted((WEB / "static").glob("*.js"))
        for key in re.findall(r'\.key === "([^"]+)"', script.read_text(encoding="utf-8"))
    }


def test_every_key_is_listed(tmp_path: Path):
    with page(tmp_path) as bench:
        shown = bench.get("/keys").text
    listed = {unescape(key) for key in re.findall(r"<kbd>([^<]*)</kbd>", shown)}
    places = set(re.findall(r'data-key="(\d)"', shown))
    acted_on = keys_in_templates() | keys_in_scripts() | places
    assert {"x", "u", "w", "n", "/", "?", "Escape", "1", "4"} <= acted_on
    assert listed == acted_on - {"Escape"} | {"Esc", "Tab"}


def test_each_is_listed_once_with_what_it_does(tmp_path: Path):
    with page(tmp_path) as bench:
        shown = bench.get("/keys").text
    lines = re.findall(r"<kbd>([^<]*)</kbd></dt><dd>([^<]+)</dd>", shown)
    assert len(lines) == len(dict(lines)) == shown.count("<kbd>")
