"""A full disk: every way of saving says so in one sentence, and leaves nothing of itself."""

from collections.abc import Callable
from pathlib import Path

import pytest
from sqlalchemy import text

from needlewright.cli.main import run as command_line
from needlewright.errors import DiskFullError
from needlewright.records import intake, jobs, papers, returning, shop, stages, undo
from needlewright.records.backup import backup
from needlewright.records.families import keep_family, load_version
from needlewright.records.opening import Shop, open_shop
from needlewright.records.restore import restore
from needlewright.records.run_photos import add_run_photo, retake_photo
from needlewright.records.run_readings import reject_reading, store_outcome
from needlewright.records.runs import set_aside_run, start_run, tell_run, type_run
from needlewright.records.sheet import job_sheet
from needlewright.records.tables import Base
from proofs.drawn_job import true_run
from records.benches import (
    ANNA,
    RECEIVED,
    bench,
    jpeg,
    new,
    outcomes,
    received,
    sqlite_only,
    told,
)
from records.kill_worker import paper_document
from records.small_disk import Full, small_disk

pytestmark = sqlite_only
__all__ = ["small_disk"]  # a fixture, found by its name
TAG = "T-77"


def state(opened: Shop) -> dict[str, int]:
    """How many rows each table has, and the sum of all versions of jobs."""
    with opened.reading() as session:
        counts = {
            name: session.scalar(text(f"SELECT count(*) FROM {name}"))
            for name in Base.metadata.tables
        }
        versions = session.scalar(text("SELECT sum(version) FROM job"))
    return counts | {"versions": versions}


def prepare(opened: Shop) -> dict[str, int]:
    """A job with everything that is then saved again on a full disk."""
    shop.add_instrument(opened, "thermometer", "TH-9")
    received(opened)
    new(opened, "T-2", serial=None)
    run = start_run(opened, TAG, "found", told(), ANNA)
    first = add_run_photo(opened, run.id, jpeg(1), "1.jpg", ANNA, step=0)
    read = store_outcome(opened, first.id, outcomes()[0], jpeg(2))
    unread = add_run_photo(opened, run.id, jpeg(3), "3.jpg", ANNA, step=1)
    box = intake.add_job_photo(opened, TAG, jpeg(4), "4.jpg", ANNA, stage="received", kind="damage")
    return {
        "run": run.id,
        "photo": first.id,
        "unread": unread.id,
        "reading": read.readings[0].id,
        "box": box.id,
    }


BIG = jpeg(50, 400)


def ways(opened: Shop, ids: dict[str, int], family: Path) -> dict[str, Callable[[], object]]:
    """Every function that saves."""
    return {
        "settings": lambda: shop.change_settings(opened, {"supply": "13.5 V"}),
        "person": lambda: shop.add_person(opened, "C. Invented"),
        "instrument": lambda: shop.add_instrument(opened, "meter", "M-1"),
        "change instrument": lambda: shop.change_instrument(opened, "TH-9", {"name": "probe"}),
        "family": lambda: keep_family(opened, family),
        "new": lambda: new(opened, "T-3", serial=None),
        "edit": lambda: jobs.edit_job(opened, TAG, {"owner": "another"}, ANNA),
        "wait": lambda: jobs.wait_for(opened, TAG, "parts", ANNA),
        "note": lambda: jobs.add_note(opened, TAG, "worth knowing", ANNA),
        "decision": lambda: jobs.decide(opened, TAG, "leave lamps", "sound", ANNA),
        "instruments": lambda: jobs.use_instruments(opened, TAG, ["TH-9"], ANNA),
        "receive": lambda: intake.receive(opened, "T-2", RECEIVED, ANNA),
        "finish": lambda: stages.finish_stage(opened, "T-2", "received", ANNA),
        "reopen": lambda: stages.reopen_stage(opened, "T-2", "received", ANNA),
        "box photo": lambda: intake.add_job_photo(
            opened, TAG, BIG, "b.jpg", ANNA, stage="received", kind="packing"
        ),
        "box photo off": lambda: intake.withdraw_job_photo(opened, ids["box"], ANNA),
        "run": lambda: start_run(opened, TAG, "other", told(), ANNA),
        "told": lambda: tell_run(opened, ids["run"], told()[:-4], ANNA),
        "run photo": lambda: add_run_photo(opened, ids["run"], BIG, "x.jpg", ANNA, step=2),
        "retake": lambda: retake_photo(opened, ids["unread"], jpeg(51, 400), "y.jpg", ANNA),
        "reject": lambda: reject_reading(opened, ids["reading"], "reflection", ANNA),
        "outcome": lambda: store_outcome(opened, ids["photo"], outcomes()[1], jpeg(52, 400)),
        "typed run": lambda: type_run(opened, TAG, "left", true_run("as-left"), ANNA),
        "set aside": lambda: set_aside_run(opened, ids["run"], "wrong table", ANNA),
        "paper": lambda: papers.file_paper(
            opened, TAG, paper_document("N-1", 1), {".pdf": b"%PDF" * 9000}, ANNA
        ),
        "return": lambda: returning.record_return(opened, TAG, {"carrier": "by hand"}, ANNA),
        "undo": lambda: undo.undo_last(opened, TAG, ANNA),
    }


def test_every_way_of_saving_survives_a_full_disk(small_disk, tmp_path):
    full = Full(small_disk, small_disk / "filler")
    family = changed_family(tmp_path / "family")
    with bench(small_disk / "shop") as (opened, _):
        ids = prepare(opened)
        for name, save in ways(opened, ids, family).items():
            with opened.engine.connect() as connection:
                connection.execute(text("PRAGMA wal_checkpoint(TRUNCATE)"))
            before = state(opened)
            full.fill()
            with pytest.raises(DiskFullError) as said:
                save()
            sentence = str(said.value)
            assert "the disk is full" in sentence, name
            assert "\n" not in sentence, name
            assert list((small_disk / "shop" / "originals").glob("*.part")) == [], name
            full.free()
            assert state(opened) == before, name
            save()
            assert state(opened) != before or name in ("settings", "change instrument"), name
        assert shop.check_shop(opened).problems == ()


def test_a_photo_too_large_for_the_disk_is_not_half_there(small_disk):
    with bench(small_disk / "shop") as (opened, _):
        received(opened)
        large = jpeg(9) + b"\0" * 8_000_000
        with pytest.raises(DiskFullError, match="storing a file was not saved"):
            intake.add_job_photo(opened, TAG, large, "l.jpg", ANNA, stage="received", kind="other")
        assert job_sheet(opened, TAG).photos == ()
        intake.add_job_photo(opened, TAG, jpeg(9), "s.jpg", ANNA, stage="received", kind="other")
        assert shop.check_shop(opened).problems == ()


def test_a_family_cannot_be_put_together_on_a_full_disk_and_can_be_later(small_disk):
    full = Full(small_disk, small_disk / "filler")
    with bench(small_disk / "shop") as (opened, _):
        version = new(opened).family_version_id
        full.fill()
        with pytest.raises(DiskFullError):
            load_version(opened, version)
        full.free()
        assert load_version(opened, version).name == "fam-job"
        assert [p for p in (small_disk / "shop" / "families").iterdir() if "part" in p.name] == []


def test_a_shop_cannot_be_opened_on_a_full_disk_and_can_be_later(small_disk):
    full = Full(small_disk, small_disk / "filler")
    full.fill()
    with pytest.raises(DiskFullError):
        open_shop(small_disk / "shop")
    full.free()
    with open_shop(small_disk / "shop") as opened:
        assert shop.people(opened) == ()


def test_backup_and_restore_on_a_full_disk_leave_nothing(small_disk, tmp_path):
    full = Full(small_disk, small_disk / "filler")
    with bench(tmp_path / "shop") as (opened, _):
        received(opened)
        full.fill()
        with pytest.raises(DiskFullError):
            backup(opened, small_disk / "b.zip")
        backup(opened, tmp_path / "b.zip")
    with pytest.raises(DiskFullError):
        restore(tmp_path / "b.zip", small_disk / "again")
    assert [p.name for p in small_disk.iterdir()] == ["filler"]
    full.free()
    assert restore(tmp_path / "b.zip", small_disk / "again").jobs == 1


def test_the_command_line_says_it_in_one_line(small_disk, capsys):
    full = Full(small_disk, small_disk / "filler")
    with bench(small_disk / "shop") as (opened, _):
        new(opened)
        with opened.engine.connect() as connection:
            connection.execute(text("PRAGMA wal_checkpoint(TRUNCATE)"))
    full.fill()
    words = ["jobs", "note", TAG, "text", "--by", ANNA, "--shop", str(small_disk / "shop")]
    with pytest.raises(SystemExit) as left:
        command_line(words)
    said = capsys.readouterr()
    assert (left.value.code, said.out) == (1, "")
    assert said.err.count("\n") == 1
    assert "the disk is full" in said.err
    full.free()
    with open_shop(small_disk / "shop") as opened:
        assert job_sheet(opened, TAG).notes == ()


def changed_family(folder: Path) -> Path:
    """The family as it is, with another name for its version: a line longer."""
    folder.mkdir()
    source = Path(__file__).parents[1] / "data" / "families" / "fam-job"
    (folder / "family.json").write_bytes((source / "family.json").read_bytes() + b"\n")
    (folder / "face.png").write_bytes((source / "face.png").read_bytes())
    return folder
