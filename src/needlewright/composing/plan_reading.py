"""A plan's document as it is read today, whenever it was kept.

Plans are kept whole and never changed, so a shop's records hold documents of every form there was.
What a later form added is told here as not known; nobody else asks whether a key is there.
"""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, Final

from needlewright.records.views import PlanView

Document = Mapping[str, Any]
OF_PLAN: Final[Document] = {
    "catalogue": "",
    "catalogue_sha256": "",
    "variant": None,
    "tag": None,
    "built": None,
    "weak_points": (),
    "vehicle": (),
    "switches": (),
    "notes": (),
    "nearly_even": None,
    "most_left": None,
    "looks": (),
}
OF_OPTION: Final[Document] = {
    "any_return": None,
    "operations": (),
    "parts": (),
    "left": (),
    "unfinished": (),
    "cautions": (),
    "steps": (),
}
OF_STEP: Final[Document] = {
    "dial": None,
    "minutes": None,
    "u_minutes": None,
    "reasons": (),
    "parts": (),
    "cautions": (),
    "guide": None,
    "operation": None,
}
OF_DECISION: Final[Document] = {
    "faults": (),
    "wears": (),
    "by": (),
    "along_with": None,
    "barred": (),
    "looks": (),
    "due": None,
    "caution": None,
}
OF_POINT: Final[Document] = {"learned": None, "lives": None}


def read_document(document: Document) -> dict[str, Any]:
    """A plan's document with every key of today's form.

    Parameters
    ----------
    document
        As it was kept.

    Returns
    -------
    dict
        To be shown; it is no document to be kept, its number is that of what was kept.
    """
    found = {**OF_PLAN, **document}
    options = [{**OF_OPTION, **one} for one in found["options"]]
    for option in options:
        option["steps"] = [{**OF_STEP, **one} for one in option["steps"]]
    return {
        **found,
        "options": options,
        "decisions": [{**OF_DECISION, **one} for one in found["decisions"]],
        "weak_points": [{**OF_POINT, **one} for one in found["weak_points"]],
    }


def read_plan(plan: PlanView) -> PlanView:
    """A job's plan with its document as `read_document` gives it."""
    return replace(plan, document=read_document(plan.document))
