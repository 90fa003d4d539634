"""The figures of docs/drafting.md are those that benchmarks/draft.py measured."""

import runpy
from pathlib import Path

DOCS = Path(__file__).parents[3] / "docs"


def test_the_figures_of_the_page_are_the_benchmarks():
    made = runpy.run_path(str(DOCS / "make_drafting.py"))
    text = (DOCS / "drafting.md").read_text(encoding="utf-8")
    assert made["filled"](text) == text, "run docs/make_drafting.py"
    assert text.count("| all |") >= 3
