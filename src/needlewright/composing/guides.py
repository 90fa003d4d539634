"""Guides and the refit sheet as documents: what commands print, pages show and papers lay out."""

from collections.abc import Iterable, Mapping
from dataclasses import asdict
from functools import cache
from typing import Any

from needlewright.families.model import Family
from needlewright.papers.guide_drawings import DRAWINGS, drawing_title
from needlewright.plans.guides.load import GuideBook, load_guides, shipped_catalogue
from needlewright.plans.guides.made import guide_of, refit_of
from needlewright.plans.guides.model import Counted, Guide, Refit, Step

REFIT = "refit"


@cache
def guide_book() -> GuideBook:
    """Every guide of the program, checked; read once in a process."""
    return load_guides(shipped_catalogue(), DRAWINGS)


def list_document(book: GuideBook | None = None) -> dict[str, Any]:
    """Every guide by name, with what it tells how to do; the refit sheet last."""
    book = book or guide_book()
    guides = [
        {"name": name, "title": one.title, "operations": list(one.operations)}
        for name, one in book.guides.items()
    ]
    refit = {"name": REFIT, "title": book.refit.title, "operations": []}
    return {"guides": [*guides, refit]}


def has_guide(name: str, book: GuideBook | None = None) -> bool:
    """Whether a guide, or an operation that has one, is called so."""
    book = book or guide_book()
    operation = book.catalogue.operation.get(name)
    return name in book.guides or (operation is not None and operation.guide in book.guides)


def guide_document(
    name: str,
    family: Family | None = None,
    book: GuideBook | None = None,
    *,
    of_one_dial: bool = False,
) -> dict[str, Any]:
    """A guide as a document; raises PlanError if there is none of that name."""
    book = book or guide_book()
    guide = guide_of(book, name, family, of_one_dial=of_one_dial)
    return {
        "name": guide.name,
        "title": guide.title,
        "family": guide.family,
        "tag": None,
        "invented": guide.invented,
        "of": f"family {guide.family}" if guide.family else "of any family",
        "called": f"guide {guide.name}",
        "operations": list(guide.operations),
        "see_also": [{"name": one, "title": book.guides[one].title} for one in guide.see_also],
        "cautions": list(guide.cautions),
        "open_first": list(guide.open_first),
        "tools": list(guide.tools),
        "lines": {"fasteners": [], "loose_parts": [], "connectors": []},
        "counted": _counted(guide.counted),
        "close_after": list(guide.close_after),
        "photos": list(guide.photos),
        "readings": False,
        **_shared(guide),
    }


def refit_document(
    family: Family,
    *,
    wait: str | None = None,
    mileage: str | None = None,
    tag: str | None = None,
) -> dict[str, Any]:
    """The refit sheet of a family as a document; raises PlanError if its notes cannot be used."""
    refit = refit_of(guide_book(), family, wait=wait, mileage=mileage, tag=tag)
    return {
        "name": REFIT,
        "title": refit.title,
        "family": refit.family,
        "tag": refit.tag,
        "invented": refit.invented,
        "of": f"family {refit.family}",
        "called": "refit sheet",
        "operations": [],
        "see_also": [],
        "cautions": list(refit.cautions),
        "open_first": [],
        "tools": [],
        "lines": {
            "fasteners": _counted(refit.fasteners),
            "loose_parts": _counted(refit.loose_parts),
            "connectors": _counted(refit.connectors),
        },
        "counted": [],
        "close_after": [],
        "photos": [],
        "readings": True,
        **_shared(refit),
    }


def _shared(sheet: Guide | Refit) -> dict[str, Any]:
    letters = _letters(sheet.steps)
    return {
        "steps": [
            {
                "words": step.words,
                "key": step.key,
                "part": step.part,
                "drawing": letters.get(step.drawing or ""),
                "rows": list(step.rows),
            }
            for step in sheet.steps
        ],
        "drawings": [
            {"letter": letter, "name": name, "alt": drawing_title(name)}
            for name, letter in letters.items()
        ],
        "good": list(sheet.good),
        "checks": [asdict(one) for one in sheet.checks],
        "source": sheet.source,
    }


def _letters(steps: Iterable[Step]) -> Mapping[str, str]:
    """A letter for each drawing, in the order in which steps need them."""
    names = dict.fromkeys(step.drawing for step in steps if step.drawing is not None)
    return {name: chr(ord("A") + n) for n, name in enumerate(names)}


def _counted(lines: Iterable[Counted]) -> list[dict[str, Any]]:
    return [asdict(line) for line in lines]
