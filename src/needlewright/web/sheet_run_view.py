"""A run as the sheet shows it: its steps with their photos, its dials with their rows."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final, Literal

from needlewright.composing.judged import JudgedDial, Side
from needlewright.composing.overlays import reason_words
from needlewright.errors import NeedlewrightError
from needlewright.papers.blocks import SIGNS, Sign
from needlewright.papers.dial_blocks import dial_title, notes_under, rule_words
from needlewright.papers.wording import (
    number,
    places_for,
    plus_minus,
    sentence_for_people,
    short,
    unit_words,
)
from needlewright.records.opening import Shop
from needlewright.records.views import ReadingView, RunPhotoView, RunSheet, ToldView
from needlewright.rules.decision import COVERAGE_K
from needlewright.web.sheet_measured import judged_runs, whole_run
from needlewright.web.texts import Texts

StepState = Literal["wanted", "waiting", "read", "partly", "not_read", "problem"]
SPEAKS_AT: Final = "not_judged"


@dataclass(frozen=True, slots=True)
class StepView:
    """One step of a run: what was told, and its photo."""

    number: int
    approach: str
    told: tuple[tuple[str, str], ...]
    """Dial and what it was told, with its unit."""
    photo: RunPhotoView | None
    state: StepState
    words: str


@dataclass(frozen=True, slots=True)
class RowView:
    """One row of a dial's table."""

    index: int
    """In the run, among the dial's rows."""
    told: str
    approach: str
    allowed: str
    shown: str
    error: str
    code: str
    sign: Sign
    words: str
    step: int | None
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class DialView:
    """One dial of a run, judged; equal to itself alone, so that what is drawn of it can be kept."""

    dial: str
    title: str
    rule: str
    code: str
    sign: Sign
    words: str
    summary: str
    rows: tuple[RowView, ...]
    found: tuple[RowView | None, ...]
    """Beside each row, the same point as found; empty where there is no other run."""
    notes: tuple[str, ...]
    judged: JudgedDial


@dataclass(frozen=True, slots=True)
class RunView:
    """A run with everything the sheet shows of it."""

    sheet: RunSheet
    side: Side
    typed: bool
    steps: tuple[StepView, ...]
    dials: tuple[DialView, ...]
    remarks: tuple[str, ...]
    unread: int
    wrong: str
    """Why nothing can be judged; empty: it can."""

    @property
    def wanted(self) -> tuple[StepView, ...]:
        """Steps that want a photo."""
        return tuple(step for step in self.steps if step.state == "wanted")

    @property
    def again(self) -> tuple[StepView, ...]:
        """Steps whose photo told nothing."""
        return tuple(step for step in self.steps if step.state in ("not_read", "problem"))

    @property
    def stopped(self) -> bool:
        """Whether the photos that are not read yet are left so."""
        return self.sheet.reading_stopped_at is not None

    @property
    def read(self) -> int:
        """Photos somebody has looked at."""
        return sum(photo.read_at is not None for photo in self.sheet.photos)


def run_view(
    shop: Shop,
    t: Texts,
    side: Side,
    run: RunSheet,
    other: RunSheet | None = None,
    *,
    max_speed: float | None,
    typed: bool,
    overdue: Sequence[str] = (),
) -> RunView:
    """Gather a run for the sheet.

    Parameters
    ----------
    shop
        The shop.
    t
        The page's texts.
    side
        Which side the run is of.
    run
        The run.
    other
        The run as found, beside one as left.
    max_speed
        The vehicle's maximum design speed.
    typed
        Whether it was typed in without photos.
    overdue
        What is to be said of instruments overdue when it was taken.

    Returns
    -------
    RunView
        As far as it has come.
    """
    steps = tuple(_steps(t, run, typed=typed))
    unread = sum(photo.read_at is None for photo in run.photos)
    dials: tuple[DialView, ...] = ()
    remarks: tuple[str, ...] = ()
    wrong = ""
    try:
        sides: dict[Side, RunSheet] = {} if other is None else {"found": other}
        judged = judged_runs(shop, {**sides, side: run}, max_speed)
        dials = _dial_views(judged, side)
        remarks = whole_run(shop, run).remarks
    except NeedlewrightError as error:
        wrong = str(error)
    return RunView(run, side, typed, steps, dials, (*remarks, *overdue), unread, wrong)


def told_words(row: ToldView) -> str:
    """What a dial was told, for people; empty at rest."""
    if row.commanded is None:
        return ""
    return f"{short(row.commanded)} {unit_words(row.unit)}"


def _steps(t: Texts, run: RunSheet, *, typed: bool) -> Iterator[StepView]:
    photos = {photo.step: photo for photo in run.photos}
    told: dict[int, list[ToldView]] = {}
    for row in run.told:
        told.setdefault(row.step, []).append(row)
    for step in sorted({*told, *photos}):
        rows = told.get(step, [])
        photo = photos.get(step)
        state, words = _step_state(t, photo, typed=typed)
        if state == "waiting" and run.reading_stopped_at is not None:
            words = t("runs.step.stopped")
        approach = rows[0].approach if rows else ""
        said = tuple((row.dial, told_words(row)) for row in rows if row.commanded is not None)
        yield StepView(step, approach, said, photo, state, words)


def _step_state(t: Texts, photo: RunPhotoView | None, *, typed: bool) -> tuple[StepState, str]:
    if photo is None:
        return ("read", t("runs.step.typed")) if typed else ("wanted", t("runs.step.wanted"))
    if photo.rejected_why is not None:
        return "partly", t("runs.step.photo_rejected", why=photo.rejected_why)
    if photo.problem:
        return "problem", photo.problem
    if photo.read_at is None:
        return "waiting", t("runs.step.waiting")
    if not photo.found:
        return "not_read", t("runs.step.not_read", why=photo.advice or reason_words(photo.reason))
    lacking = [_lacking(t, reading) for reading in photo.readings if _is_lacking(reading)]
    return ("partly", "; ".join(lacking)) if lacking else ("read", t("runs.step.read"))


def _is_lacking(reading: ReadingView) -> bool:
    return reading.status == "refused" or reading.rejected_at is not None


def _lacking(t: Texts, reading: ReadingView) -> str:
    if reading.rejected_at is not None:
        return t("runs.step.rejected", dial=reading.dial, why=reading.rejected_why or "")
    return t("runs.step.dial_not_read", dial=reading.dial, why=reason_words(reading.reason))


@lru_cache(maxsize=32)
def _dial_views(judged: tuple[JudgedDial, ...], side: Side) -> tuple[DialView, ...]:
    return tuple(_dial_view(one, side) for one in judged)


def _dial_view(judged: JudgedDial, side: Side) -> DialView:
    document, verdict = judged.document, judged.side(side)
    assert verdict is not None
    rows = _row_views(document, side, verdict.rows)
    found: tuple[RowView | None, ...] = ()
    if side == "left" and judged.found is not None:
        before = _row_views(document, "found", judged.found.rows)
        pairs = {left: at for at, left in document["pairs"] if left is not None}
        found = tuple(None if (at := pairs.get(row.index)) is None else before[at] for row in rows)
    rule = document["rule"]
    return DialView(
        dial=judged.dial.id,
        title=dial_title(document),
        rule="" if rule is None else rule_words(rule),
        code=verdict.code,
        sign=SIGNS[verdict.code],
        words=document[side]["words"],
        summary=sentence_for_people(verdict.summary),
        rows=rows,
        found=found,
        notes=notes_under(document, side),
        judged=judged,
    )


def _row_views(
    document: Mapping[str, Any], side: Side, verdicts: Sequence[Any]
) -> tuple[RowView, ...]:
    rows = document[side]["rows"]
    places = places_for(
        row["expanded"]
        for one in ("found", "left")
        if document[one] is not None
        for row in document[one]["rows"]
        if row["basis"] != "rest"
    )
    unit = unit_words(document["unit"])
    return tuple(
        RowView(
            index=i,
            told="" if row["commanded"] is None else short(row["commanded"]),
            approach=row["approach"],
            allowed=allowed_words(row, places),
            shown=_shown(row, verdict.row.u_indicated, places, unit),
            error=error_words(row, places),
            code=row["code"],
            sign=SIGNS[row["code"]],
            words=row["words"].split(":")[0] if row["code"] == SPEAKS_AT else row["words"],
            step=verdict.row.step,
            notes=tuple(map(sentence_for_people, row["notes"])),
        )
        for i, (row, verdict) in enumerate(zip(rows, verdicts, strict=True))
    )


def allowed_words(row: Mapping[str, Any], places: int) -> str:
    """What may be shown, as the papers' tables say it."""
    low, high = row["lower"], row["upper"]
    if row["basis"] == "rest" and low is not None and high is not None:
        return f"± {number((high - low) / 2, 1)}°"
    if low is None and high is None:
        return "–"
    if low is None:
        return f"≤ {number(high, places)}"
    if high is None:
        return f"≥ {number(low, places)}"
    return f"{number(low, places)} to {number(high, places)}"


def _shown(row: Mapping[str, Any], u_shown: float | None, places: int, unit: str) -> str:
    if row["shown"] is None:
        return ""
    expanded = None if u_shown is None else COVERAGE_K * u_shown
    return f"{plus_minus(row['shown'], expanded, places)} {unit}"


def error_words(row: Mapping[str, Any], places: int) -> str:
    """How far off, as the papers' tables say it."""
    deviation, expanded = row["deviation"], row["expanded"]
    if deviation is None:
        return ""
    if row["basis"] == "rest":
        return plus_minus(deviation, expanded, 1, signed=True) + "°"
    return plus_minus(deviation, expanded, places, signed=True)
