"""Backup and restore: everything or nothing, checked on both ways."""

import json
import shutil
import sqlite3
import zipfile
from contextlib import closing

import pytest

from needlewright.errors import RecordError
from needlewright.records import answers, jobs, opinions, papers, shop
from needlewright.records.backup import backup
from needlewright.records.migrations import REVISIONS
from needlewright.records.opening import open_shop
from needlewright.records.restore import restore
from needlewright.records.sheet import job_sheet
from records.benches import ANNA, bench, jpeg, measured_side, new, received, sqlite_only
from records.kill_worker import paper_document

pytestmark = sqlite_only


@pytest.fixture(scope="module")
def saved(tmp_path_factory):
    """A shop's folder and a backup of it."""
    place = tmp_path_factory.mktemp("place")
    with bench(place / "shop") as (opened, _):
        received(opened)
        measured_side(opened, "T-77", "found")
        answers.answer(opened, "T-77", [answers.Given("reads_wrong", True, "fuel")], ANNA)
        decided = opinions.Decided(("dragging",), "felt it", {"sound": 0.4}, "fuel")
        opinions.give_opinion(opened, "T-77", decided, ANNA)
        papers.file_paper(opened, "T-77", paper_document("N-1", 1), {".pdf": b"%PDF"}, ANNA)
        backup(opened, place / "b.zip")
    return place


def test_what_comes_back_is_what_was_there(saved, tmp_path):
    summary = restore(saved / "b.zip", tmp_path / "again")
    files = {p.name for p in (saved / "shop" / "originals").glob("??/*")}
    assert summary.jobs == 1
    assert summary.originals == len(files) == 28  # 12 photos, 12 overlays, 2 of the family, a paper
    assert {p.name for p in (tmp_path / "again" / "originals").glob("??/*")} == files
    with open_shop(saved / "shop") as one, open_shop(tmp_path / "again") as other:
        assert job_sheet(one, "T-77") == job_sheet(other, "T-77")
        assert len(job_sheet(other, "T-77").answers + job_sheet(other, "T-77").opinions) == 2
        assert shop.people(one) == shop.people(other)
        assert papers.paper_bytes(other, "N-1") == b"%PDF"
        assert shop.check_shop(other).problems == ()
        jobs.add_note(other, "T-77", "work goes on", ANNA)


def test_the_list_holds_the_hash_of_every_file(saved):
    with zipfile.ZipFile(saved / "b.zip") as archive:
        manifest = json.loads(archive.read("manifest.json"))
        assert archive.namelist()[-1] == "manifest.json"
        assert {f["name"] for f in manifest["files"]} == {*archive.namelist()} - {"manifest.json"}
    assert manifest["format"] == "needlewright backup 1"


def test_the_shop_goes_on_while_a_backup_is_made(tmp_path):
    with bench(tmp_path / "shop") as (opened, _):
        new(opened)
        with opened.writing("something long") as session:
            session.execute(jobs.select(jobs.Job)).all()
            backup(opened, tmp_path / "b.zip")
    assert restore(tmp_path / "b.zip", tmp_path / "again").jobs == 1


def test_nothing_is_ever_written_over(saved, tmp_path):
    with open_shop(saved / "shop") as opened:
        with pytest.raises(RecordError, match="is there already; name a new file"):
            backup(opened, saved / "b.zip")
        with pytest.raises(RecordError, match="there is no folder"):
            backup(opened, tmp_path / "no" / "b.zip")
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "photo.jpg").write_bytes(b"mine")
    with pytest.raises(RecordError, match="is not empty; a backup is restored into a new"):
        restore(saved / "b.zip", tmp_path / "full")
    assert [p.name for p in (tmp_path / "full").iterdir()] == ["photo.jpg"]
    with pytest.raises(RecordError, match="is a file; name a new folder"):
        restore(saved / "b.zip", tmp_path / "full" / "photo.jpg")
    (tmp_path / "empty").mkdir()
    assert restore(saved / "b.zip", tmp_path / "empty").jobs == 1


def refused(file, tmp_path):
    before = sorted(p.name for p in tmp_path.iterdir())
    with pytest.raises(RecordError) as said:
        restore(file, tmp_path / "again")
    assert sorted(p.name for p in tmp_path.iterdir()) == before
    assert "\n" not in str(said.value)
    return str(said.value)


@pytest.mark.parametrize("share", [0.0, 0.001, 0.3, 0.7, 0.99, 0.9999])
def test_a_backup_cut_short_is_refused(saved, tmp_path, share):
    whole = (saved / "b.zip").read_bytes()
    cut = tmp_path / "cut.zip"
    cut.write_bytes(whole[: int(len(whole) * share)])
    assert "cannot be used as a backup of a shop" in refused(cut, tmp_path)


def test_a_flipped_byte_anywhere_is_found_or_changes_nothing(saved, tmp_path):
    """An archive has bytes that say nothing, as the time of a file; all others are found."""
    whole = (saved / "b.zip").read_bytes()
    restore(saved / "b.zip", tmp_path / "right")
    right, found = contents(tmp_path / "right"), 0
    places = range(40, len(whole), len(whole) // 60)
    for place in places:
        file = tmp_path / "broken.zip"
        file.write_bytes(whole[:place] + bytes([whole[place] ^ 0xFF]) + whole[place + 1 :])
        try:
            restore(file, tmp_path / "again")
        except RecordError:
            assert not (tmp_path / "again").exists()
            found += 1
            continue
        assert contents(tmp_path / "again") == right
        shutil.rmtree(tmp_path / "again")
    assert found > 0.9 * len(places)


def contents(folder):
    return {p.relative_to(folder): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def rewritten(saved, target, change):
    """The backup with its parts changed by `change(name, content)`; None leaves one out."""
    with zipfile.ZipFile(saved / "b.zip") as source, zipfile.ZipFile(target, "w") as made:
        for name in source.namelist():
            for new_name, content in change(name, source.read(name)) or ():
                made.writestr(new_name, content)
    return target


def test_an_exchanged_original_is_found(saved, tmp_path):
    def exchange(name, content):
        return [(name, jpeg(999) if name.endswith(".pdf") else content)]

    file = rewritten(saved, tmp_path / "x.zip", exchange)
    assert refused(file, tmp_path)


def test_an_original_less_is_found_even_with_its_list_changed(saved, tmp_path):
    gone = None

    def leave_out(name, content):
        nonlocal gone
        if name.endswith(".pdf"):
            gone = name
            return []
        if name == "manifest.json":
            listed = json.loads(content)
            listed["files"] = [f for f in listed["files"] if f["name"] != gone]
            return [(name, json.dumps(listed))]
        return [(name, content)]

    file = rewritten(saved, tmp_path / "x.zip", leave_out)
    assert "lacks 1 originals its database names" in refused(file, tmp_path)


@pytest.mark.parametrize("name", ["../evil.jpg", "/etc/evil", "originals/../../evil.jpg"])
def test_no_name_in_a_backup_leads_out_of_the_shop(saved, tmp_path, name):
    def smuggle(part, content):
        if part != "manifest.json":
            return [(part, content)]
        listed = json.loads(content)
        listed["files"].append({"name": name, "sha256": "0" * 64, "size": 1})
        return [(name, b"x"), (part, json.dumps(listed))]

    file = rewritten(saved, tmp_path / "x.zip", smuggle)
    assert "is of another form" in refused(file, tmp_path)
    unlisted = rewritten(saved, tmp_path / "y.zip", lambda p, c: [(p, c), (f"{p}.more", b"x")])
    assert "its list does not fit" in refused(unlisted, tmp_path)


def test_other_files_are_no_backups(saved, tmp_path):
    file = tmp_path / "f.zip"
    file.write_text("a text")
    assert "cannot be used as a backup" in refused(file, tmp_path)
    with zipfile.ZipFile(file, "w") as archive:
        archive.writestr("holiday.jpg", b"x")
    assert "it has no manifest.json" in refused(file, tmp_path)
    assert "there is no such file" in refused(tmp_path / "none.zip", tmp_path)


def test_a_backup_of_a_newer_version_is_refused(saved, tmp_path):
    def newer(name, content):
        known = f'"{REVISIONS[-1]}"'.encode()
        return [(name, content.replace(known, b'"0999"') if "manifest" in name else content)]

    file = rewritten(saved, tmp_path / "x.zip", newer)
    assert "was made by a newer version of this program (form '0999'" in refused(file, tmp_path)


def test_a_file_longer_than_its_list_says_is_not_unpacked(saved, tmp_path):
    def longer(name, content):
        return [(name, content + b"\0" * 10_000_000 if name.endswith(".pdf") else content)]

    file = rewritten(saved, tmp_path / "x.zip", longer)
    assert "is longer than its list says" in refused(file, tmp_path)


def test_a_damaged_original_bars_a_backup_or_is_named_in_it(tmp_path):
    with bench(tmp_path / "shop") as (opened, _):
        received(opened)
        papers.file_paper(opened, "T-77", paper_document("N-1", 1), {".pdf": b"%PDF"}, ANNA)
        path = opened.originals.path(job_sheet(opened, "T-77").papers[0].pdf_sha256)
        path.chmod(0o644)
        path.write_bytes(b"damaged")
        with pytest.raises(RecordError, match="is not the file that was stored"):
            backup(opened, tmp_path / "b.zip")
        assert [p.name for p in tmp_path.iterdir()] == ["shop"]
        summary = backup(opened, tmp_path / "b.zip", leave_out_damaged=True)
        assert summary.left_out == (f"originals/{path.parent.name}/{path.name}",)
    assert restore(tmp_path / "b.zip", tmp_path / "again").left_out == summary.left_out
    with open_shop(tmp_path / "again") as again:
        assert len(shop.check_shop(again).problems) == 1


def test_a_backup_holds_what_the_log_had_not_yet_written_back(tmp_path):
    with bench(tmp_path / "shop") as (opened, _):
        new(opened)
        assert (tmp_path / "shop" / "shop.db-wal").stat().st_size > 0
        backup(opened, tmp_path / "b.zip")
        with zipfile.ZipFile(tmp_path / "b.zip") as archive:
            (tmp_path / "only.db").write_bytes(archive.read("shop.db"))
    with closing(sqlite3.connect(tmp_path / "only.db")) as database:
        assert database.execute("SELECT tag FROM job").fetchall() == [("T-77",)]
