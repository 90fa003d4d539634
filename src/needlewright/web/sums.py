"""The sums of the workbench on the page: one page each, worked out as it is typed into."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import groupby, zip_longest
from typing import Any, Final

from fastapi import APIRouter
from markupsafe import Markup, escape
from starlette.responses import HTMLResponse, Response

from needlewright.composing.sums import drawing
from needlewright.errors import NotThereError, SumError
from needlewright.plans.sums.bench_units import for_people, same_quantity
from needlewright.plans.sums.catalogue import SUMS, sum_named
from needlewright.plans.sums.model import Amount, Answered, Choice, Input, Line, Pasted, Sum
from needlewright.plans.sums.recorded_text import text_of
from needlewright.plans.sums.typed import work_out, wrong_inputs
from needlewright.plans.sums.wording import figure_words, limit, range_words
from needlewright.web.pages import Asked, Asking, Tag
from needlewright.web.posted import Sent
from needlewright.web.refusals import Wrong, wrong_of

WRONG: Final = 422
POWER: Final = re.compile(r"\^(\((?:[^()]|\([^()]*\))*\)|[\w.−]+)")
router = APIRouter()


@dataclass(frozen=True, slots=True)
class Worked:
    """A sum with what was typed into it: its answer, or what is wrong."""

    sum: Sum[Any]
    typed: Mapping[str, str]
    answered: Answered[Any] | None
    drawing: Markup
    wrong: Mapping[str, Wrong]
    """By input; under an empty name what is wrong with several together."""

    @property
    def opened(self) -> tuple[str, ...]:
        """The inputs that are not to be hidden: what was typed into, and what is wrong."""
        typed = (name for name, value in self.typed.items() if value.strip())
        return (*typed, *self.wrong)

    @property
    def is_pasted(self) -> bool:
        """Whether it takes a text that is too long for an address."""
        return any(isinstance(one, Pasted) for one in self.sum.inputs)


@router.get("/sums", response_class=HTMLResponse)
def shelf_of_sums(asked: Asked) -> Response:
    """Every sum, and what it is for."""
    return asked.page("sums.html", sums=SUMS)


@router.get("/sums/{name}", response_class=HTMLResponse)
def show(asked: Asked, name: Tag) -> Response:
    """A sum, worked out with what the address says and the defaults for the rest."""
    return _page(asked, name, dict(asked.request.query_params))


@router.post("/sums/{name}", response_class=HTMLResponse)
def show_pasted(asked: Asked, sent: Sent, name: Tag) -> Response:
    """The same for sums that take a text; nothing is kept.

    A long text comes as a file, because a field is only taken as long as a person types.
    """
    files = {key: text_of(file.content()) for key, file in sent.all_files}
    return _page(asked, name, dict(sent.fields) | files)


def _page(asked: Asking, name: str, fields: Mapping[str, str]) -> HTMLResponse:
    try:
        which = sum_named(name)
    except SumError as error:
        raise NotThereError(str(error)) from None
    names = {one.name for one in which.inputs}
    worked = worked_out(which, {key: value for key, value in fields.items() if key in names})
    return asked.page(
        "sum.html",
        WRONG if worked.wrong else 200,
        sums=SUMS,
        worked=worked,
        which=which,
        groups=_groups(which),
        field_of=_field,
        figure_words=figure_words,
        range_words=range_words,
        powers=powers,
    )


def _groups(which: Sum[Any]) -> list[tuple[str, list[Input]]]:
    """The inputs in their order, those of one group together under its title."""
    parted = groupby(which.inputs, lambda one: one.group if isinstance(one, Amount) else "")
    return [(title, list(inputs)) for title, inputs in parted]


def worked_out(which: Sum[Any], typed: Mapping[str, str]) -> Worked:
    """A sum worked out of what was typed, or what is wrong with each input.

    Parameters
    ----------
    which
        The sum.
    typed
        By the names of its inputs.

    Returns
    -------
    Worked
        For the page.
    """
    wrong = {name: wrong_of(error) for name, error in wrong_inputs(which, typed).items()}
    if wrong:
        return Worked(which, typed, None, Markup(""), wrong)
    try:
        answered = work_out(which, typed)
    except SumError as error:
        return Worked(which, typed, None, Markup(""), {_beside(which, error): wrong_of(error)})
    return Worked(which, typed, answered, Markup(drawing(answered)), {})


def _beside(which: Sum[Any], error: SumError) -> str:
    """The input beside which a sentence belongs: the one it begins with; empty where none is."""
    said = str(error)
    for one in which.inputs:
        heads = [f"{words}{part}" for words in (one.words, one.name.upper()) for part in (":", ",")]
        if said.startswith(tuple(heads)):
            return one.name
    return ""


def powers(formula: str) -> Markup:
    """A formula with what follows a `^` raised; everything else as it is, escaped."""
    parts = POWER.split(formula)
    raised = (
        Markup("<sup>{}</sup>").format(part[1:-1] if part[0] == "(" else part)
        for part in parts[1::2]
    )
    return Markup("").join(
        piece for pair in zip_longest(map(escape, parts[::2]), raised) for piece in pair if piece
    )


@dataclass(frozen=True, slots=True)
class Field:
    """An input as the page shows it."""

    kind: str
    value: str
    unit: str = ""
    limits: str = ""
    units: str = ""
    choices: tuple[tuple[str, str], ...] = ()


def _field(one: Input, typed: Mapping[str, str]) -> Field:
    given = typed.get(one.name)
    if isinstance(one, Choice):
        return Field("choice", given or one.default, choices=one.choices)
    if isinstance(one, Pasted):
        return Field("pasted", one.example if given is None else given)
    if isinstance(one, Line):
        return Field("line", one.example if given is None else given)
    default = "" if one.default is None else f"{one.default:g}"
    unit = for_people(one.unit)
    others = [for_people(symbol) for symbol in same_quantity(one.unit)] if one.unit else []
    return Field(
        "amount",
        default if given is None else given,
        unit,
        f"{limit(one.least)} to {limit(one.most)}",
        ", ".join(others[1:]),
    )
