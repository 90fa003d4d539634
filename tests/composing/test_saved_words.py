"""Lines of the journal about findings, in words for people."""

import pytest

from needlewright.composing.saved_words import is_of_findings, saved_words
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge

NAMES = {"engine": "engine speed gauge", "fuel": "fuel level gauge"}
WRONG = "Does the engine speed gauge read wrong, stand still or jump, at any time?"


@pytest.mark.parametrize(
    ("kept", "said"),
    [
        ("answer: reads_wrong of dial 'engine' yes", f"answered yes: {WRONG}"),
        ("answer: reads_wrong of dial 'engine' not known", f"answered not known: {WRONG}"),
        ("undo: answer: reads_wrong of dial 'engine' no", f"undo: answered no: {WRONG}"),
        (
            "opinion on dial 'engine': needle_offset",
            "engine speed gauge: decided needle turned on its shaft",
        ),
        ("opinion on dial 'fuel': sound", "fuel level gauge: decided nothing wrong"),
        (
            "opinion on the lamps: lamp_out, lamp_dim",
            "lamps: decided backlight lamp dead, backlight lamps aged",
        ),
        ("answer: hums of dial 'engine' yes", "answer: hums of dial 'engine' yes"),
        ("answer: reads_wrong of dial 'oil' yes", "answer: reads_wrong of dial 'oil' yes"),
        ("3 answers", "3 answers"),
        ("plan 3F2A91C0 accepted: only_failed", "plan 3F2A91C0 accepted: only what failed"),
        (
            "undo: plan 3F2A91C0 accepted: everything",
            "undo: plan 3F2A91C0 accepted: replace everything",
        ),
        ("plan 3F2A91C0 accepted: half", "plan 3F2A91C0 accepted: half"),
        ("run as-found: photo of step 11", "run as-found: photo of step 11"),
    ],
)
def test_a_line_is_said_in_the_knowledge_files_words(kept: str, said: str) -> None:
    assert saved_words(kept, load_knowledge(None), NAMES) == said


def test_only_answers_decisions_and_analyses_are_of_the_findings() -> None:
    of = ("answer: dead of dial 'fuel' no", "12 answers", "opinion on the lamps: sound",
          "analysis light.json")  # fmt: skip
    others = ("run as-found: photo of step 11", "note", "undo: 12 answers", "board: pin 3")
    assert [is_of_findings(one) for one in (*of, *others)] == [True] * 4 + [False] * 4
