"""The coverage benchmark: its arithmetic on needles made by hand, and one drawn photo read."""

import csv
import json
from dataclasses import replace
from pathlib import Path

import pytest
from benchmarks.drawn_photos import DrawnNeedle, draw_missing, face_folder, read_faces, write_csv
from benchmarks.scoring import Needle
from benchmarks.tables import as_document

from benchmarks import coverage_tables as tables
from needlewright.rehearsal.photo_set import TRUTH_FILE, draw_set

NEEDLE = Needle("drawn-0001", "0001/001.jpg", "speed", ("clean",), "read", "", 10.0, 100.0)
PARTS = (("fit", 0.06), ("pitch", 0.08))


def drawn(angle_deg: float | None, tag: str = "clean", **changes: object) -> DrawnNeedle:
    needle = replace(NEEDLE, tags=(tag,), angle_deg=angle_deg, **changes)  # type: ignore[arg-type]
    read = angle_deg is not None
    needle = replace(needle, u_deg=0.1 if read else None, reason=None if read else "occluded")
    return DrawnNeedle(needle, 1, 1.0, 5.0, PARTS if read else ())


def rows_of(title: str, needles: list[DrawnNeedle]) -> dict[str, list[str]]:
    document = next(
        d for d in map(as_document, tables.report(needles)) if d["title"].startswith(title)
    )
    return {row[0]: row[1:] for row in document["rows"]}


def test_the_gate_counts_misses_faces_and_conditions() -> None:
    needles = [drawn(10.0)] * 93 + [drawn(10.3)] * 7 + [drawn(10.1, "jpeg")] * 50
    met = {line.what: (line.reached, line.met) for line in tables.verdict_of(needles)}
    assert met["needles read"] == ("150", False)
    assert met["faces"] == ("1", False)
    assert met["read and more than 1 deg off"] == ("0", True)
    assert met["coverage of the stated 95 % interval"] == ("95.3 % of 150", True)
    assert met["coverage, clean"] == ("93.0 % of 100", True)
    assert met["coverage, jpeg"] == ("100.0 % of 50", False)


def test_too_narrow_is_missed_too_and_so_is_a_silent_error() -> None:
    needles = [drawn(10.0)] * 89 + [drawn(11.5)] * 11
    met = {line.what: (line.reached, line.met) for line in tables.verdict_of(needles)}
    assert met["read and more than 1 deg off"] == ("11", False)
    assert met["coverage, clean"] == ("89.0 % of 100", False)


def test_what_holds_has_its_exact_interval() -> None:
    # none of 100 missed: the lower end is 0.025 ** (1 / 100) (Clopper and Pearson 1934)
    row = rows_of("per condition", [drawn(10.05)] * 100)["clean"]
    assert row[:3] == ["100", "100", "100.0 %"]
    assert row[8:11] == ["100", "100.0 %", "96 to 100 %"]


def test_errors_in_units_of_the_stated_uncertainty() -> None:
    needles = [drawn(10.0 + 0.001 * k) for k in range(101)]
    rows = rows_of("|error| / u", needles)
    assert rows["all"] == ["101", "0.50", "0.68", "0.90", "0.95", "0.99", "1.0"]
    assert rows["normal law"][1:6] == ["0.67", "1.00", "1.64", "1.96", "2.58"]


def test_shares_of_the_components_are_of_the_squares() -> None:
    rows = rows_of("what the stated", [drawn(10.0), drawn(None)])
    assert rows == {"fit": ["0.0600", "36.0 %"], "pitch": ["0.0800", "64.0 %"]}


def test_refusals_by_reason_and_half_clear_needles() -> None:
    hidden = {"duty": "either", "why": "partly covered"}
    needles = [drawn(None), drawn(None, "jpeg"), drawn(10.0, **hidden)]
    needles += [replace(drawn(None, **hidden), visible_fraction=share) for share in (0.5, 0.49)]
    assert rows_of("clear needles refused", needles) == {"occluded": ["1", "1", "2", "2"]}
    assert rows_of("needles not wholly clear", needles) == {
        "partly covered, half or more clear": ["2", "1", "1", "0"],
        "partly covered, less than half clear": ["1", "0", "1", "0"],
    }


def test_the_furthest_off_come_first() -> None:
    table = tables.worst([drawn(10.1), drawn(9.6), drawn(None)], 1)
    (row,) = as_document(table)["rows"]
    assert row[:7] == ["0001/001.jpg", "speed", "clean", "-0.400", "0.100", "4.0", "100"]


def test_a_line_of_csv_for_each_needle(tmp_path: Path) -> None:
    write_csv(tmp_path / "needles.csv", [drawn(10.25), drawn(None)])
    with (tmp_path / "needles.csv").open(encoding="utf-8") as file:
        read, refused = csv.DictReader(file)
    assert float(read["error_deg"]) == pytest.approx(0.25)
    assert (read["fit_deg"], read["pitch_deg"]) == ("0.06", "0.08")
    assert (refused["fit_deg"], refused["reason"]) == ("", "occluded")


def test_a_drawn_face_is_read_with_its_truth(tmp_path: Path) -> None:
    """One photo at half size; faces that are there already are not drawn again."""
    seed, told = 61, []
    draw_set(tmp_path / f"{seed:04d}", count=1, seed=seed, size_px=(1000, 667))
    draw_missing(tmp_path, [seed], 1, lambda: told.append("drawn"))
    needles = list(read_faces(tmp_path, [seed], 1, lambda: told.append("read")))
    assert told == ["read"]
    truth = json.loads((face_folder(tmp_path, seed) / TRUTH_FILE).read_text(encoding="utf-8"))
    (entry,) = truth["photos"]
    assert {d.needle.dial: d.needle.truth_deg for d in needles} == {
        dial: said["true_angle_deg"] for dial, said in entry["dials"].items()
    }
    for d in needles:
        assert d.condition == "clean"
        assert d.needle.error_deg is not None
        assert abs(d.needle.error_deg) < 0.5
        squares = sum(u * u for _, u in d.components_deg)
        assert squares == pytest.approx(d.needle.u_deg**2, rel=1e-12)  # type: ignore[operator]
