"""Every text of the page stands in one place, and none is missing."""

import re
from collections.abc import Iterator
from pathlib import Path
from string import Formatter

import pytest

import needlewright.web
from needlewright.records.words import STAGE_WORDS
from needlewright.web.texts import DEFAULT, Texts, language_wanted, languages, texts_in

WEB = Path(needlewright.web.__file__).parent
GROUPS = {path.stem for path in (WEB / "language" / DEFAULT).glob("*.toml")}
IN_TEMPLATE = re.compile(r"""\bt\(\s*["']([a-z_.]+)["']""")
BUILT = re.compile(r"""\bt\(\s*["']([a-z_]+\.[a-z_.]*)["']\s*~""")
IN_CODE = re.compile(r"""(?:\btexts?|\bt)\(\s*["']([a-z_]+\.[a-z_.]+)["']""")
IN_SCRIPT = re.compile(r"""\btext\(\s*["']([a-z_.]+)["']""")


def used() -> Iterator[tuple[str, str]]:
    """`(where, name)` of every text named outright."""
    for path in WEB.rglob("*.html"):
        text = path.read_text(encoding="utf-8")
        built = set(BUILT.findall(text))
        yield from ((path.name, n) for n in IN_TEMPLATE.findall(text) if n not in built)
    for path in WEB.rglob("[a-z]*.py"):
        for name in IN_CODE.findall(path.read_text(encoding="utf-8")):
            if name.split(".")[0] in GROUPS:
                yield path.name, name
    for path in (WEB / "static").glob("*.js"):
        for name in IN_SCRIPT.findall(path.read_text(encoding="utf-8")):
            group, _, rest = name.partition(".")
            yield path.name, f"{group}.script.{rest}"


def test_every_text_that_is_used_is_there() -> None:
    names = texts_in().names
    found = list(used())
    assert len(found) > 150
    missing = [
        (where, name) for where, name in found if name not in names and not name.endswith(".")
    ]
    assert missing == []


def test_every_text_built_from_a_part_has_some() -> None:
    names = texts_in().names
    built = {b for p in WEB.rglob("*.html") for b in BUILT.findall(p.read_text(encoding="utf-8"))}
    assert "shelf.stages." in built
    assert [one for one in built if not any(name.startswith(one) for name in names)] == []


def test_the_words_of_the_work_are_those_of_the_records() -> None:
    texts = texts_in()
    assert {stage: texts(f"shelf.stages.{stage}") for stage in STAGE_WORDS} == STAGE_WORDS


@pytest.mark.parametrize("code", languages())
def test_every_language_has_every_text(code: str) -> None:
    english, other = texts_in(DEFAULT), texts_in(code)
    assert other.names == english.names
    for name in english.names:
        assert _places(other, name) == _places(english, name), name


def _places(texts: Texts, name: str) -> set[str]:
    text = texts._texts[name]
    forms = [text] if isinstance(text, str) else list(text.values())
    return {field for form in forms for _, field, _, _ in Formatter().parse(form) if field}


def test_no_text_is_empty_or_carries_marks() -> None:
    for name in texts_in().names:
        text = texts_in()._texts[name]
        for form in [text] if isinstance(text, str) else text.values():
            assert form.strip() == form, name
            assert not re.search(r"<[a-z/!]", form), name
            assert form, name


def test_a_count_chooses_its_form() -> None:
    texts = texts_in()
    assert texts("shelf.lines", n=1) == "1 cluster"
    assert texts("shelf.lines", n=0) == "0 clusters"
    assert texts("shelf.lines", n=10_000) == "10\u202f000 clusters"
    with pytest.raises(KeyError):
        texts("shelf.none")


@pytest.mark.parametrize(
    ("accept", "code"),
    [
        ("", "en"),
        ("xx", "en"),
        ("xx,en;q=0.5", "en"),
        ("en-GB,en;q=0.9", "en"),
        ("de;q=no,;,=", "en"),
        (",".join(["xx"] * 5000), "en"),
    ],
)
def test_the_language_is_what_the_browser_asks_for(accept: str, code: str) -> None:
    assert language_wanted(accept) == code


def test_scripts_get_their_texts_and_no_others() -> None:
    texts = Texts("en", {"a.script.x": "one", "a.y": "two", "b.script.z": "three"})
    assert texts.for_scripts("a") == {"a.x": "one"}
    assert texts.for_scripts("a", "b") == {"a.x": "one", "b.z": "three"}
