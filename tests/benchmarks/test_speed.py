"""The benchmark's table of speed: what decides, and what is only said."""

from benchmarks.batch_rate import BatchRate
from benchmarks.scoring import Times
from benchmarks.tables import as_document, speed


def rows(batch: BatchRate | None) -> dict[str, list[str]]:
    warm = Times([0.10, 0.12, 0.30], [0.2, 0.2, 0.4])
    table = speed(warm, Times([0.2, 0.6], [0.2, 0.6]), Times([1.5], [1.8]), batch)
    return {name: cells for name, *cells in as_document(table)["rows"]}


def test_processor_time_decides() -> None:
    said = rows(None)
    assert said["median warm photo, s"] == ["0.12", "<= 0.15", "met"]
    assert said["slowest warm photo, s"] == ["0.3", "<= 0.15", "MISSED"]
    assert said["slowest photo of another face, s"] == ["0.6", "<= 0.5", "MISSED"]
    assert said["cold command, s more than a warm photo"] == ["1.38", "<= 2.0", "met"]


def test_two_cores_are_judged_over_one() -> None:
    said = rows(BatchRate(200, one_core_per_s=8.0, two_cores_per_s=14.0, memory_mb=350.0))
    whole = "200 photos, the whole command"
    assert said[f"{whole}: two cores over one"] == ["1.75", ">= 1.7", "met"]
    assert said[f"{whole}: largest process, MB"] == ["350", "<= 400", "met"]


def test_one_core_is_not_judged_over_itself() -> None:
    said = rows(BatchRate(200, one_core_per_s=8.0, two_cores_per_s=None, memory_mb=450.0))
    assert not any("two" in name for name in said)
    assert said["200 photos, the whole command: largest process, MB"][2] == "MISSED"
