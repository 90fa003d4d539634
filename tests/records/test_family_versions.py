"""What the shop keeps of a family: versions that count, travel, and never change silently."""

import json
import shutil
from pathlib import Path

import pytest

from needlewright.errors import FamilyError, NotThereError, RecordError
from needlewright.families.folder import load_family, write_family
from needlewright.families.packing import packed, write_packed
from needlewright.records.families import families, keep_family, load_version
from needlewright.records.family_versions import (
    family_version,
    family_versions,
    packed_version,
    take_in,
    what_is_new,
)
from needlewright.records.opening import open_shop
from needlewright.records.runs import run_sheet, start_run
from needlewright.records.sheet import job_sheet
from needlewright.records.shop import check_shop
from records.benches import ANNA, BERT, FAMILY_FOLDER, bench, new, received, told


@pytest.fixture
def opened(tmp_path):
    with bench(tmp_path / "shop") as (shop, _):
        yield shop


def changed(folder: Path, **needle: float) -> Path:
    """The drawn job's family with fields of its first needle changed."""
    shutil.copytree(FAMILY_FOLDER, folder)
    document = json.loads((folder / "family.json").read_text())
    document["dials"][0]["needle"] |= needle
    write_family(document, folder)
    return folder


def test_each_change_is_a_version_with_who_when_and_why(opened, tmp_path):
    folder = changed(tmp_path / "a", height_mm=3.5)
    second = keep_family(opened, folder, ANNA, note=" measured\nfrom photos ")
    assert (second.number, second.kept_by, second.note) == (2, ANNA, "measured from photos")
    assert second.is_current
    third = keep_family(opened, changed(tmp_path / "b", height_mm=3.6), BERT)
    found = family_versions(opened, "FAM-JOB")
    assert [(one.number, one.kept_by, one.is_current) for one in found] == [
        (3, BERT, True),
        (2, ANNA, False),
        (1, None, False),  # put in while two people worked there and nobody was named
    ]
    assert keep_family(opened, folder, BERT, note="other").number == 2  # chosen again, as it was
    assert [(f.version_id, f.note) for f in families(opened)] == [
        (second.version_id, "measured from photos")
    ]
    assert family_version(opened, "fam-job").number == 2
    assert family_version(opened, "fam-job", 3) != third  # it is no longer the current one
    with pytest.raises(NotThereError, match="has no version 4; it has versions 1 to 3"):
        family_version(opened, "fam-job", 4)
    with pytest.raises(NotThereError, match="keeps no family 'other'; it keeps 'fam-job'"):
        family_versions(opened, "other")
    with pytest.raises(RecordError, match="nobody named 'Nobody' works in this shop"):
        keep_family(opened, changed(tmp_path / "c", height_mm=4.0), "Nobody")


def test_jobs_and_runs_name_the_version(opened, tmp_path):
    received(opened)
    run = start_run(opened, "T-77", "found", told(), ANNA)
    keep_family(opened, changed(tmp_path / "a", height_mm=3.5), ANNA)
    assert new(opened, "NEW", serial="S-2").family_number == 2
    assert job_sheet(opened, "T-77").family_number == 1
    assert run_sheet(opened, run.id).family_number == 1
    assert [(one.number, one.jobs) for one in family_versions(opened, "fam-job")] == [
        (2, 1),
        (1, 1),
    ]


def test_what_is_new_is_said_field_by_field(opened, tmp_path):
    was = json.loads((FAMILY_FOLDER / "family.json").read_text())["dials"][0]
    kept = keep_family(opened, changed(tmp_path / "a", height_mm=3.5, pitch_u_deg=0.3), ANNA)
    before, said = what_is_new(opened, kept)
    assert before.number == 1
    place = f"dial '{was['id']}', needle"
    assert said == (
        f"{place}.height_mm is 3.5, was {was['needle']['height_mm']}",
        f"{place}.pitch_u_deg is 0.3, was not stated",
    )
    assert what_is_new(opened, before) == (None, ())


def test_an_old_version_goes_out_as_it_was(opened, tmp_path):
    keep_family(opened, changed(tmp_path / "a", height_mm=3.5), ANNA)
    old = family_version(opened, "fam-job", 1)
    assert packed_version(opened, old.version_id) == packed(FAMILY_FOLDER)[0]


def test_what_comes_in_changes_nothing_silently(opened, tmp_path):
    file = tmp_path / "family.zip"
    write_packed(changed(tmp_path / "a", height_mm=9.5), file)
    with pytest.raises(RecordError) as said:
        take_in(opened, file, ANNA)
    assert str(said.value) == (
        f"{file}: the shop keeps a family 'fam-job' already, and this one differs from its version "
        "1 in 1 thing: dial 'engine', needle.height_mm is 9.5, was 4.35; nothing was changed; take "
        "it in as a new version (--new-version) or under another name (--as NAME)"
    )
    assert [one.number for one in family_versions(opened, "fam-job")] == [1]
    other = take_in(opened, file, ANNA, name="fam-job high", note="from Exampleton")
    assert (other.name, other.number, other.note) == ("fam-job high", 1, "from Exampleton")
    assert take_in(opened, file, ANNA, as_new_version=True).number == 2
    assert take_in(opened, file, ANNA).number == 2  # the same again
    write_packed(FAMILY_FOLDER, tmp_path / "old.zip")
    with pytest.raises(RecordError, match="differs from its version 2 in 1 thing"):
        take_in(opened, tmp_path / "old.zip", ANNA)  # not back to the old one without a word
    file.write_bytes(file.read_bytes()[:-30])
    with pytest.raises(FamilyError, match=r"^what was sent: is cut short"):
        take_in(opened, file, ANNA, said="what was sent")


def test_a_message_database_is_kept_and_put_together_with_it(opened, tmp_path):
    folder = changed(tmp_path / "a", height_mm=3.5)
    document = json.loads((folder / "family.json").read_text())
    document["name"] = "with-bus"
    document["dials"][0]["signal"] = {
        "kind": "can_database", "database": "bus/made.dbc", "message": "M", "signal": "S",
        "unit": document["dials"][0]["unit"],
    }  # fmt: skip
    write_family(document, folder)
    without = keep_family(opened, folder)  # as the page takes it: two files
    assert sorted(name for name, _ in without.files) == ["face.png", "family.json"]
    with pytest.raises(FamilyError, match=r"made\.dbc: cannot be read"):
        packed_version(opened, without.version_id)
    (folder / "bus").mkdir()
    (folder / "bus" / "made.dbc").write_text('VERSION ""\n')
    kept = keep_family(opened, folder)
    assert kept.number == 2
    stored = load_version(opened, kept.version_id).folder
    assert (stored / "bus" / "made.dbc").read_text() == 'VERSION ""\n'
    (stored / "bus" / "made.dbc").write_text("touched")
    stored = load_version(opened, kept.version_id).folder
    assert (stored / "bus" / "made.dbc").read_text() == 'VERSION ""\n'
    assert what_is_new(opened, kept)[1] == ("bus/made.dbc is new",)
    assert packed_version(opened, kept.version_id) == packed(folder)[0]


def test_a_backup_brings_the_versions_back(opened, tmp_path):
    from needlewright.records.backup import backup  # noqa: PLC0415
    from needlewright.records.restore import restore  # noqa: PLC0415

    keep_family(opened, changed(tmp_path / "a", height_mm=3.5), ANNA, note="higher")
    before = family_versions(opened, "fam-job")
    if opened.engine.dialect.name == "sqlite":
        backup(opened, tmp_path / "shop.zip")
        restore(tmp_path / "shop.zip", tmp_path / "again")
        with open_shop(tmp_path / "again") as again:
            assert family_versions(again, "fam-job") == before
            assert check_shop(again).problems == ()
            assert load_family(load_version(again, before[0].version_id).folder).name == "fam-job"
