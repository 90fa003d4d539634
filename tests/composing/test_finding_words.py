"""Times and evidence as people read them."""

import pytest

from needlewright.composing import job_evidence
from needlewright.composing.evidence_piece import Piece
from needlewright.composing.finding_model import about
from needlewright.composing.job_findings import job_findings
from needlewright.findings.evidence import Evidence
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
    piece = Piece(Evidence("worse_cold", "temp", 8.0, kept, "cold.json"), kept, "cold.json")
    monkeypatch.setattr(job_evidence, "COLLECTORS", (("a series", lambda _material: [piece]),))
    with bench(tmp_path) as (one, _):
        new(one)
        (seen,) = job_findings(one, "T-77", looks_ahead=0).card("temp").evidence
    assert seen.words == "The coolant temperature gauge slips below -12.5 °C in 3 of 5 runs"
