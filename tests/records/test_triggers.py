"""What the database itself refuses, whoever asks: tried with plain SQL, past every function."""

import sqlite3
from contextlib import closing

import pytest

from needlewright.records.papers import file_paper, paper_bytes
from records.benches import ANNA, bench, measured_side, received, sqlite_only
from records.kill_worker import paper_document

pytestmark = sqlite_only


@pytest.fixture(scope="module")
def database(tmp_path_factory):
    """A shop with a job, a run and a paper, opened without any of the program's settings."""
    folder = tmp_path_factory.mktemp("shop")
    with bench(folder) as (opened, _):
        received(opened)
        measured_side(opened, "T-77", "found")
        file_paper(opened, "T-77", paper_document("N-1", 1), {".pdf": b"%PDF"}, ANNA)
    with closing(sqlite3.connect(folder / "shop.db")) as connection:
        yield connection


NEVER = [
    ("UPDATE paper SET name = 'x'", "a paper is never changed"),
    ("UPDATE paper SET pdf_sha256 = json_sha256", "a paper is never changed"),
    ("UPDATE OR REPLACE paper SET version = 9", "a paper is never changed"),
    ("DELETE FROM paper", "a paper is never changed"),
    ("INSERT OR REPLACE INTO paper SELECT * FROM paper", "a paper is never changed"),
    (
        "INSERT OR REPLACE INTO paper (job_id, kind, number, version, name, pdf_sha256, "
        "json_sha256, issued, issued_at, person_id) SELECT job_id, kind, number, version, 'other', "
        "pdf_sha256, json_sha256, issued, issued_at, person_id FROM paper",
        "a paper is never changed",
    ),
    ("REPLACE INTO original SELECT * FROM original LIMIT 1", "an original is never changed"),
    ("UPDATE original SET size = 0", "an original is never changed"),
    ("DELETE FROM original", "an original is never changed"),
    ("UPDATE stage_event SET at = '2020-01-01 00:00:00'", "what was done stays written"),
    ("DELETE FROM stage_event", "what was done stays written"),
    ("UPDATE edit SET what = 'x'", "the journal is never changed"),
    ("DELETE FROM edit_value", "the journal is never changed"),
    ("DELETE FROM job", "a job is never removed"),
]


@pytest.mark.parametrize(("statement", "why"), NEVER, ids=[s[:40] for s, _ in NEVER])
def test_what_is_never_changed(database, statement, why):
    counts = count(database)
    with pytest.raises(sqlite3.IntegrityError, match=why):
        database.execute(statement)
    database.rollback()
    assert count(database) == counts


def count(database):
    return [
        database.execute(f"SELECT count(*), group_concat(name) FROM {table}").fetchone()
        for table in ("paper", "person")
    ]


PAPER = (
    "INSERT INTO paper (job_id, kind, number, version, name, replaces_id, replaces_because, "
    "pdf_sha256, json_sha256, issued, issued_at, person_id) SELECT job_id, kind, {number}, "
    "{version}, 'n', {replaces}, {because}, pdf_sha256, json_sha256, issued, issued_at, person_id "
    "FROM paper WHERE id = 1"
)


@pytest.mark.parametrize(
    ("number", "version", "replaces", "because"),
    [
        ("number", 3, 1, "'why'"),  # leaves a version out
        ("'other'", 2, 1, "'why'"),  # of another number
        ("number", 2, 99, "'why'"),  # of a paper that is not there
    ],
)
def test_a_new_version_names_the_one_before_it(database, number, version, replaces, because):
    statement = PAPER.format(number=number, version=version, replaces=replaces, because=because)
    with pytest.raises(sqlite3.IntegrityError, match="names the version before it"):
        database.execute(statement)


@pytest.mark.parametrize(
    ("version", "replaces", "because"), [(2, "NULL", "'why'"), (2, 1, "NULL"), (0, "NULL", "NULL")]
)
def test_a_new_version_has_a_reason(database, version, replaces, because):
    statement = PAPER.format(number="number", version=version, replaces=replaces, because=because)
    with pytest.raises(sqlite3.IntegrityError):
        database.execute(statement)


CHECKS = [
    "UPDATE job SET waits_for = 'rain'",
    "UPDATE job SET stage = 'lunch'",
    "UPDATE job SET odometer_in = -1",
    "UPDATE job SET return_of_id = id",
    "UPDATE job SET odometer_none = 'none', odometer_in = 5",
    "UPDATE received SET face_ok = 0, face_note = ''",
    "UPDATE returned SET law = 'us'",
    "UPDATE returned SET law = 'local', notice_mileage_before = 1, notice_day = '2026-01-01'",
    "UPDATE reading SET angle_deg = NULL",
    "UPDATE reading SET u_angle_deg = -0.1",
    "UPDATE reading SET rejected_at = '2026-01-01 00:00:00'",
    "UPDATE reading SET rejected_at = '2026-01-01 00:00:00', rejected_by_id = 1",
    "UPDATE reading SET status = 'guessed'",
    "UPDATE run_row SET commanded = NULL WHERE approach = 'up'",
    "UPDATE run SET set_aside_at = '2026-01-01 00:00:00'",
    "UPDATE photo SET step = -1",
    "UPDATE photo SET step = 0",  # one photo for each step
    "INSERT INTO shop (id, name, place, law, local_law, odometer_unit, authorised_by, supply, "
    "battery_wait, invented, version) VALUES (2, '', '', 'us', '', 'km', '', '', '', 0, 1)",
]


@pytest.mark.parametrize("statement", CHECKS, ids=[s[:50] for s in CHECKS])
def test_what_the_work_does_not_allow(database, statement):
    with pytest.raises(sqlite3.IntegrityError):
        database.execute(statement)
    database.rollback()


def test_the_paper_is_what_it_was(tmp_path):
    with bench(tmp_path) as (opened, _):
        received(opened)
        file_paper(opened, "T-77", paper_document("N-1", 1), {".pdf": b"%PDF one"}, ANNA)
        again = paper_document("N-1", 2)
        file_paper(opened, "T-77", again, {".pdf": b"%PDF two"}, ANNA)
        assert paper_bytes(opened, "N-1") == b"%PDF one"
        assert paper_bytes(opened, "N-1 version 2") == b"%PDF two"
