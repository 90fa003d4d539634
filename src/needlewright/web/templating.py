"""Templates: escaped always, people's own words kept apart, strict about names."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined, pass_context
from jinja2.runtime import Context
from markupsafe import Markup

from needlewright import __version__
from needlewright.papers.own_words import OwnWords
from needlewright.papers.wording import (
    hours_words,
    id_words,
    money,
    rehearsal_words,
    sentence_for_people,
    unit_words,
)
from needlewright.web.pages import address
from needlewright.web.posted import TOKEN
from needlewright.web.texts import Texts


def make_templates() -> Environment:
    """The environment every page is drawn in."""
    templates = Environment(
        loader=PackageLoader("needlewright.web"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
        extensions=[OwnWords],
    )
    templates.globals |= {
        "at": address,
        "original": lambda sha256: address("/originals", sha256),
        "token_field": _token_field,
        "version": __version__,
    }
    templates.filters |= {
        "day": _day,
        "near_day": _near_day,
        "unit": unit_words,
        "people": sentence_for_people,
        "hours": hours_words,
        "money": money,
        "named": id_words,
        "rehearsal": rehearsal_words,
        "angle": _angle,
        "moment": _moment,
        "local_day": _local_day,
    }
    return templates


@pass_context
def _token_field(context: Context) -> Markup:
    token = context["asked"].session.form_token
    return Markup('<input type="hidden" name="{}" value="{}">').format(TOKEN, token)


def _names(context: Context) -> Mapping[str, Any]:
    t = context["t"]
    return {"weekdays": t("base.weekdays").split(), "months": t("base.months").split()}


def _angle(angle_deg: float) -> str:
    """An angle to a hundredth of a degree, with a true minus sign."""
    return f"{angle_deg:.2f}°".replace("-", "−")


@pass_context
def _day(context: Context, day: date | None) -> str:
    """A day as people say it: Fri 6 Mar 2026."""
    if day is None:
        return ""
    return _said("base.day", context, day)


def _said(name: str, context: Context, day: date) -> str:
    names = _names(context)
    texts: Texts = context["t"]
    return texts(
        name,
        weekday=names["weekdays"][day.weekday()],
        day=day.day,
        month=names["months"][day.month - 1],
        year=day.year,
    )


@pass_context
def _near_day(context: Context, day: date | None, today: date) -> str:
    """The same, without the year where it is this one."""
    if day is None:
        return ""
    return _said("base.near_day" if day.year == today.year else "base.day", context, day)


@pass_context
def _local_day(context: Context, at: datetime | None) -> str:
    """The day of a moment, where the shop is."""
    return "" if at is None else _day(context, at.astimezone().date())


@pass_context
def _moment(context: Context, at: datetime | None) -> str:
    """A day and the time of day, where the shop is."""
    if at is None:
        return ""
    here = at.astimezone()
    return f"{_day(context, here.date())}, {here:%H:%M}"
