"""The guide for the first cluster, followed as it is written."""

import re
import runpy
from pathlib import Path

DOCS = Path(__file__).parents[2] / "docs"


def without_numbers(text: str) -> list[str]:
    """What a page says apart from its numbers, which may move in their last digits."""
    return re.sub(r"[-+−]?\d[\d.]*", "#", re.sub(r" +", " ", text)).splitlines()


def test_the_guide_says_what_the_program_answers(tmp_path):
    guide = (DOCS / "first-cluster.md").read_text(encoding="utf-8")
    assert "```text\n```" not in guide
    follow = runpy.run_path(str(DOCS / "follow_guide.py"))["followed"]
    followed = follow(guide, tmp_path, short=True)
    assert without_numbers(guide) == without_numbers(followed), "run docs/follow_guide.py"
    papers = {path.name for path in (tmp_path / "papers").iterdir()}
    number = "EX-0412-20260306"
    assert {f"{number}.pdf", f"{number}.json", f"{number}-label.pdf"} < papers
    assert "EX-0413-20260306-label.pdf" not in papers
