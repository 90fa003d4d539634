"""Decisions: each has a number of its own, and says it first."""

import re
from pathlib import Path

DECISIONS = sorted((Path(__file__).parents[2] / "docs" / "decisions").glob("*.md"))


def test_every_decision_has_one_number_and_a_heading_that_says_it() -> None:
    numbers = [page.name[:4] for page in DECISIONS]
    assert len(numbers) > 40
    assert len(set(numbers)) == len(numbers)
    firsts = {page.name: page.read_text(encoding="utf-8").partition("\n")[0] for page in DECISIONS}
    wrong = [
        first for name, first in firsts.items()
        if not re.fullmatch(rf"# {name[:4]} [A-Z0-9].*[^.]", first)
    ]  # fmt: skip
    assert wrong == []
