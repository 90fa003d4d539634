"""How a form of the sheet is answered: saved and sent on, or shown again with what was typed."""

from collections.abc import Callable, Iterable
from typing import Final

from starlette.responses import Response

from needlewright.errors import NeedlewrightError
from needlewright.records.views import JobSheet
from needlewright.web.pages import Asking
from needlewright.web.posted import SentForm
from needlewright.web.refusals import status_of, wrong_of
from needlewright.web.sheet_view import NOTHING_WRONG, SheetView, WrongAt
from needlewright.web.sheet_words import WORDS

_BLANKS: Final = str.maketrans("", "", " \u00a0\u202f\u2009")


def sheet_page(
    asked: Asking, tag: str, wrong: WrongAt = NOTHING_WRONG, status: int = 200
) -> Response:
    """The job sheet.

    Parameters
    ----------
    asked
        The request.
    tag
        Of the job.
    wrong
        What could not be saved, shown where it was typed.
    status
        Of the answer.

    Returns
    -------
    Response
        The whole page.
    """
    house = asked.house
    view = SheetView(asked.shop, asked.texts, tag, house.bench, house.burn_ins)
    return asked.page("sheet/sheet.html", status, view=view, job=view.job, wrong=wrong, **WORDS)


def saving(
    asked: Asking,
    sent: SentForm,
    tag: str,
    form: str,
    save: Callable[[], JobSheet],
    *,
    anchor: str = "",
) -> Response:
    """Save, and answer.

    Parameters
    ----------
    asked
        The request.
    sent
        What was typed, kept on the page where it cannot be saved.
    tag
        Of the job.
    form
        The form's name on the sheet.
    save
        Saves and gives the sheet as it then is.
    anchor
        Where on the sheet to go on; empty: at the form.

    Returns
    -------
    Response
        A script's error flies and becomes its JSON.
    """
    try:
        job = save()
    except NeedlewrightError as error:
        if asked.is_script:
            raise
        wrong = WrongAt(form, wrong_of(error), dict(sent.fields))
        try:
            return sheet_page(asked, tag, wrong, status_of(error))
        except NeedlewrightError:  # as where a full disk has no room for the family's folder
            raise error from None  # the page of errors keeps what was typed
    return asked.saved(f"{asked.at('/jobs', job.tag)}#{anchor or form}", version=job.version)


def seen(sent: SentForm) -> int | None:
    """The sheet's version the person was looking at."""
    text = sent.text("seen")
    return int(text) if text.isdecimal() and len(text) < 10 else None


def plain_numbers(stated: dict[str, str], names: Iterable[str]) -> dict[str, object]:
    """Fields with the blanks inside their numbers taken out: `771 627` is typed as it is read."""
    numbers = set(names)
    return {
        name: text.translate(_BLANKS) if name in numbers else text for name, text in stated.items()
    }


def box_items(sent: SentForm) -> list[dict[str, object]] | None:
    """What was ticked off, line by line; None where the form had no list."""
    if sent.maybe("items") is None:
        return None
    fields = dict(sent.fields)
    numbers = sorted(
        int(name[5:-5]) for name in fields if name.startswith("item-") and _is_item(name)
    )
    return [
        {
            "what": what,
            "ticked": f"item-{n}-ticked" in fields,
            "note": fields.get(f"item-{n}-note", ""),
        }
        for n in numbers
        if (what := fields[f"item-{n}-what"].strip())
    ]


def _is_item(name: str) -> bool:
    return name.endswith("-what") and name[5:-5].isdecimal() and len(name) < 20
