"""A plan of a rebuild for tests: of an invented family, with faults that are given."""

from functools import cache
from pathlib import Path
from typing import Any

from needlewright.families.model import Family
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.findings.troubleshooting.model import Knowledge
from needlewright.plans.catalogue.load import load_catalogue
from needlewright.plans.rebuild.findings import findings_from
from needlewright.plans.rebuild.plan import plan_of
from needlewright.plans.rebuild.plan_json import plan_document
from needlewright.plans.rebuild.risks import Life

SLIPS = {("speed", "lost_steps"): 0.95}
"""The speedometer's movement slips."""
WORN = {("engine", "lost_steps"): 0.9}
"""So does that of the engine speed gauge."""


@cache
def _known() -> Knowledge:
    return load_knowledge(None)


def planned(
    family: Family, tag: str, shares: dict[tuple[str, str], float], catalogue: Path | None = None
) -> dict[str, Any]:
    """The document of a plan that cures these."""
    known = _known()
    operations = load_catalogue(known, family, catalogue, None)
    found = findings_from(shares, known, family)
    made = plan_of(found, operations, family, known, Life(14.0, 184_213.0))
    return plan_document(made, operations, invented=True, variant=None, tag=tag)


def option_of(document: dict[str, Any], option: str = "recommended") -> dict[str, Any]:
    """One of its options."""
    return next(one for one in document["options"] if one["id"] == option)
