"""The closed sets of words the records are kept in, each defined once."""

from typing import Final, Literal, get_args

Stage = Literal[
    "received",
    "bench_check",
    "findings",
    "plan",
    "rebuild",
    "needles",
    "burn_in",
    "final_check",
    "returned",
]
"""Parts of the work, in its order; the database knows the later ones already."""

STAGES: Final[tuple[Stage, ...]] = ("received", "bench_check", "needles", "final_check", "returned")
"""The parts a job passes through today, in order."""

STAGE_WORDS: Final[dict[Stage, str]] = {
    "received": "Received",
    "bench_check": "Bench check",
    "findings": "Findings",
    "plan": "Plan",
    "rebuild": "Rebuild",
    "needles": "Needles",
    "burn_in": "Burn-in",
    "final_check": "Final check",
    "returned": "Returned",
}

StageStep = Literal["started", "finished", "reopened", "taken_back"]

WaitsFor = Literal["cluster", "bench", "owner", "parts", "carrier", "nothing"]
"""What a job waits for: the box to arrive, a hand at the bench, the owner's word, parts, the
carrier, or nothing any more."""

PhotoKind = Literal["packing", "damage", "contents", "odometer", "label", "other"]
PhotoStage = Literal["received", "returned"]

UnitCheck = Literal["family", "variant", "face", "connector"]
UNIT_CHECKS: Final[tuple[UnitCheck, ...]] = get_args(UnitCheck)
"""The wrong-unit check: is it the family and variant it should be, the face in km/h or mph that
the vehicle has, the connector that fits."""

UNIT_CHECK_WORDS: Final[dict[UnitCheck, str]] = {
    "family": "family",
    "variant": "variant",
    "face": "km/h or mph face",
    "connector": "connector",
}

RunSide = Literal["found", "left", "other"]
RUN_NAMES: Final[dict[RunSide, str]] = {"found": "as-found", "left": "as-left", "other": "check"}

DecisionKind = Literal["wrong_unit", "no_paper", "other"]
"""`wrong_unit`: work goes on although the wrong-unit check was not ok; `no_paper`: the cluster
goes back without a certificate or report."""

PaperKind = Literal[
    "certificate",
    "certificate_with_exceptions",
    "not_conforming_report",
    "as_found_report",
    "odometer_notice",
]

AnswerSource = Literal["typed", "pasted", "bench"]
"""Where an answer comes from: typed by a person, a text of the owner's that was pasted in, or found
at the bench."""

BurnInState = Literal["under_way", "finished", "stopped", "failed"]
"""How far a burn-in came; one that was cut off is under way until it is gone on with."""

Law = Literal["us", "local"]
"""Which law an odometer's procedure follows: 49 USC 32704(a), or the local one in words."""

MileageUnit = Literal["km", "mi"]

SheetMark = Literal["done", "note", "out", "in", "reading"]
"""What a line of a sheet is marked with: done, a note, how many were counted out or in, what was
read."""

StockMoveKind = Literal["received", "used", "given_back", "counted", "scrapped"]
"""What happens to parts in stock: they come, go into a job, come back out of it, are counted
otherwise than they stood, or are thrown away."""


def one_of(column: str, words: object) -> str:
    """A CHECK clause: the column holds one of a literal type's words, or nothing."""
    listed = ", ".join(f"'{word}'" for word in get_args(words))
    return f"{column} IN ({listed})"
