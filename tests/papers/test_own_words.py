"""People's own words kept apart: where `bdi` and isolating characters are put, and where never."""

import re
from pathlib import Path
from unicodedata import name

import pytest
from jinja2 import DictLoader, Environment

import needlewright.papers
import needlewright.web
from needlewright.papers.intake_form import IntakeWords, intake_form
from needlewright.papers.own_words import OwnWords, Place, in_bdi, isolated, turns
from needlewright.web.templating import make_templates

HEBREW = "שלום 12"
ARABIC = "عداد"
FIELD = re.compile(r"<(?:textarea|input)[^>]*>")
PAPERS = Path(needlewright.papers.__file__).parent
TEMPLATES = Path(needlewright.web.__file__).parent / "templates"


def drawn(source: str, **values: object) -> str:
    env = Environment(loader=DictLoader({"one": source}), autoescape=True, extensions=[OwnWords])
    return env.get_template("one").render(**values)


@pytest.mark.parametrize(
    ("text", "does"),
    [(HEBREW, True), (ARABIC, True), ("abc", False), ("Müller, 漢字 ×1000 r/min −3°", False),
     ("a\u202eb", True), ("", False)],
)  # fmt: skip
def test_what_can_turn_its_neighbours_about(text: str, does: bool) -> None:
    # Unicode Standard Annex 9, table 4: types R and AL, and the embedding and override characters
    assert turns(text) is does
    assert (in_bdi(text) != text, isolated(text) != text) == (does, does)


@pytest.mark.parametrize(
    ("text", "opened"),
    [
        (f"{isolated(HEBREW)} accepted 7 of {isolated(ARABIC)}.", ""),
        (isolated(f"{isolated(HEBREW)} accepted"), ""),
        (f"\u2067{isolated(ARABIC)} 7\u2069 said so", ""),
        (f"{isolated(HEBREW)} accepted 7 {ARABIC}", '<bdi dir="ltr">'),
        (f"{isolated('abc ' + HEBREW)} 7 {ARABIC} accepted", '<bdi dir="rtl">'),
        (f"{isolated(HEBREW)} 7 \u202e", '<bdi dir="ltr">'),
        (f"\u2068{HEBREW}", "<bdi>"),  # nothing ends the isolate
    ],
)
def test_what_is_isolated_decides_nothing_for_the_rest(text: str, opened: str) -> None:
    # Unicode Standard Annex 9, rules P2 and P3: isolates are skipped for the first strong letter
    assert str(in_bdi(text)) == (f"{opened}{text}</bdi>" if opened else text)


def test_isolating_characters_are_those_of_the_standard() -> None:
    # Unicode Standard Annex 9, clause 2.4
    first, *_, last = isolated(HEBREW)
    assert (name(first), name(last)) == ("FIRST STRONG ISOLATE", "POP DIRECTIONAL ISOLATE")
    assert isolated(HEBREW)[1:-1] == HEBREW


@pytest.mark.parametrize(
    ("source", "page"),
    [
        ("<p>{{ x }}</p>", f"<p><bdi>{HEBREW}</bdi></p>"),
        ('<p title="{{ x }}">{{ y }}</p>', f'<p title="{HEBREW}">plain</p>'),
        ("<p title='a > b {{ x }}'>{{ x }}", f"<p title='a > b {HEBREW}'><bdi>{HEBREW}</bdi>"),
        ("<title>{{ x }}</title>{{ x }}", f"<title>{HEBREW}</title><bdi>{HEBREW}</bdi>"),
        ("<option>{{ x }}</option>", f"<option>{HEBREW}</option>"),
        ("<script>{{ x | tojson }}</script>{{ y }}", "plain"),
        ("<!-- > {{ x }} -->{{ y }}", f"<!-- > {HEBREW} -->plain"),
        ("{{ y ~ x }}|{{ x if y else y }}", f"<bdi>plain{HEBREW}</bdi>|<bdi>{HEBREW}</bdi>"),
        ("{{ x | safe }}", HEBREW),
        ("{{ 3 }}<br>{{ none }}", "3<br>None"),
        ("<textarea name=a>{{ x }}</textarea>", f'<textarea dir="auto" name=a>{HEBREW}</textarea>'),
        ('<input name="a">', '<input dir="auto" name="a">'),
        ('<input name="a" type="number">', '<input name="a" type="number">'),
        ('<input type="hidden" name="a">', '<input type="hidden" name="a">'),
        ('<input dir="ltr" name="a">', '<input dir="ltr" name="a">'),
    ],
)  # fmt: skip
def test_where_it_is_put(source: str, page: str) -> None:
    shown = drawn(source, x=HEBREW, y="plain")
    assert shown == page or (source.startswith("<script") and shown.endswith(page))


def test_forms_that_leave_the_house_take_every_direction() -> None:
    for form in ("intake_form.html", "quote.html"):
        html = (PAPERS / form).read_text(encoding="utf-8")
        fields = [one for one in FIELD.findall(html) if 'type="date"' not in one]
        assert fields
        assert [one for one in fields if 'dir="auto"' not in one] == []
    words = IntakeWords("title", "lead", "first line", ARABIC)
    assert f'<p dir="auto">{ARABIC}</p>' in intake_form(words, ())


def test_markup_in_somebodys_words_stays_text() -> None:
    assert drawn("{{ x }}", x=f"<b>{ARABIC}") == f"<bdi>&lt;b&gt;{ARABIC}</bdi>"


def test_every_template_goes_through_it_and_is_followed_to_its_end() -> None:
    templates = make_templates()
    assert any(isinstance(one, OwnWords) for one in templates.extensions.values())
    for file in sorted(TEMPLATES.rglob("*.html")):
        place = Place()
        for token in templates.lexer.tokenize(file.read_text(encoding="utf-8")):
            if token.type == "data":
                place.pass_by(token.value)
        assert place.inside == "", f"{file.name} is left inside {place.inside}"
