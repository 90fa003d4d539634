"""Every text of the page, in one place for each language: `language/<code>/*.toml`.

A text is found by the name of its file and its path in it: `shelf.title`. Texts with a count
have forms, of which the value `n` chooses one.
"""

import tomllib
from collections.abc import Iterator, Mapping
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from string import Formatter
from typing import Any, Final

from needlewright.amounts import thin_groups
from needlewright.papers.own_words import isolated

DEFAULT: Final = "en"
FORMS: Final = {"one", "many"}
SCRIPT: Final = "script"
"""Group of a file whose texts scripts use."""


class _Formatter(Formatter):
    """Puts values in; thousands in thin groups and people's own words apart, as everywhere."""

    def format_field(self, value: Any, format_spec: str) -> str:
        """One value."""
        said = isolated(super().format_field(value, format_spec))
        return str(thin_groups(said) if format_spec.startswith(",") else said)


_FORMATTER: Final = _Formatter()


class Texts:
    """The texts of one language.

    Parameters
    ----------
    code
        The language, as browsers name it.
    texts
        By full name; a text, or its forms.
    """

    def __init__(self, code: str, texts: Mapping[str, str | Mapping[str, str]]) -> None:
        self.code = code
        self._texts = texts

    @property
    def names(self) -> frozenset[str]:
        """All there are."""
        return frozenset(self._texts)

    def __call__(self, name: str, /, **values: Any) -> str:
        """A text, with values put in.

        Parameters
        ----------
        name
            Such as `shelf.title`.
        values
            For the places in braces; `n` chooses the form.

        Returns
        -------
        str
            For people; it is not escaped.

        Raises
        ------
        KeyError
            If there is no such text, or a value is missing.
        """
        text = self._texts[name]
        if not isinstance(text, str):
            text = text["one" if values["n"] == 1 else "many"]
        return _FORMATTER.vformat(text, (), values) if values else text

    def has(self, name: str) -> bool:
        """Whether there is a text of that name."""
        return name in self._texts

    def for_scripts(self, *groups: str) -> dict[str, str | Mapping[str, str]]:
        """The texts of `<group>.script`, named without `script`."""
        found: dict[str, str | Mapping[str, str]] = {}
        for group in groups:
            start = f"{group}.{SCRIPT}."
            found |= {
                f"{group}.{name.removeprefix(start)}": text
                for name, text in self._texts.items()
                if name.startswith(start)
            }
        return found


@cache
def languages() -> tuple[str, ...]:
    """Codes of the languages there are, the default one first."""
    folder = files("needlewright.web") / "language"
    codes = sorted(one.name for one in folder.iterdir() if one.is_dir() and one.name[0] != "_")
    return (DEFAULT, *(code for code in codes if code != DEFAULT))


@cache
def texts_in(code: str = DEFAULT) -> Texts:
    """The texts of a language.

    Parameters
    ----------
    code
        One of `languages`.

    Returns
    -------
    Texts
        Read once.
    """
    return Texts(code, dict(_read(files("needlewright.web") / "language" / code)))


def language_wanted(accept: str) -> str:
    """The language to answer in.

    Parameters
    ----------
    accept
        The browser's `Accept-Language`.

    Returns
    -------
    str
        The first it names that there is, else the default.
    """
    wanted: list[tuple[float, str]] = []  # sorting is stable: equals stay in the order named
    for part in accept.split(",")[:20]:
        name, _, weight = part.partition(";q=")
        try:
            wanted.append((-float(weight or 1), name.strip().lower().split("-")[0]))
        except ValueError:
            continue
    known = languages()
    ranked = sorted(wanted, key=lambda one: one[0])
    return next((code for _, code in ranked if code in known), DEFAULT)


def _read(folder: Traversable) -> Iterator[tuple[str, str | Mapping[str, str]]]:
    for file in sorted(folder.iterdir(), key=lambda one: one.name):
        if file.name.endswith(".toml"):
            table = tomllib.loads(file.read_text(encoding="utf-8"))
            yield from _flat(file.name.removesuffix(".toml"), table)


def _flat(prefix: str, table: Mapping[str, Any]) -> Iterator[tuple[str, str | Mapping[str, str]]]:
    for key, value in table.items():
        name = f"{prefix}.{key}"
        if isinstance(value, str) or set(value) == FORMS:
            yield name, value
        else:
            yield from _flat(name, value)
