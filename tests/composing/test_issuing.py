"""Papers of a stored job, proved, drawn and kept."""

import io
import json

import pypdf
import pytest

from needlewright.composing.issuing import issue, issue_notice
from needlewright.errors import RecordError
from needlewright.records import papers, returning
from needlewright.records.runs import type_run
from needlewright.records.sheet import job_sheet
from proofs.drawn_job import true_run
from records.benches import ANNA, bench, received


def words(pdf: bytes) -> str:
    pages = pypdf.PdfReader(io.BytesIO(pdf)).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def test_a_certificate_is_drawn_and_kept_with_its_label(tmp_path):
    with bench(tmp_path) as (opened, clock):
        received(opened)
        measured_typed(opened, clock)
        kept, document = issue(opened, "T-77", "certificate", ANNA)
        assert kept.kind == document["kind"] == "certificate"
        text = words(papers.paper_bytes(opened, kept.name))
        assert kept.name in text
        assert "S-123" in text
        assert kept.name in words(papers.paper_bytes(opened, kept.name, "label"))
        assert json.loads(papers.paper_bytes(opened, kept.name, "json")) == document


def test_what_cannot_be_issued_leaves_nothing(tmp_path):
    with bench(tmp_path) as (opened, _):
        received(opened)
        with pytest.raises(RecordError, match="there is no run as found"):
            issue(opened, "T-77", "report", ANNA)
        with pytest.raises(RecordError, match="there is nothing to print"):
            issue_notice(opened, "T-77", ANNA)
        assert job_sheet(opened, "T-77").papers == ()


def test_a_notice_is_printed_and_kept(tmp_path):
    with bench(tmp_path) as (opened, _):
        received(opened)
        notice = {"law": "us", "notice_mileage_before": 184213, "notice_day": "2026-03-02"}
        returning.record_return(opened, "T-77", {"odometer_out": 0, **notice}, ANNA)
        kept, _ = issue_notice(opened, "T-77", ANNA)
        assert "184 213 km" in words(papers.paper_bytes(opened, kept.name))
        assert job_sheet(opened, "T-77").papers == (kept,)
        with pytest.raises(RecordError, match="say why a new version replaces it"):
            issue_notice(opened, "T-77", ANNA)


def measured_typed(opened, clock):
    """Both runs without photos, so that no picture has to be drawn on."""
    type_run(opened, "T-77", "found", true_run("as-found"), ANNA)
    clock.days(1)
    type_run(opened, "T-77", "left", true_run("as-left"), ANNA)
    returning.record_return(opened, "T-77", {"odometer_out": 184213}, ANNA)
