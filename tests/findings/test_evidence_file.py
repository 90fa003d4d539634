"""Evidence as JSON, written by one command and read by another."""

import json
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from needlewright.errors import KnowledgeError
from needlewright.findings.evidence import Evidence
from needlewright.findings.evidence_file import (
    evidence_documents,
    parse_evidence,
    read_evidence_file,
)

ROOT = Path(__file__).parents[2]
PIECES = (
    Evidence("creeps_home", "fuel", 12.5, "creeps 4 deg nearer", "run a", 4.0, 0.3, "deg"),
    Evidence("lamp_check_dark", None, 1 / 3, "no zone is dark", "photo b", part="lamp"),
    Evidence("dead", "speed", 1e4, "never moved", "sweep", analysis="sweep"),
)
ONE: dict[str, Any] = {
    "finding": "dead",
    "dial": "fuel",
    "ratio": 3.0,
    "words": "never moved",
    "seen_in": "sweep",
}


def test_what_is_written_is_read_again_and_is_as_the_schema_says(tmp_path: Path) -> None:
    documents = evidence_documents(PIECES)
    schema = json.loads((ROOT / "docs/json/evidence.schema.json").read_text(encoding="utf-8"))
    assert [e.message for e in Draft202012Validator(schema).iter_errors(documents)] == []
    path = tmp_path / "evidence.json"
    for document in (documents, {"family": "other keys", "evidence": documents}):
        path.write_text(json.dumps(document), encoding="utf-8")
        read = read_evidence_file(path)
        assert [one.ratio for one in read] == pytest.approx([12.5, 1 / 3, 1e4], rel=1e-6)
        assert evidence_documents(read) == documents


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"[", "e.json: is no JSON from line 1 on; give the --json of"),
        (b"\xff", "e.json: is no JSON; give the --json of"),
        (b"{}", "e.json: has no list under 'evidence'; give a list"),
        (b"3", "e.json: evidence .*should be a valid list"),
        ([{**ONE, "ratio": 0}], r"e.json: evidence 0.ratio: .* greater than 0, found 0"),
        ([ONE, {**ONE, "ratio": 1e6}], "e.json: evidence 'dead' in sweep: .* lies between 0.0001"),
        ([{**ONE, "ratio": float("nan")}], "evidence 0.ratio: .* finite number"),
        ([{**ONE, "dials": "fuel"}], "evidence 0.dials: there is no such key"),
        ([{k: v for k, v in ONE.items() if k != "words"}], "evidence 0.words: is missing"),
        ([{**ONE, "dial": 3}], "evidence 0.dial: .* valid string, found 3"),
        ([{**ONE, "u_size": -1}], "evidence 0.u_size: .*, found -1"),
        ([ONE] * 1001, "evidence : list should have at most 1000 items"),
    ],
)
def test_what_cannot_be_evidence_is_said_with_its_place(content: Any, said: str) -> None:
    text = content if isinstance(content, bytes) else json.dumps(content).encode()
    with pytest.raises(KnowledgeError, match=said) as refused:
        parse_evidence("e.json", text)
    assert "\n" not in str(refused.value)


def test_a_file_that_is_not_there_or_far_too_long_is_said(tmp_path: Path) -> None:
    with pytest.raises(KnowledgeError, match=r"none\.json: cannot be opened: No such file"):
        read_evidence_file(tmp_path / "none.json")
    (tmp_path / "long.json").write_bytes(b" " * 2_000_001)
    with pytest.raises(KnowledgeError, match="more than 2000000 bytes are no evidence"):
        read_evidence_file(tmp_path / "long.json")


@pytest.mark.parametrize("command", ["explain", "in-vehicle", "light", "sweep"])
def test_what_commands_write_can_be_read(command: str) -> None:
    """Their schemas hold their output to this in their own tests."""
    folder = ROOT / "docs/json"
    read = json.loads((folder / "evidence.schema.json").read_text(encoding="utf-8"))["items"]
    document = json.loads((folder / f"{command}.schema.json").read_text(encoding="utf-8"))
    written = document["properties"]["evidence"]["items"]
    assert set(written["properties"]) <= set(read["properties"])
    assert set(read["required"]) <= set(written["required"])
    assert written["additionalProperties"] is False
