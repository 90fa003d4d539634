"""What the sheet's templates say with the help of a function."""

from typing import Any, Final

from needlewright.papers.blocks import SIGNS, Sign
from needlewright.papers.wording import mileage, unit_words
from needlewright.records.views import BoxItemView, JobSheet
from needlewright.web.board_view import board_summary
from needlewright.web.sheet_drawn import drawn_once
from needlewright.web.sheet_papers import file_name, older_paper
from needlewright.web.sheet_pictures import mark_of, strip_of
from needlewright.web.sheet_run_forms import plain
from needlewright.web.sheet_run_view import DialView
from needlewright.web.sheet_view import SheetView
from needlewright.web.sweeps_far import shares
from needlewright.web.texts import Texts

USUAL: Final = ("cluster", "bezel", "screws", "plugs", "letter")


def sign_of(code: str) -> Sign:
    """The shape that stands with a verdict."""
    return SIGNS.get(code, "none")


def strip_mark(view: DialView) -> str:
    """Changes with what a dial's strip shows."""
    return mark_of(strip_of(view))


def usual_box(t: Texts) -> tuple[BoxItemView, ...]:
    """What usually belongs in a box, nothing ticked."""
    return tuple(BoxItemView(t(f"sheet.box.usual.{what}"), False, "") for what in USUAL)


def box_out(job: JobSheet, t: Texts) -> tuple[BoxItemView, ...]:
    """What should go back: what came in."""
    came = tuple(item for item in job.received.contents if item.ticked)
    return tuple(BoxItemView(i.what, False, "") for i in came) or usual_box(t)


def expected_of(view: SheetView, what: str) -> str:
    """What the right unit would show, beside each part of the wrong-unit check."""
    t, family = view.t, view.family
    if what == "family":
        dials = ", ".join(dial.id for dial in family.dials)
        return t("sheet.check.expected.family", family=family.name, dials=dials)
    if what == "variant":
        return _expected_variant(view)
    if what == "face":
        units = [dial.unit for dial in family.dials if dial.is_speedometer]
        known = "face" if units else "no_speedometer"
        return t(f"sheet.check.expected.{known}", unit=", ".join(units))
    return t("sheet.check.expected.connector")


def _expected_variant(view: SheetView) -> str:
    t, variants = view.t, view.family.variants
    if not variants:
        return t("sheet.check.expected.no_variants")
    known = next((v for v in variants if v.id == view.job.variant), None)
    if known is None:
        return t("sheet.check.expected.variant_open")
    said = f"{known.id}: {known.told_apart_by}" if known.told_apart_by else known.id
    return t("sheet.check.expected.variant", variant=said)


WORDS: Final[dict[str, Any]] = {
    "plain": plain,
    "mileage_words": mileage,
    "unit_words": unit_words,
    "sign_of": sign_of,
    "strip_mark": strip_mark,
    "drawn_once": drawn_once,
    "usual_box": usual_box,
    "box_out": box_out,
    "expected_of": expected_of,
    "paper_file": file_name,
    "older_paper": older_paper,
    "shares": shares,
    "board_summary": board_summary,
}
