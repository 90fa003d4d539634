"""The guide for the first cluster, followed as it is written."""

import json
import re
import runpy
from importlib.resources import files
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


def test_the_marks_measured_by_hand_lie_within_a_tenth_of_a_degree():
    guide = (DOCS / "first-cluster.md").read_text(encoding="utf-8")
    typed = re.search(r"^```json my-cluster/family.json\n(.*?)^```$", guide, re.M | re.S)
    drawn = files("needlewright") / "demo_data" / "family" / "family.json"
    true = {dial["id"]: dial for dial in json.loads(drawn.read_text(encoding="utf-8"))["dials"]}
    marks = [
        (angle - true_angle, value - true_value)
        for dial in json.loads(typed.group(1))["dials"]
        for (value, angle), (true_value, true_angle) in zip(
            dial["scale"], true[dial["id"]]["scale"], strict=True
        )
    ]
    assert len(marks) == 21
    assert {value for _, value in marks} == {0}
    assert max(abs(angle) for angle, _ in marks) < 0.1
