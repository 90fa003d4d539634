"""What is said before a burn-in: what it does, what it is worth, which lamps it can watch."""

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from needlewright.bench.burn_in.journal import Counts
from needlewright.bench.burn_in.plan import BurnInPlan
from needlewright.composing.burn_in_bench import lamps_beforehand
from needlewright.composing.burn_in_statements import (
    Beforehand,
    beforehand_document,
    best_of,
    shown_document,
)
from needlewright.families.model import Family
from needlewright.papers.wording import id_words
from needlewright.plans.money import rounded


def planned_document(
    planned: BurnInPlan, known: Beforehand, batch: Mapping[str, Any], family: Family
) -> dict[str, Any]:
    """Everything that is said of a burn-in before it begins.

    Parameters
    ----------
    planned
        What is to be done.
    known
        What is known beforehand.
    batch
        As `burn_in_statements.batch_document` gives it.
    family
        The cluster design.

    Returns
    -------
    dict
        As `docs/json/burn-in-plan.schema.json` has it, without the family.
    """
    counts = Counts(powered_s=3600.0 * planned.hours, sweeps=planned.expected_sweeps)
    return {
        "plan": planned.model_dump(mode="json"),
        "sweeps": planned.expected_sweeps,
        "lamps": _lamps(planned, family),
        "beforehand": beforehand_document(known, counts),
        "pays": _pays(known),
        "would_show": shown_document(known, counts, {}, rehearsed=False),
        "batch": dict(batch),
        "cautions": list(planned.cautions),
    }


def _pays(known: Beforehand) -> dict[str, Any] | None:
    best = best_of(known)
    if best is None:
        return None
    saved = str(rounded(Fraction(best.saved), known.currency))
    return {
        "hours": best.hours,
        "saves": saved,
        "currency": known.currency,
        "words": best.words
        if best.hours is None
        else f"{best.words}; they spare {saved} {known.currency} for each unit",
    }


def _lamps(planned: BurnInPlan, family: Family) -> dict[str, Any]:
    found = lamps_beforehand(family, planned)
    words = []
    if not planned.lamps:
        words.append("lamps stay off")
    elif found["watched"]:
        watched = ", ".join(map(id_words, found["watched"]))
        words.append(
            f"lamps watched with every look of a dwell: {watched}; of these only those that the "
            "bench's light does not outshine, which the first look tells"
        )
    else:
        words.append("no lamp of this family has a place on the face, so none is watched")
    if found["by_hand"]:
        by_hand = ", ".join(map(id_words, found["by_hand"]))
        words.append(f"switched on by hand at the start, and left on: {by_hand}")
    if found["no_place"] and found["watched"]:
        nowhere = ", ".join(map(id_words, found["no_place"]))
        words.append(f"not watched, for the family states no centre and reach: {nowhere}")
    return {**{name: list(ids) for name, ids in found.items()}, "words": words}
