"""People's own words kept apart from what stands beside them, whichever way they are written.

A name in Hebrew or Arabic pulls the digits and marks beside it about unless it is isolated. Where
markup can stand that is `bdi`, and `dir="auto"` on what is typed in; in plain text, attributes and
titles it is a pair of isolating characters.

**Source**: HTML (WHATWG), 3.2.6.4 and 4.5.24: `dir="auto"`, `bdi`, and markup before control
characters; Unicode Standard Annex 9, clauses 2.4 and 3.2: isolates, bidirectional types.
"""

import re
from collections.abc import Iterable, Iterator
from typing import Any, Final
from unicodedata import bidirectional

from jinja2 import Environment
from jinja2.ext import Extension
from jinja2.lexer import Token
from markupsafe import Markup

FIRST_STRONG_ISOLATE: Final = "\u2068"
POP_ISOLATE: Final = "\u2069"
_TURNING: Final = frozenset(
    ["R", "AL", "AN", "RLE", "RLO", "RLI", "LRE", "LRO", "PDF", "LRI", "FSI"]
)
"""Types that can change the order of what stands beside them, once what is isolated is cut out."""
_ISOLATED: Final = re.compile("[\u2066-\u2068][^\u2066-\u2069\u2029]*\u2069")
"""What stands between a pair of isolating characters with no other pair in it."""
_TEXT_ALONE: Final = ("script", "style", "title", "textarea", "option")
"""Elements that hold text and no markup."""
_TAG: Final = re.compile(r"<(/?)([a-zA-Z][\w-]*)|<!--")
_FIELD: Final = re.compile(
    r'<(?:textarea|input)\b(?![^>]*\bdir=)(?![^>]*\btype="(?!text"|search"|$))'
)
_IN_TAG: Final = re.compile("[\"'>]")
_FILTER: Final = "kept_apart"


def turns(text: str) -> bool:
    """Whether a text holds what is written from right to left, or a character that says so.

    What is isolated in it already turns nothing: it counts for nothing here.
    """
    if text.isascii():
        return False
    return any(bidirectional(letter) in _TURNING for letter in _without_isolated(text))


def _without_isolated(text: str) -> str:
    """A text as its neighbours see it, the innermost pairs of isolating characters cut out first.

    **Source**: Unicode Standard Annex 9, rule P2: what stands between an isolate and its end is
    skipped.
    """
    left = _ISOLATED.sub("", text)
    while left != text:
        text, left = left, _ISOLATED.sub("", left)
    return left


def _direction(text: str) -> str:
    """Which way a text goes as a whole: that of its first strong letter (rules P2 and P3)."""
    for letter in _without_isolated(text):
        if (kind := bidirectional(letter)) in ("L", "R", "AL"):
            return "ltr" if kind == "L" else "rtl"
    return "ltr"


def isolated(text: str) -> str:
    """A text for a place without markup: between isolating characters where it needs them."""
    return f"{FIRST_STRONG_ISOLATE}{text}{POP_ISOLATE}" if turns(text) else text


def in_bdi(value: Any) -> Any:
    """What is shown on a page: in `bdi` where it is a text that needs it, else as it is."""
    if not isinstance(value, str) or isinstance(value, Markup) or not turns(value):
        return value
    if _ISOLATED.search(value):  # HTML's own rule looks into isolates, so the direction is said
        return Markup('<bdi dir="{}">{}</bdi>').format(_direction(value), value)
    return Markup("<bdi>{}</bdi>").format(value)


class OwnWords(Extension):
    """Every value a template shows goes through `in_bdi`, and what is typed in has `dir="auto"`.

    It is done as a template is compiled, so that no template can forget it. Values in tags, and
    in elements that hold text alone, are left as they are.
    """

    def __init__(self, environment: Environment) -> None:
        super().__init__(environment)
        environment.filters[_FILTER] = in_bdi

    def filter_stream(self, stream: Iterable[Token]) -> Iterator[Token]:
        """The tokens of a template, with the filter put behind what is shown."""
        place = Place()
        shown = False
        for token in stream:
            at = token.lineno
            if token.type == "data":
                place.pass_by(token.value)
                yield Token(at, "data", _FIELD.sub(r'\g<0> dir="auto"', token.value))
            elif token.type == "variable_begin" and place.takes_markup:
                shown = True
                yield from (token, Token(at, "lparen", "("))
            elif token.type == "variable_end" and shown:
                shown = False
                yield Token(at, "rparen", ")")
                yield from (Token(at, "pipe", "|"), Token(at, "name", _FILTER), token)
            else:
                yield token


class Place:
    """Where in a page of HTML its text has come to."""

    def __init__(self) -> None:
        self.inside = ""
        """Empty: between elements; `tag`, a quotation mark or `-->`: in those; else an element."""
        self._opened = ""

    @property
    def takes_markup(self) -> bool:
        """Whether markup may stand here."""
        return not self.inside

    def pass_by(self, html: str) -> None:
        """Go on over a piece of the page."""
        at = 0
        while at < len(html):
            at = self._step(html, at)

    def _step(self, html: str, at: int) -> int:
        if not self.inside:
            return self._to_tag(html, at)
        if self.inside == "tag":
            return self._in_tag(html, at)
        ends = self.inside if self.inside in ('"', "'", "-->") else f"</{self.inside}"
        end = html.find(ends, at)
        if end < 0:
            return len(html)
        in_quotes = self.inside in ('"', "'")
        closes = self.inside in _TEXT_ALONE
        self._opened = "" if closes else self._opened
        self.inside = "tag" if in_quotes or closes else ""
        return end + len(ends)

    def _to_tag(self, html: str, at: int) -> int:
        found = _TAG.search(html, at)
        if found is None:
            return len(html)
        if found[2] is None:
            self.inside = "-->"
        else:
            self.inside = "tag"
            self._opened = "" if found[1] else found[2].lower()
        return found.end()

    def _in_tag(self, html: str, at: int) -> int:
        found = _IN_TAG.search(html, at)
        if found is None:
            return len(html)
        if found[0] == ">":
            self.inside = self._opened if self._opened in _TEXT_ALONE else ""
        else:
            self.inside = found[0]
        return found.end()
