"""The page on reading explains every word a reading can carry, in the reader's own words."""

from pathlib import Path

import pytest

from needlewright.cli.read import UNUSABLE
from needlewright.readings.flags import FLAGS, REASONS

PAGE = (Path(__file__).parents[2] / "docs" / "reading.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("word", [*REASONS.values(), *FLAGS.values()], ids=lambda w: w.code)
def test_every_reason_and_flag_is_explained(word: object) -> None:
    assert f"| {word.short} | `{word.code}` | {word.long} |" in PAGE  # type: ignore[attr-defined]


def test_no_word_is_explained_that_is_not_used() -> None:
    rows = [line for line in PAGE.splitlines() if line.startswith("| ") and "` |" in line]
    codes = {line.split("`")[1] for line in rows if line.count("|") == 4}
    answers = {"there", "within", "not_there", "on_stop", "not_read"}
    numbers = {"angle_deg", "u_angle_deg", "value", "u_value", "offset_mm", "flags"}
    assert codes - answers - numbers == {*REASONS, *FLAGS, UNUSABLE} - answers
