"""The shop itself: settings, people, instruments."""

from datetime import date

import pytest

from needlewright.errors import FamilyError, JobError, NotThereError, RecordError
from needlewright.records import shop
from needlewright.records.families import keep_family
from records.benches import ANNA, BERT, bench


@pytest.fixture
def opened(tmp_path):
    with bench(tmp_path) as (one, _):
        yield one


def test_settings_stay_until_they_are_changed(opened):
    shop.change_settings(opened, {"supply": "13.5 V", "invented": True})
    said = shop.settings(opened)
    assert (said.name, said.supply, said.invented, said.law) == ("Test Bench", "13.5 V", True, "us")
    with pytest.raises(JobError, match="the field 'colour' is not known"):
        shop.change_settings(opened, {"colour": "red"})


def test_people_come_leave_and_come_back(opened):
    with pytest.raises(RecordError, match="'Anna Invented' works in this shop already"):
        shop.add_person(opened, "anna  invented")
    shop.person_left(opened, BERT)
    assert [(p.name, p.has_left) for p in shop.people(opened)] == [(ANNA, False), (BERT, True)]
    shop.add_person(opened, BERT)
    assert [p.has_left for p in shop.people(opened)] == [False, False]
    with pytest.raises(RecordError, match="nobody named 'Carl'"):
        shop.person_left(opened, "Carl")
    with pytest.raises(JobError, match="name: expected a text in one line, found ''"):
        shop.add_person(opened, "")


def test_instruments_with_number_and_due_date(opened):
    shop.add_instrument(opened, "thermometer", "TH-9", "2026-09-30", "a national institute")
    with pytest.raises(RecordError, match="an instrument number 'TH-9' is there already"):
        shop.add_instrument(opened, "another", "TH-9")
    changed = shop.change_instrument(opened, "TH-9", {"due": "2027-09-30", "number": "TH-10"})
    assert (changed.number, changed.due) == ("TH-10", date(2027, 9, 30))
    assert changed.traceable_to == "a national institute"
    shop.add_instrument(opened, "meter", "M-1")
    with pytest.raises(RecordError, match="'M-1' is there already"):
        shop.change_instrument(opened, "TH-10", {"number": "M-1"})
    with pytest.raises(NotThereError, match="known are M-1, TH-10"):
        shop.change_instrument(opened, "X", {})
    with pytest.raises(JobError, match="due: expected a day"):
        shop.add_instrument(opened, "x", "y", "soon")
    shop.change_instrument(opened, "M-1", {"retired": True})
    assert [i.number for i in shop.instruments(opened)] == ["TH-10", "M-1"]


def test_a_folder_that_is_no_family_is_not_kept(opened, tmp_path):
    with pytest.raises(FamilyError):
        keep_family(opened, tmp_path / "none")


def test_what_is_gone_is_found(opened):
    assert shop.check_shop(opened).originals == 2  # the family's two files
    next((opened.folder / "originals").glob("??/*.png")).unlink()
    (problem,) = shop.check_shop(opened).problems
    assert "is not there; put it back from a backup" in problem
