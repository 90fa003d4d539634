"""What was saved of a job's findings: said in words, and taken back where it was done."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from needlewright.composing.job_answers import Decision, overrule, take_answers
from needlewright.records.undo import history
from web.sheet_desk import TAG, Desk, desk, words_of

AT = f"/jobs/{TAG}/findings"
ASKED = "answered yes: Does the engine speed gauge read wrong, stand still or jump, at any time?"


@pytest.fixture(scope="module")
def one(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    with desk(Path(tmp_path_factory.mktemp("saved")) / "shop") as opened:
        yield opened


def saved_line(page: str) -> str:
    return page.split('id="saved-line"', 1)[1]


def test_saved_line_and_history_speak_in_words_while_the_journal_keeps_its_codes(
    one: Desk,
) -> None:
    take_answers(one.shop, TAG, "engine: reads_wrong yes")
    assert f"Saved: {ASKED}," in words_of(saved_line(one.get()))
    overrule(one.shop, TAG, Decision("engine", ("needle_offset",), "felt it turn"))
    sheet = one.get()
    decided = "engine speed gauge: decided needle turned on its shaft"
    assert f"Saved: {decided}," in words_of(saved_line(sheet))
    said = words_of(sheet.split('id="history-title"', 1)[1])
    assert decided in said
    assert ASKED in said
    assert "reads_wrong" not in said
    kept = [edit.what for edit in history(one.shop, TAG)][:2]
    assert kept == [
        "opinion on dial 'engine': needle_offset",
        "answer: reads_wrong of dial 'engine' yes",
    ]
