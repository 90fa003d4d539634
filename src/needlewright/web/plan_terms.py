"""What a plan is made for: where each figure is from, and what was typed instead of it."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from needlewright.errors import JobError, UnitError
from needlewright.papers.wording import grouped, mileage, money
from needlewright.plans.catalogue.model import Catalogue
from needlewright.plans.decimal_comma import pointed
from needlewright.plans.money import rounded
from needlewright.records.entries import EARLIEST_YEAR
from needlewright.records.views import JobSheet
from needlewright.units import KM_OF
from needlewright.web.refusals import Wrong
from needlewright.web.sheet_saving import plain_numbers
from needlewright.web.texts import Texts

Document = Mapping[str, Any]
NAMES: Final = ("built", "mileage", "warranty", "horizon", "km_per_year")
NUMBERS: Final = NAMES[1:]
LIMITS: Final = {
    "mileage": (0.0, 5e6),
    "warranty": (0.0, 120.0),
    "horizon": (0.1, 50.0),
    "km_per_year": (1.0, 500_000.0),
}
"""In km, months and years."""
OLDEST: Final = 150
_BUILT: Final = re.compile(r"(\d{4})(-\d{2}(-\d{2})?)?")


@dataclass(frozen=True, slots=True)
class Said:
    """What was typed, understood; None: not stated.

    Parameters
    ----------
    built
        A year, month or day of the records.
    age_years
        Where an age was typed instead.
    mileage_km, warranty_months, horizon_years, km_per_year
        As their names say.
    """

    built: str | None = None
    age_years: float | None = None
    mileage_km: float | None = None
    warranty_months: float | None = None
    horizon_years: float | None = None
    km_per_year: float | None = None


@dataclass(frozen=True, slots=True)
class TermField:
    """One of them on the page."""

    name: str
    words: str
    value: str
    unit: str
    comes: str
    """Where it is from."""
    does: str
    """What it does in the reckoning."""
    wrong: Wrong | None


@dataclass(frozen=True, slots=True)
class TermsView:
    """All of them.

    Parameters
    ----------
    fields
        To be typed into.
    said
        Those the plan was made with, as one sentence's middle; empty without a plan.
    catalogue
        Name of the catalogue a plan would be made with.
    hour, currency
        Its price of an hour.
    """

    fields: tuple[TermField, ...]
    said: str
    catalogue: str
    hour: str
    currency: str


@dataclass(frozen=True, slots=True)
class Typed:
    """What was typed, where it could not be used, and what is wrong with it, by field."""

    text: Mapping[str, str]
    wrong: Mapping[str, Wrong]


def understood(typed: Mapping[str, str], unit: str, today: date, t: Texts) -> Said:
    """Take what was typed.

    Parameters
    ----------
    typed
        By field; what is empty is not stated.
    unit
        Of the mileage, `km` or `mi`.
    today
        Where the shop is.
    t
        The page's texts.

    Returns
    -------
    Said
        With every figure in the plan's units.

    Raises
    ------
    JobError
        Everything that cannot be used, at once; by field what is wrong with it.
    """
    wrong: dict[str, str] = {}
    numbers = plain_numbers(dict(typed), NUMBERS)
    found: dict[str, float | None] = {}
    for name in NUMBERS:
        factor = KM_OF[unit] if name == "mileage" else 1.0
        text = str(numbers.get(name, "")).strip()
        try:
            found[name] = _number(text, LIMITS[name], factor)
        except UnitError as error:
            wrong[name] = t("plan.wrong.two_ways", what=t(f"plan.terms.{name}"), why=str(error))
        except ValueError:
            wrong[name] = _wrong(t, name, text)
    built, age = None, None
    text = typed.get("built", "").strip()
    try:
        built, age = _built(text)
    except (UnitError, ValueError):
        wrong["built"] = _wrong(t, "built", text)
    if built is not None and built > today.isoformat()[: len(built)]:
        wrong["built"] = _wrong(t, "built_coming", built)
    if wrong:
        raise JobError("; ".join(wrong.values()), wrong)
    return Said(
        built,
        age,
        found["mileage"],
        found["warranty"],
        found["horizon"],
        found["km_per_year"],
    )


def _number(text: str, limits: tuple[float, float], factor: float) -> float | None:
    if not text:
        return None
    value = float(pointed(text))
    least, most = limits
    if not least <= value * factor <= most:  # no number is within limits either
        raise ValueError(text)
    return value * factor


def _built(text: str) -> tuple[str | None, float | None]:
    """A year, month or day, else an age."""
    if not text:
        return None, None
    if match := _BUILT.fullmatch(text):
        if int(match[1]) < EARLIEST_YEAR:
            raise ValueError(text)
        date.fromisoformat((text + "-01-01")[:10])
        return text, None
    age = _number(text, (0.0, float(OLDEST)), 1.0)
    return None, age


def _wrong(t: Texts, name: str, given: str) -> str:
    return t(f"plan.wrong.{name}", given=given[:40])


def terms_view(
    t: Texts,
    job: JobSheet,
    document: Document | None,
    catalogue: Catalogue,
    typed: Typed | None = None,
) -> TermsView:
    """Lay the terms out, each with where it is from.

    Parameters
    ----------
    t
        The page's texts.
    job
        With the odometer as received, and when its cluster was built.
    document
        The job's plan; None: none was made.
    catalogue
        A plan would be made with.
    typed
        Where it could not be used; None: nothing was.

    Returns
    -------
    TermsView
        Fields show what was typed, else what the plan was last made with, else the record or the
        catalogue.
    """
    text, wrong = ({}, {}) if typed is None else (typed.text, typed.wrong)
    stored = [
        _built_field(t, job, document),
        _mileage_field(t, job, document),
        *(_catalogue_field(t, document, catalogue, name) for name in CATALOGUE_KEYS),
    ]
    fields = tuple(
        TermField(
            name=name,
            words=t(f"plan.terms.{name}"),
            value=text.get(name, value),
            unit=unit,
            comes=comes,
            does=t(f"plan.terms.why.{name}_does"),
            wrong=wrong.get(name),
        )
        for name, value, unit, comes in stored
    )
    said = "" if document is None else _said(t, document)
    terms = catalogue.terms
    hour = money(str(rounded(terms.hour, terms.currency)))
    return TermsView(fields, said, catalogue.name, hour, terms.currency)


Field = tuple[str, str, str, str]
CATALOGUE_KEYS: Final = {
    "warranty": ("warranty_months", "months"),
    "horizon": ("horizon_years", "years"),
    "km_per_year": ("km_per_year", "km"),
}


def _built_field(t: Texts, job: JobSheet, document: Document | None) -> Field:
    years = None if document is None or document["built"] else document["age_years"]
    if years is not None:
        age = short(years)
        return "built", age, "", t("plan.terms.why.built_plan", years=age)
    if job.built:
        return "built", job.built, "", t("plan.terms.why.built_from", built=job.built)
    return "built", "", "", t("plan.terms.why.built_none")


def _mileage_field(t: Texts, job: JobSheet, document: Document | None) -> Field:
    unit = job.odometer_unit
    shown = "" if job.odometer_in is None else mileage(job.odometer_in, unit)
    recorded = "" if job.odometer_in is None else short(job.odometer_in)
    km = None if document is None else document["mileage_km"]
    if km is not None:
        planned = short(round(km / KM_OF[unit], 1))
        if planned != recorded and shown:
            why = t("plan.terms.why.mileage_plan", shown=shown)
            return "mileage", planned, unit, f"{why} {t('plan.terms.odometer_kept')}"
        if not shown:
            return "mileage", planned, unit, t("plan.terms.why.mileage_none")
    if not shown:
        return "mileage", "", unit, t("plan.terms.why.mileage_none")
    return "mileage", recorded, unit, t("plan.terms.why.mileage_from", shown=shown)


def _catalogue_field(t: Texts, document: Document | None, catalogue: Catalogue, name: str) -> Field:
    key, unit_name = CATALOGUE_KEYS[name]
    unit, terms = t(f"plan.terms.unit.{unit_name}"), catalogue.terms
    own = {
        "warranty": float(terms.warranty_years * 12),
        "horizon": float(terms.horizon_years),
        "km_per_year": float(terms.km_per_year),
    }[name]
    last = own if document is None else float(document[key])
    if last != own:
        why = t("plan.terms.why.last_plan", name=catalogue.name, value=f"{short(own)} {unit}")
    else:
        why = t(f"plan.terms.why.{name}_from", name=catalogue.name)
    return name, short(last), unit, why


def _said(t: Texts, document: Document) -> str:
    years, km = document["age_years"], document["mileage_km"]
    said = [
        t("plan.terms.said.no_age") if years is None else _of(t, "age", years=short(years)),
        t("plan.terms.said.no_mileage") if km is None else _of(t, "mileage", km=grouped(km)),
        _of(t, "warranty", months=short(document["warranty_months"])),
        _of(t, "horizon", years=short(document["horizon_years"])),
        _of(t, "km_per_year", km=grouped(document["km_per_year"])),
    ]
    return ", ".join(said)


def _of(t: Texts, name: str, **values: str) -> str:
    return t(f"plan.terms.said.{name}", **values)


def return_words(t: Texts, document: Document, catalogue: Catalogue | None) -> str:
    """What a return was reckoned with; empty where the plan's catalogue is not the one in use."""
    if catalogue is None or catalogue.sha256 != document["catalogue_sha256"]:
        return ""
    terms = catalogue.terms
    if terms.currency != document["currency"]:
        return ""
    return t(
        "plan.chart.of_return",
        ship=money(rounded(2 * terms.ship_one_way, terms.currency)),
        goodwill=money(rounded(terms.goodwill, terms.currency)),
        currency=terms.currency,
        told=short(float(100 * terms.goodwill_told)),
        catches=short(float(100 * terms.check_catches)),
        watch=short(float(terms.watch_minutes)),
        name=catalogue.name,
    )


def short(value: float) -> str:
    """A number as it was typed: no more digits than it needs, and all of those it has."""
    return f"{value:.10g}"
