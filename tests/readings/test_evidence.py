from pathlib import Path

import numpy as np
import pytest

from needlewright.errors import RunError
from needlewright.readings.evidence import (
    NO_EVIDENCE,
    evidence_of,
    evidence_path,
    read_evidence,
    sha256_of,
    write_evidence,
)
from needlewright.readings.model import PhotoReadings, Reading
from needlewright.readings.projection import Projection
from needlewright.readings.runs import Run, RunRow

PROJECTION = Projection(np.array([[4.0, 0, 10], [0, 4, 20], [0, 0.001, 1]]), 0.01, (600, 400), 720)


def photo(path: Path) -> PhotoReadings:
    read = Reading(
        dial="speed",
        status="read",
        unit="km/h",
        angle_deg=10.0,
        u_angle_deg=0.05,
        components_deg=(("fit", 0.03), ("model", 0.04)),
        line_px=((100.123456, 200.0), (300.0, 150.0)),
    )
    refused = Reading("fuel", "refused", "fraction of full", reason="occluded")
    return PhotoReadings(str(path), True, None, (read, refused), PROJECTION)


def run_of(*photos: str) -> Run:
    return Run("r", tuple(RunRow("r", "speed", "km/h", "up", 40.0, photo=p) for p in photos))


def test_what_was_read_comes_back(tmp_path):
    picture = tmp_path / "photos" / "1.jpg"
    picture.parent.mkdir()
    picture.write_bytes(b"a photo")
    evidence = evidence_of(run_of("photos/1.jpg"), [photo(picture)], tmp_path)
    csv = tmp_path / "run.csv"
    write_evidence(evidence_path(csv), evidence)
    back = read_evidence(csv)
    assert evidence_path(csv).name == "run.evidence.json"
    needle = back.needle("photos/1.jpg", "speed")
    assert needle.components_deg == {"fit": 0.03, "model": 0.04}
    assert needle.line_px == ((100.12, 200.0), (300.0, 150.0))
    assert back.needle("photos/1.jpg", "fuel") is None
    assert back.photo("photos/1.jpg").sha256 == sha256_of(picture)
    points = np.array([[10.0, 20.0], [200.0, 90.0]])
    drawn = back.photo("photos/1.jpg").projection.projection.to_photo(points)
    assert drawn == pytest.approx(PROJECTION.to_photo(points))


def test_photos_of_other_runs_are_left_out(tmp_path):
    others = [photo(tmp_path / "1.jpg"), photo(tmp_path / "2.jpg")]
    evidence = evidence_of(run_of("2.jpg", "3.jpg"), others, tmp_path)
    assert [p.photo for p in evidence.photos] == ["2.jpg"]


def test_a_run_is_complete_without(tmp_path):
    assert read_evidence(tmp_path / "typed.csv") == NO_EVIDENCE
    assert NO_EVIDENCE.needle("1.jpg", "speed") is None


@pytest.mark.parametrize(
    "content",
    [
        "",
        "[]",
        '{"photos": 3}',
        '{"photos": [{"photo": "x", "needles": [{"dial": 1}]}]}',
        "[" * 9999,
    ],
)
def test_a_file_that_is_none_is_said(tmp_path, content):
    evidence_path(tmp_path / "run.csv").write_text(content)
    with pytest.raises(RunError, match=r"run\.evidence\.json: cannot be used as the evidence of"):
        read_evidence(tmp_path / "run.csv")


def test_a_folder_that_is_not_there_is_said(tmp_path):
    with pytest.raises(RunError, match="cannot be written"):
        write_evidence(tmp_path / "none" / "run.evidence.json", NO_EVIDENCE)
