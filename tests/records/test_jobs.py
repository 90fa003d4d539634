"""Opening jobs and saying things about them; clusters that come again."""

from datetime import date

import pytest

from needlewright.errors import JobError, NotThereError, RecordError
from needlewright.records import jobs, shop
from needlewright.records.families import families, keep_family, load_version
from needlewright.records.runs import run_sheet
from needlewright.records.sheet import job_sheet
from records.benches import ANNA, BERT, FAMILY_FOLDER, bench, measured_side, new, received


@pytest.fixture
def opened(tmp_path):
    with bench(tmp_path) as (one, _):
        yield one


def test_a_new_job_says_what_was_typed(opened):
    sheet = new(opened, promised="2026-03-20", max_speed=180, owner_contact="post box 7")
    assert (sheet.tag, sheet.family, sheet.serial) == ("T-77", "fam-job", "S-123")
    assert sheet.promised == date(2026, 3, 20)
    assert (sheet.max_speed, sheet.odometer_unit, sheet.version) == (180.0, "km", 1)
    assert (sheet.stage, sheet.waits_for) == ("received", "cluster")
    assert [stage.state for stage in sheet.stages] == ["to_do"] * 5


def test_a_tag_is_found_without_regard_to_case_and_taken_only_once(opened):
    new(opened, "Tü-9")
    assert job_sheet(opened, " TÜ-9 ").tag == "Tü-9"
    with pytest.raises(RecordError, match="the tag 'Tü-9' is taken"):
        new(opened, "tü-9")


def test_a_tag_that_is_nearly_one_is_asked_about(opened):
    new(opened)
    with pytest.raises(NotThereError, match="no job with the tag 'T-7'; is 'T-77' meant"):
        job_sheet(opened, "T-7")


@pytest.mark.parametrize(
    ("field", "value", "says"),
    [
        ("tag", "", "tag: expected 1 to 40 printable characters, found ''"),
        ("tag", "x" * 41, "tag: expected 1 to 40"),
        ("tag", "a\0b", "tag: expected 1 to 40"),
        ("promised", "soon", "promised: expected a day such as 2026-03-02, found 'soon'"),
        ("max_speed", -1, "max_speed: expected a number above 0, found -1"),
        ("max_speed", float("nan"), "max_speed: expected a number above 0"),
        ("owner", "x" * 2001, "owner: expected a text of at most 2000"),
        ("owner", "a\ud800b", "owner: expected a text"),
        ("odometer_unit", "leagues", "odometer_unit: expected 'km' or 'mi', found 'leagues'"),
        ("ownr", "x", "the field 'ownr' is not known; known are tag, family"),
    ],
)
def test_a_field_that_cannot_be_used_is_named(opened, field, value, says):
    with pytest.raises(JobError) as said:
        new(opened, **{field: value})
    assert says in str(said.value)
    assert "\n" not in str(said.value)
    with pytest.raises(NotThereError):
        job_sheet(opened, "T-77")


def test_an_unknown_family_names_those_that_are_kept(opened):
    with pytest.raises(RecordError, match="keeps no family 'fam-x'; it keeps 'fam-job'"):
        new(opened, family="fam-x")


def test_who_does_it_must_be_known(opened):
    with pytest.raises(RecordError, match=f"say who does this: '{ANNA}', '{BERT}'"):
        jobs.new_job(opened, {"tag": "X", "family": "fam-job"})
    new(opened)
    with pytest.raises(RecordError, match="nobody named 'Nobody' works in this shop"):
        jobs.add_note(opened, "T-77", "x", "Nobody")
    shop.person_left(opened, BERT)
    assert jobs.add_note(opened, "T-77", "x").notes[0].by == ANNA  # the only one left


def test_a_second_visit_opens_with_the_first_ones_results(opened):
    received(opened, "FIRST")
    measured_side(opened, "FIRST", "found")
    jobs.edit_job(opened, "FIRST", {"work_done": ["movement replaced"]}, ANNA)
    second = new(opened, "SECOND")
    (visit,) = second.visits
    assert (visit.tag, visit.complaint) == ("FIRST", "speedometer sticks at 60")
    assert visit.work_done == ("movement replaced",)
    assert [(run.name, run.photos) for run in visit.runs] == [("as-found", 12)]
    marked = jobs.edit_job(opened, "SECOND", {"return_of": "first"}, BERT)
    assert marked.return_of == "FIRST"
    assert jobs.edit_job(opened, "SECOND", {"return_of": ""}, BERT).return_of is None
    assert new(opened, "THIRD", return_of="FIRST").return_of == "FIRST"


def test_a_return_is_of_the_same_cluster_and_of_an_earlier_job(opened):
    new(opened, "A")
    new(opened, "B", serial="S-999")
    new(opened, "C")
    with pytest.raises(RecordError, match="cannot be a return of A, which is of another cluster"):
        jobs.edit_job(opened, "B", {"return_of": "A"}, ANNA)
    with pytest.raises(RecordError, match="cannot be a return of itself"):
        jobs.edit_job(opened, "A", {"return_of": "A"}, ANNA)
    with pytest.raises(RecordError, match="C was opened after it"):
        jobs.edit_job(opened, "A", {"return_of": "C"}, ANNA)
    with pytest.raises(RecordError, match="another cluster"):
        new(opened, "D", serial="S-1000", return_of="A")
    with pytest.raises(NotThereError):
        job_sheet(opened, "D")


def test_clusters_without_a_serial_are_never_the_same(opened):
    new(opened, "A", serial="")
    assert new(opened, "B", serial=None).visits == ()


def test_a_corrected_serial_finds_the_cluster_it_is(opened):
    new(opened, "A", serial="S-1")
    new(opened, "B", serial="S-l")
    corrected = jobs.edit_job(opened, "B", {"serial": "S-1"}, ANNA)
    assert [visit.tag for visit in corrected.visits] == ["A"]
    again = jobs.edit_job(opened, "B", {"serial": "S-2"}, ANNA)  # A keeps what it said
    assert (again.serial, again.visits) == ("S-2", ())
    assert job_sheet(opened, "A").serial == "S-1"


def test_a_tag_can_be_changed_and_is_searched_by_its_new_name(opened):
    new(opened)
    assert jobs.edit_job(opened, "T-77", {"tag": "T-78"}, ANNA).tag == "T-78"
    new(opened, "T-77")
    with pytest.raises(RecordError, match="taken"):
        jobs.edit_job(opened, "T-77", {"tag": "t-78"}, ANNA)


def test_waiting_notes_decisions_instruments(opened):
    shop.add_instrument(opened, "thermometer", "TH-9", "2026-09-30", "a national institute")
    new(opened)
    jobs.wait_for(opened, "T-77", "owner", ANNA)
    jobs.add_note(opened, "T-77", "the owner calls back", BERT)
    jobs.decide(opened, "T-77", "indicator lamps left", "sound", BERT)
    sheet = jobs.use_instruments(opened, "T-77", ["TH-9"], ANNA)
    assert sheet.waits_for == "owner"
    assert [(n.text, n.by) for n in sheet.notes] == [("the owner calls back", BERT)]
    assert [(d.text, d.why, d.kind) for d in sheet.decisions] == [
        ("indicator lamps left", "sound", "other")
    ]
    assert [(i.number, i.due) for i in sheet.instruments] == [("TH-9", date(2026, 9, 30))]
    assert sheet.version == 5


@pytest.mark.parametrize(
    ("save", "says"),
    [
        (lambda s: jobs.wait_for(s, "T-77", "rain", ANNA), "cannot wait for 'rain'"),
        (lambda s: jobs.add_note(s, "T-77", "  ", ANNA), "the note is empty"),
        (lambda s: jobs.decide(s, "T-77", "x", "", ANNA), "a decision needs what was decided"),
        (lambda s: jobs.use_instruments(s, "T-77", ["N-1"], ANNA), "no instrument number 'N-1'"),
    ],
)
def test_what_says_nothing_is_refused(opened, save, says):
    new(opened)
    with pytest.raises(RecordError, match=says):
        save(opened)
    assert job_sheet(opened, "T-77").version == 1


def test_a_job_names_the_version_of_its_family(opened, tmp_path):
    old = new(opened, "OLD").family_version_id
    folder = tmp_path / "changed"
    folder.mkdir()
    for name in ("family.json", "face.png"):
        (folder / name).write_bytes((FAMILY_FOLDER / name).read_bytes())
    changed = (folder / "family.json").read_text().replace('"fam-job"', '"fam-job"', 1) + "\n"
    (folder / "family.json").write_text(changed)
    kept = keep_family(opened, folder)
    assert kept.version_id != old
    assert [f.version_id for f in families(opened)] == [kept.version_id]
    assert job_sheet(opened, "OLD").family_version_id == old
    assert new(opened, "NEW", serial="S-2").family_version_id == kept.version_id
    assert jobs.edit_job(opened, "OLD", {"family": "fam-job"}, ANNA).family_version_id != old
    assert keep_family(opened, FAMILY_FOLDER).version_id == old  # the same content, chosen again
    assert [f.version_id for f in families(opened)] == [old]


def test_a_family_with_runs_read_by_it_stays(opened, tmp_path):
    received(opened)
    measured_side(opened, "T-77", "found")
    folder = tmp_path / "changed"
    folder.mkdir()
    (folder / "face.png").write_bytes((FAMILY_FOLDER / "face.png").read_bytes())
    (folder / "family.json").write_text((FAMILY_FOLDER / "family.json").read_text() + " ")
    keep_family(opened, folder)
    with pytest.raises(RecordError, match="1 of its runs were read by the family"):
        jobs.edit_job(opened, "T-77", {"family": "fam-job"}, ANNA)


def test_a_stored_family_is_put_together_again_when_somebody_touched_it(opened):
    version = new(opened).family_version_id
    first = load_version(opened, version)
    (first.folder / "family.json").write_text("{}")
    assert load_version(opened, version).name == "fam-job"
    with pytest.raises(NotThereError, match="no version 99"):
        load_version(opened, 99)


def test_ids_and_texts_no_database_can_hold_are_not_there(opened):
    new(opened)
    for number in (0, -1, 10**30):
        with pytest.raises(NotThereError):
            run_sheet(opened, number)
    with pytest.raises(NotThereError, match="no job with the tag"):
        job_sheet(opened, "\ud800")
    with pytest.raises(RecordError):
        jobs.add_note(opened, "T-77", "x", "\ud800")
