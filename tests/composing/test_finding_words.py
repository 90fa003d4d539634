"""Times and evidence as people read them."""

import pytest

from needlewright.composing import job_evidence
from needlewright.composing.evidence_piece import Material, Piece
from needlewright.composing.finding_model import about
from needlewright.composing.job_findings import job_findings
from needlewright.findings.evidence import Evidence
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.records.families import families, load_version
from needlewright.records.sheet import job_sheet
from records.benches import bench, new


@pytest.mark.parametrize(
    ("minutes", "said"),
    [
        (6.4, "about 6 min"),
        (59.4, "about 59 min"),
        (59.6, "about 1 h"),
        (278.0, "about 4 h 40 min"),
        (304.9, "about 5 h"),
    ],
)
def test_a_time_is_said_in_hours_and_tens_of_minutes(minutes: float, said: str) -> None:
    assert about(minutes) == said


def test_evidence_names_the_gauge_and_writes_degrees_as_people_do(tmp_path, monkeypatch) -> None:
    kept = "dial 'temp' slips below -12.5 degC in 3 of 5 runs"
    pieces = [
        Piece(Evidence("worse_cold", "temp", ratio, kept, name), kept, name)
        for ratio, name in ((8.0, "cold.json"), (0.1, "again.json"))
    ]
    monkeypatch.setattr(job_evidence, "COLLECTORS", (("a series", lambda _material: pieces),))
    with bench(tmp_path) as (one, _):
        new(one)
        found = job_findings(one, "T-77", looks_ahead=0)
        material = Material(
            one,
            job_sheet(one, "T-77"),
            load_version(one, families(one)[0].version_id),
            load_knowledge(None),
        )
        collected = job_evidence.collect(material).pieces
    for seen in found.card("temp").evidence:
        assert seen.words == "The coolant temperature gauge slips below −12.5 °C in 3 of 5 runs"
    [said] = found.contradictions
    assert said.count("−12.5 °C") == 2
    # the document keeps the unit of the closed set (docs/conventions.md)
    assert [one.says.words for one in collected if isinstance(one.says, Evidence)] == [kept, kept]
