"""Originals: named by content, whole or not there, verified when read."""

import hashlib
import os
import time

import pytest

from needlewright.errors import RecordError
from needlewright.records.originals import Originals


def test_a_file_lies_under_its_hash_and_cannot_be_written(tmp_path):
    store = Originals(tmp_path)
    kept = store.put(b"hello", "jpg")
    assert kept.sha256 == hashlib.sha256(b"hello").hexdigest()
    assert kept.size == 5
    path = tmp_path / "originals" / kept.sha256[:2] / f"{kept.sha256[2:]}.jpg"
    assert store.path(kept.sha256) == path
    assert path.stat().st_mode & 0o777 == 0o444
    assert store.read(kept.sha256) == b"hello"
    assert store.relative(kept.sha256) == f"originals/{kept.sha256[:2]}/{kept.sha256[2:]}.jpg"


def test_the_same_content_is_one_file_whatever_it_is_called(tmp_path):
    store = Originals(tmp_path)
    first, again = store.put(b"same", "jpg"), store.put(b"same", "png")
    assert again == first
    assert len(list((tmp_path / "originals").glob("??/*"))) == 1


def test_a_damaged_file_is_refused_and_the_content_puts_it_right(tmp_path):
    store = Originals(tmp_path)
    kept = store.put(b"right", "jpg")
    path = store.path(kept.sha256)
    path.chmod(0o644)
    path.write_bytes(b"wrong")
    with pytest.raises(RecordError, match="is not the file that was stored"):
        store.read(kept.sha256)
    with pytest.raises(RecordError, match="is not the file that was stored"):
        store.verify(kept.sha256)
    store.put(b"right", "jpg")
    assert store.read(kept.sha256) == b"right"


@pytest.mark.parametrize("sha256", ["0" * 64, "../../etc/passwd", "", "*" * 64, "A" * 64])
def test_what_is_not_there_is_said_and_no_name_leads_out(tmp_path, sha256):
    store = Originals(tmp_path)
    store.put(b"x", "jpg")
    with pytest.raises(RecordError, match="is not there"):
        store.path(sha256)


@pytest.mark.parametrize("extension", ["", "../x", "jp g", "toolongforone", "JPG"])
def test_an_ending_is_a_few_letters(tmp_path, extension):
    with pytest.raises(RecordError, match="is no ending"):
        Originals(tmp_path).put(b"x", extension)


def test_parts_of_processes_that_died_are_tidied_and_young_ones_are_not(tmp_path):
    store = Originals(tmp_path)
    store.put(b"x", "jpg")
    old, young = store.folder / "old.part", store.folder / "young.part"
    old.write_bytes(b"half")
    young.write_bytes(b"half")
    os.utime(old, (time.time() - 7200,) * 2)
    store.tidy()
    assert not old.exists()
    assert young.exists()
