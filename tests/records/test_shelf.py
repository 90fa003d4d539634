"""The shelf: sorted, searched, filtered, and quick with ten thousand jobs."""

from datetime import date

import pytest
from sqlalchemy import text

from needlewright.records import intake, jobs, stages
from needlewright.records.shelf import shelf
from records.benches import ANNA, RECEIVED, bench, new, sqlite_only


@pytest.fixture
def opened(tmp_path):
    with bench(tmp_path) as (one, _):
        new(one, "A-1", promised="2026-03-20", owner="Müller", complaint="sticks at 60")
        new(one, "A-2", serial="S-2", promised="2026-03-10", owner="Smith", complaint="DEAD 100%")
        new(one, "B-3", serial="S-3", owner="Jones", vehicle="an invented bus", complaint="noise")
        yield one


def tags(found):
    return [line.tag for line in found.lines]


def test_what_is_promised_first_stands_first_and_no_promise_last(opened):
    found = shelf(opened)
    assert (tags(found), found.count) == (["A-2", "A-1", "B-3"], 3)
    line = found.lines[1]
    assert (line.family, line.owner, line.complaint) == ("fam-job", "Müller", "sticks at 60")
    assert (line.stage, line.waits_for, line.promised) == (
        "received",
        "cluster",
        date(2026, 3, 20),
    )


@pytest.mark.parametrize(
    ("words", "found"),
    [
        ("müller", ["A-1"]),
        ("MÜLLER", ["A-1"]),
        ("a-", ["A-2", "A-1"]),
        ("dead smith", ["A-2"]),
        ("dead jones", []),
        ("s-3", ["B-3"]),
        ("100%", ["A-2"]),
        ("%", ["A-2"]),
        ("_", []),
        ("bus", ["B-3"]),
        ("fam-job", ["A-2", "A-1", "B-3"]),
        ("'; DROP TABLE job", []),
        ("\ud800", []),
        ("  ", ["A-2", "A-1", "B-3"]),
    ],
)
def test_every_word_must_stand_somewhere(opened, words, found):
    assert tags(shelf(opened, words)) == found


def test_filters(opened):
    jobs.wait_for(opened, "A-1", "parts", ANNA)
    intake.receive(opened, "B-3", RECEIVED, ANNA)
    stages.finish_stage(opened, "B-3", "received", ANNA)
    assert tags(shelf(opened, waits_for="parts")) == ["A-1"]
    assert tags(shelf(opened, waits_for="bench")) == ["B-3"]
    assert tags(shelf(opened, stage="bench_check")) == ["B-3"]
    assert tags(shelf(opened, stage="received")) == ["A-2", "A-1"]
    assert shelf(opened, "a-", waits_for="bench").count == 0


def test_what_was_changed_is_found_and_what_it_was_is_not(opened):
    jobs.edit_job(opened, "B-3", {"owner": "Brown", "serial": "S-33"}, ANNA)
    assert tags(shelf(opened, "brown s-33")) == ["B-3"]
    assert tags(shelf(opened, "jones")) == []


def test_parts_of_the_shelf(opened):
    assert tags(shelf(opened, limit=1)) == ["A-2"]
    assert tags(shelf(opened, limit=1, offset=2)) == ["B-3"]
    assert shelf(opened, limit=1).count == 3
    assert tags(shelf(opened, limit=10**30, offset=10**30)) == []


def test_jobs_that_have_left_are_shown_when_asked_for(opened):
    with opened.writing("for the test") as session:
        session.execute(text("UPDATE job SET closed_at = '2026-03-05 12:00:00' WHERE tag = 'A-2'"))
    assert tags(shelf(opened)) == ["A-1", "B-3"]
    assert tags(shelf(opened, returned=True)) == ["A-1", "B-3", "A-2"]


@sqlite_only
def test_the_shelf_asks_by_an_index(opened):
    with opened.reading() as session:
        plan = session.execute(
            text(
                "EXPLAIN QUERY PLAN SELECT tag FROM job WHERE waits_for = 'parts' AND "
                "closed_at IS NULL"
            )
        ).all()
    assert "ix_job_waits_for" in str(plan)
