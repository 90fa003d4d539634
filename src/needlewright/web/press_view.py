"""Needles onto new movements as the page shows them: orders, numbers, what stands behind them."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite

from markupsafe import Markup

from needlewright.amounts import grouped
from needlewright.composing.job_press import (
    DialSet,
    JobPress,
    job_press,
    landed_words,
    movement_runs,
)
from needlewright.composing.needle_press import press_lines
from needlewright.composing.press_drawn import press_drawing
from needlewright.errors import NeedlewrightError
from needlewright.findings.wording import share_words
from needlewright.papers.wording import (
    number,
    sentence_for_people,
    short,
    unit_words,
    with_degree_signs,
)
from needlewright.plans.pressing.hand import HandSpread, tip_deg
from needlewright.plans.pressing.landed import Landed
from needlewright.plans.pressing.press import Press
from needlewright.records.opening import Shop
from needlewright.records.views import JobSheet
from needlewright.rules.decision import COVERAGE_K
from needlewright.web.texts import Texts


@dataclass(frozen=True, slots=True)
class PressOnSheet:
    """What the sheet says of needles onto new movements."""

    found: JobPress | None = None
    """None: there is no run of them, or nothing can be planned."""
    trouble: str = ""
    """Why it cannot; empty where there is no run."""

    @property
    def chance(self) -> str:
        """That every dial passes, in words; empty where of one of them nothing is expected."""
        if self.found is None or self.found.chance is None or self.found.unknown:
            return ""
        return share_words(self.found.chance)

    @staticmethod
    def line(one: DialSet) -> str:
        """What is to be done with one needle, or what came of it."""
        if one.landed is not None:
            return people(landed_words(one.landed))
        if one.planned.press is None:
            return people(one.planned.trouble or "")
        order = people(press_lines(one.planned)[0])
        if one.planned.press.verdict != "press":
            return order
        return f"{order}; expected pass {share_words(one.planned.press.pass_probability)}"


def press_on_sheet(shop: Shop, job: JobSheet) -> PressOnSheet:
    """Work out what the sheet says.

    Parameters
    ----------
    shop
        The shop.
    job
        Its sheet.

    Returns
    -------
    PressOnSheet
        What cannot be worked out is a sentence, and the sheet stands without it.
    """
    if not movement_runs(job):
        return PressOnSheet()
    try:
        return PressOnSheet(job_press(shop, job.tag))
    except NeedlewrightError as error:
        return PressOnSheet(None, str(error))


@dataclass(frozen=True, slots=True)
class Figure:
    """One number of a needle, with what stands behind it."""

    words: str
    said: str
    why: str


@dataclass(frozen=True, slots=True)
class RowRoom:
    """What one row of the final check leaves a needle."""

    words: str
    room: str
    stray: str


@dataclass(frozen=True, slots=True)
class AsSet:
    """One needle as it was pressed, in the table."""

    dial: str
    intended: str
    achieved: str
    off: str
    before: str
    now: str
    advice: str
    is_good: bool


@dataclass(frozen=True, slots=True)
class DialView:
    """One dial on the page."""

    one: DialSet
    verdict: str
    order: str
    figures: tuple[Figure, ...]
    rows: tuple[RowRoom, ...]
    doubts: tuple[str, ...]
    drawing: Markup

    @property
    def came(self) -> str:
        """What came of its pressing; empty: it was not pressed by this run."""
        return "" if self.one.landed is None else people(landed_words(self.one.landed))

    @property
    def stays(self) -> bool:
        """Whether it was pressed and nothing more is to be done with it."""
        came = self.one.landed
        return came is not None and came.advice == "stays" and came.press.verdict == "press"

    @property
    def id(self) -> str:
        """Of the dial."""
        return self.one.dial.id


def dial_views(t: Texts, found: JobPress) -> tuple[DialView, ...]:
    """Every dial of the run.

    Parameters
    ----------
    t
        The page's texts.
    found
        The plan of the job.

    Returns
    -------
    tuple of DialView
        In the family's order.
    """
    return tuple(_dial_view(t, one) for one in found.dials)


def _dial_view(t: Texts, one: DialSet) -> DialView:
    press = one.planned.press
    if press is None:
        trouble = with_degree_signs(sentence_for_people(one.planned.trouble or ""))
        return DialView(one, "none", trouble, (), (), (), Markup(""))
    return DialView(
        one,
        press.verdict,
        people(press_lines(one.planned)[0]),
        _figures(t, one, press),
        tuple(_row(window.name, window.low_deg - press.rise_deg, window.high_deg - press.rise_deg,
                   window.stray_deg) for window in press.judged),
        tuple(people(doubt) for doubt in press.doubts),
        Markup(press_drawing(one)),
    )  # fmt: skip


def people(clause: str) -> str:
    """A clause of the sums as a sentence of the page."""
    said = with_degree_signs(sentence_for_people(clause))
    return f"{said[:1].upper()}{said[1:]}"


def _row(name: str, low: float, high: float, stray: float) -> RowRoom:
    ends = [
        f"{number(end, 2, signed=True)}°" if isfinite(end) else word
        for end, word in ((low, "–"), (high, "–"))
    ]
    return RowRoom(sentence_for_people(name), f"{ends[0]} … {ends[1]}", f"{number(stray, 2)}°")


def _figures(t: Texts, one: DialSet, press: Press) -> tuple[Figure, ...]:
    at, unit = press.reference, unit_words(press.unit)
    figures = [
        Figure(
            t("press.figure.drive"),
            f"{short(at.value)} {unit}, {t('press.way.' + at.approach)}",
            t("press.why.drive"),
        ),
        Figure(
            t("press.figure.angle"),
            f"{number(at.press_deg, 2)}° = {at.press_value:.4g} {unit}",
            t(
                "press.why.angle",
                shaft=number(at.shaft_deg, 2),
                turn=number(press.turn_deg, 2, signed=True),
                angle=number(at.press_deg, 2),
                aim=t(f"press.aimed.{press.aimed}"),
            ),
        ),
        Figure(t("press.figure.room"), _room(t, press), t("press.why.room")),
        Figure(
            t("press.figure.spread"),
            f"{number(at.spread_deg, 2)}°",
            t(
                "press.why.spread",
                hand=number(at.hand_deg, 2),
                seen=number(at.seen_deg, 2),
                whole=number(at.spread_deg, 2),
                tip=number(tip_deg(one.dial), 2),
                tips=f"{press.hand.planned_tips:.2g}",
            ),
        ),
        Figure(
            t("press.figure.pass"),
            share_words(press.pass_probability),
            t(
                "press.why.pass",
                trials=f"{100 * press.trialled.probability:.1f}",
                u=f"{100 * COVERAGE_K * press.trialled.u_probability:.1f}",
                count=grouped(press.trialled.trials),
            ),
        ),
        Figure(
            t("press.figure.doubtless"),
            share_words(press.no_doubt_probability),
            t("press.why.doubtless"),
        ),
    ]
    if press.margin is not None:
        figures.insert(
            3,
            Figure(
                t("press.figure.margin"),
                sentence_for_people(f"{press.margin.size:+.2g} {unit}"),
                t("press.why.margin", at=sentence_for_people(press.margin.at.row.name),
                  side=t(f"press.side.{press.margin.side}")),
            ),
        )  # fmt: skip
    if press.low_probability is not None:
        figures.append(
            Figure(t("press.figure.low"), share_words(press.low_probability), t("press.why.low"))
        )
    return tuple(figures)


def _room(t: Texts, press: Press) -> str:
    said = [
        f"{number(room, 2)}° {t('press.room.' + side)}"
        for room, side in zip(press.room_deg, ("below", "above"), strict=True)
        if isfinite(room)
    ]
    return ", ".join(said) or t("press.room.none")


def hand_words(t: Texts, hand: HandSpread) -> str:
    """Whose hand the plan counts with, and how truly it presses."""
    if hand.is_default:
        return t("press.hand.default", tips=f"{hand.sd_tips:g}", n=hand.count)
    return t(
        "press.hand.own",
        tips=f"{hand.sd_tips:.2f}",
        u=f"{COVERAGE_K * (hand.u_tips or 0.0):.2f}",
        bias=f"{hand.bias_tips:+.2f}".replace("-", "−"),
        count=hand.count,
    )


def as_set(found: JobPress) -> tuple[AsSet, ...]:
    """Those that were pressed by this run, in the family's order."""
    return tuple(_as_set(one, one.landed) for one in found.dials if one.landed is not None)


def _as_set(one: DialSet, came: Landed) -> AsSet:
    side = "above" if came.off_deg >= 0 else "below"
    tips = abs(one.dial.tip_widths(came.off_deg))
    expanded = COVERAGE_K * came.u_deg
    return AsSet(
        dial=one.dial.id,
        intended=f"{number(came.press.reference.press_deg, 2)}°",
        achieved=f"{number(came.achieved_deg, 2)} ± {number(expanded, 2)}°",
        off=f"{number(abs(came.off_deg), 2)}° = {tips:.1f} tip widths {side}",
        before=share_words(came.press.pass_probability),
        now=share_words(came.pass_probability),
        advice=people(landed_words(came)),
        is_good=came.advice == "stays" and came.press.verdict == "press",
    )


def press_again(found: JobPress) -> Sequence[str]:
    """Dials whose needle is to be pressed once more."""
    return [one.dial.id for one in found.dials if one.landed and one.landed.advice != "stays"]
