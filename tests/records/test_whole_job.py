"""One job through all its parts by the functions alone."""

import pytest

from needlewright.errors import RecordError
from needlewright.records import backup, jobs, papers, restore, returning, shop, stages
from needlewright.records.measured import joined
from needlewright.records.opening import open_shop
from needlewright.records.runs import run_that_counts
from needlewright.records.sheet import job_sheet
from records.benches import ANNA, BERT, SERVER, bench, measured_side, received


def test_a_job_from_tag_to_return(tmp_path):
    with bench(tmp_path / "shop") as (opened, clock):
        received(opened)
        measured_side(opened, "T-77", "found")
        stages.finish_stage(opened, "T-77", "bench_check", BERT)
        clock.days(1)
        jobs.edit_job(opened, "t-77", {"work_done": ["movement replaced"]}, BERT)
        stages.finish_stage(opened, "T-77", "needles", BERT)
        measured_side(opened, "T-77", "left")
        stages.finish_stage(opened, "T-77", "final_check", ANNA)
        returning.record_return(
            opened,
            "T-77",
            {
                "odometer_out": 184213,
                "contents": [{"what": "cluster", "ticked": True}],
                "packing": "double box",
                "carrier": "by hand",
            },
            ANNA,
        )
        proven = papers.prove(opened, "T-77", "certificate")
        assert proven.document["number"] == "T-77-20260303"
        assert proven.document["kind"] == "certificate"
        filed = papers.file_paper(
            opened,
            "T-77",
            proven.document,
            {".pdf": b"%PDF one", "-label.pdf": b"%PDF label"},
            ANNA,
            job_version=proven.job_version,
        )
        assert papers.paper_bytes(opened, filed.name) == b"%PDF one"
        sheet = stages.finish_stage(opened, "T-77", "returned", ANNA)
        assert sheet.closed_at is not None
        assert [s.state for s in sheet.stages] == ["finished"] * 5
        found = joined(opened, run_that_counts(opened, "T-77", "found"))
        assert len(found.run.rows) == 48
        assert shop.check_shop(opened).problems == ()
        if SERVER:
            with pytest.raises(RecordError, match="its database is kept elsewhere"):
                backup.backup(opened, tmp_path / "b.zip")
            return
        summary = backup.backup(opened, tmp_path / "b.zip")
    restored = restore.restore(tmp_path / "b.zip", tmp_path / "again")
    assert (restored.jobs, restored.originals) == (1, summary.originals)
    with open_shop(tmp_path / "again") as again:
        assert job_sheet(again, "T-77").papers == sheet.papers
        assert shop.check_shop(again).problems == ()
