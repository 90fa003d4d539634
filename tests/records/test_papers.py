"""Papers out of the records: what they say, what bars them, and that they stay."""

import json
import shutil
from datetime import date

import pytest

from needlewright.errors import ConflictError, JobError, NotThereError, RecordError
from needlewright.families.packing import packed
from needlewright.proofs.certificate import certify
from needlewright.proofs.job_facts import JobFacts
from needlewright.records import intake, jobs, papers, returning, shop, stages
from needlewright.records.families import load_version
from needlewright.records.measured import measured_run
from needlewright.records.run_readings import reject_reading
from needlewright.records.runs import run_sheet, run_that_counts, set_aside_run
from needlewright.records.sheet import job_sheet
from records.benches import ANNA, BERT, FAMILY_FOLDER, SERVER, bench, jpeg, measured_side, received
from records.kill_worker import paper_document


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """A shop's folder with a job that has both runs, ready for its certificate."""
    folder = tmp_path_factory.mktemp("made")
    make(folder)
    return folder


def make(folder):
    with bench(folder) as (opened, clock):
        shop.add_instrument(opened, "thermometer", "TH-9", "2026-09-30")
        received(opened, max_speed=180)
        measured_side(opened, "T-77", "found")
        clock.days(2)
        jobs.edit_job(opened, "T-77", {"work_done": ["movement replaced"]}, ANNA)
        jobs.use_instruments(opened, "T-77", ["TH-9"], ANNA)
        measured_side(opened, "T-77", "left")
        returning.record_return(opened, "T-77", {"odometer_out": 184213}, ANNA)


@pytest.fixture
def measured(made, tmp_path):
    """A copy of that shop, the day after."""
    if SERVER:
        make(tmp_path)
    else:
        shutil.copytree(made, tmp_path, dirs_exist_ok=True)
    with bench(tmp_path, days=3) as (opened, _):
        yield opened


def issued(opened, asked="certificate", pdf=b"%PDF", **more):
    proven = papers.prove(opened, "T-77", asked, **more)
    files = {".pdf": pdf, "-label.pdf": b"%PDF label"}
    return papers.file_paper(
        opened, "T-77", proven.document, files, ANNA, job_version=proven.job_version
    )


def test_the_facts_are_those_recorded(measured):
    said = papers.facts(measured, "T-77")
    assert said == JobFacts(
        shop="Test Bench",
        place="2 Test Road",
        customer="C. Ustomer",
        vehicle="an invented van",
        max_speed=180,
        tag="T-77",
        serial="S-123",
        family_version=f"version 1, content {packed(FAMILY_FOLDER)[1].content_hash[:12]}",
        condition="two screws missing",
        received=date(2026, 3, 2),
        found_on=date(2026, 3, 2),
        work=date(2026, 3, 4),
        issued=date(2026, 3, 5),
        number="T-77-20260305",
        authorised_by="A. Uthor",
        odometer={"unit": "km", "as_received": 184213, "as_returned": 184213},
        instruments=({"name": "thermometer", "number": "TH-9", "due": date(2026, 9, 30)},),
        work_done=("movement replaced",),
    )


def test_the_proof_is_the_one_the_certify_command_makes(measured):
    proven = papers.prove(measured, "T-77", "certificate")
    family = load_version(measured, job_sheet(measured, "T-77").family_version_id)
    runs = [
        measured_run(measured, run_that_counts(measured, "T-77", side))
        for side in ("found", "left")
    ]
    proof = certify(family, papers.facts(measured, "T-77"), *runs)
    assert proven.document["kind"] == proof.kind == "certificate"
    assert proven.document["why_not"] == list(proof.why_not) == []
    assert [d["dial"] for d in proven.document["dials"]] == [d.dial for d in proof.dials]


def test_a_paper_is_kept_byte_by_byte(measured):
    kept = issued(measured, pdf=b"%PDF the certificate")
    assert (kept.kind, kept.name, kept.version) == ("certificate", "T-77-20260305", 1)
    assert (kept.by, kept.issued) == (ANNA, date(2026, 3, 5))
    assert papers.paper_bytes(measured, kept.name) == b"%PDF the certificate"
    assert papers.paper_bytes(measured, kept.name, "label") == b"%PDF label"
    document = json.loads(papers.paper_bytes(measured, kept.name, "json"))
    assert document["name"] == "T-77-20260305"
    assert document["item"]["serial"] == "S-123"
    assert job_sheet(measured, "T-77").papers == (kept,)


def test_a_correction_is_a_new_version_that_names_the_old(measured):
    issued(measured, pdf=b"%PDF one")
    jobs.edit_job(measured, "T-77", {"remarks": ["lens cracked at the edge"]}, BERT)
    with pytest.raises(RecordError, match="T-77-20260305 was issued on 2026-03-05; say why"):
        issued(measured)
    second = issued(measured, pdf=b"%PDF two", because="a remark was missing")
    assert second.name == "T-77-20260305 version 2"
    assert second.replaces == "T-77-20260305"
    assert second.replaces_because == "a remark was missing"
    document = json.loads(papers.paper_bytes(measured, second.name, "json"))
    assert (document["version"], document["replaces"]) == (2, "T-77-20260305")
    third = issued(measured, because="again", pdf=b"%PDF three")
    assert third.replaces == second.name
    names = [(p.name, p.replaced_by) for p in job_sheet(measured, "T-77").papers]
    assert names == [
        ("T-77-20260305", "T-77-20260305 version 2"),
        ("T-77-20260305 version 2", "T-77-20260305 version 3"),
        ("T-77-20260305 version 3", None),
    ]
    assert papers.paper_bytes(measured, "T-77-20260305") == b"%PDF one"


def test_the_report_as_found_has_its_own_number_and_versions(measured):
    report = issued(measured, "report")
    assert (report.kind, report.name) == ("as_found_report", "T-77-20260305-as-found")
    assert issued(measured).name == "T-77-20260305"
    second = issued(measured, "report", because="read again")
    assert second.name == "T-77-20260305-as-found version 2"
    assert second.replaces == "T-77-20260305-as-found"
    document = json.loads(papers.paper_bytes(measured, second.name, "json"))
    assert document["replaces"] == "T-77-20260305-as-found"


def test_a_failed_speedometer_gets_no_certificate_from_the_records_either(measured):
    left = run_sheet(measured, run_that_counts(measured, "T-77", "left"))
    for photo in left.photos:
        for reading in photo.readings:
            if reading.dial == "speed":
                reject_reading(measured, reading.id, "to be read again", ANNA)
    proven = papers.prove(measured, "T-77", "certificate")
    assert proven.document["kind"] == "not_conforming_report"
    assert not proven.document["issued_as_certificate"]
    assert proven.document["why_not"][0].startswith("Speedometer speed: ")


def test_a_paper_drawn_of_records_that_changed_is_not_issued(measured):
    proven = papers.prove(measured, "T-77", "certificate")
    jobs.edit_job(measured, "T-77", {"owner": "another"}, BERT)
    with pytest.raises(ConflictError, match="was changed while T-77-20260305 was drawn"):
        papers.file_paper(
            measured,
            "T-77",
            proven.document,
            {".pdf": b"%PDF"},
            ANNA,
            job_version=proven.job_version,
        )
    assert job_sheet(measured, "T-77").papers == ()


def test_two_papers_of_one_number_at_once_are_one(measured):
    first, second = (papers.prove(measured, "T-77", "certificate") for _ in range(2))
    papers.file_paper(measured, "T-77", first.document, {".pdf": b"%PDF a"}, ANNA)
    with pytest.raises(ConflictError, match="T-77-20260305 was issued while T-77-20260305 was"):
        papers.file_paper(measured, "T-77", second.document, {".pdf": b"%PDF b"}, BERT)
    assert papers.paper_bytes(measured, "T-77-20260305") == b"%PDF a"


@pytest.mark.parametrize(
    ("save", "says"),
    [
        (lambda s: shop.change_settings(s, {"name": ""}), "the shop's name (settings)"),
        (lambda s: shop.change_settings(s, {"authorised_by": ""}), "who authorises papers"),
        (lambda s: jobs.edit_job(s, "T-77", {"owner": ""}, ANNA), "the owner"),
        (lambda s: jobs.edit_job(s, "T-77", {"vehicle": ""}, ANNA), "the vehicle in words"),
        (lambda s: intake.receive(s, "T-77", {"condition": ""}, ANNA), "the condition it came in"),
        (
            lambda s: intake.receive(s, "T-77", {"odometer_in": None}, ANNA),
            "the mileage as received is not recorded",
        ),
        (
            lambda s: set_aside_run(s, run_that_counts(s, "T-77", "left"), "x", ANNA),
            "there is no run as left",
        ),
    ],
)
def test_what_a_paper_needs_and_is_not_there_is_said(measured, save, says):
    save(measured)
    with pytest.raises(RecordError) as said:
        papers.prove(measured, "T-77", "certificate")
    assert says in str(said.value)
    assert "\n" not in str(said.value)


def test_days_that_contradict_each_other_bar_a_paper(measured):
    with pytest.raises(JobError, match="the days must follow each other"):
        papers.prove(measured, "T-77", "certificate", day=date(2026, 3, 3))


def test_no_mileage_out_no_certificate(measured):
    returning.record_return(measured, "T-77", {"odometer_out": None}, ANNA)
    with pytest.raises(JobError, match="'as_returned' is missing"):
        papers.prove(measured, "T-77", "certificate")


def test_tags_alike_but_for_unusual_characters_have_numbers_of_their_own(tmp_path):
    with bench(tmp_path) as (opened, _):
        names = []
        for number, tag in enumerate(("LH 4/12", "LH-4-12", "LH:4:12")):
            received(opened, tag, serial=None)
            run = measured_side(opened, tag, "found", 100 * (number + 1))
            assert run.name == "as-found"
            proven = papers.prove(opened, tag, "report")
            kept = papers.file_paper(opened, tag, proven.document, {".pdf": b"%PDF"}, ANNA)
            names.append(kept.number)
        assert names == [
            "LH-4-12-20260302-as-found",
            "LH-4-12-20260302.2-as-found",
            "LH-4-12-20260302.3-as-found",
        ]


def test_a_paper_that_is_not_there_and_a_label_that_is_none(measured):
    with pytest.raises(NotThereError, match="there is no paper 'X-1'"):
        papers.paper_bytes(measured, "X-1")
    papers.file_paper(measured, "T-77", paper_document("N-1", 1), {".pdf": b"%PDF"}, ANNA)
    with pytest.raises(RecordError, match="N-1 has no label"):
        papers.paper_bytes(measured, "N-1", "label")


def test_a_damaged_paper_is_not_handed_out(measured):
    kept = issued(measured)
    path = measured.originals.path(kept.pdf_sha256)
    path.chmod(0o644)
    path.write_bytes(b"%PDF forged")
    with pytest.raises(RecordError, match="is not the file that was stored"):
        papers.paper_bytes(measured, kept.name)
    assert shop.check_shop(measured).problems == (
        f"{path}: is not the file that was stored (its SHA-256 differs from its name); put it back "
        "from a backup",
    )


def test_photos_of_the_box_do_not_bar_anything(measured):
    intake.add_job_photo(measured, "T-77", jpeg(5), "x", ANNA, stage="returned", kind="packing")
    assert stages.what_is_missing(measured, "T-77", "returned") == (
        "what goes into the box is not ticked off",
        "the packing is not stated",
        "the carrier is not stated",
        "no certificate or report was issued; certify it, or write a decision why it goes back "
        "without one",
    )
