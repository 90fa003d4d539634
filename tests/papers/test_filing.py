import json

import pytest

from needlewright.errors import PaperError
from needlewright.papers.filing import file_papers, file_stem

PAPER = {"number": "N-1", "version": 1, "name": "N-1", "customer": "A"}
SECOND = {**PAPER, "version": 2, "name": "N-1 version 2"}


def names(folder):
    return sorted(path.name for path in folder.iterdir())


def test_all_files_of_a_number_are_there(tmp_path):
    filed = file_papers(tmp_path / "papers", PAPER, {".pdf": b"p", "-label.pdf": b"l"})
    assert names(tmp_path / "papers") == ["N-1-label.pdf", "N-1.json", "N-1.pdf"]
    assert filed[".pdf"].read_bytes() == b"p"
    assert json.loads(filed[".json"].read_text()) == PAPER


def test_the_same_paper_may_be_filed_again(tmp_path):
    file_papers(tmp_path, PAPER, {".pdf": b"p"})
    file_papers(tmp_path, PAPER, {".pdf": b"q"})
    assert (tmp_path / "N-1.pdf").read_bytes() == b"q"


def test_another_paper_of_that_number_is_refused_and_nothing_changes(tmp_path):
    file_papers(tmp_path, PAPER, {".pdf": b"p"})
    with pytest.raises(PaperError, match=r'version = 2, replaces = "N-1"'):
        file_papers(tmp_path, {**PAPER, "customer": "B"}, {".pdf": b"q"})
    assert names(tmp_path) == ["N-1.json", "N-1.pdf"]
    assert (tmp_path / "N-1.pdf").read_bytes() == b"p"
    assert json.loads((tmp_path / "N-1.json").read_text()) == PAPER


def test_a_broken_document_still_holds_its_number(tmp_path):
    (tmp_path / "N-1.json").write_text("{half")
    with pytest.raises(PaperError, match="taken by another paper"):
        file_papers(tmp_path, PAPER, {".pdf": b"p"})


def test_a_new_version_stands_beside_the_old(tmp_path):
    file_papers(tmp_path, PAPER, {".pdf": b"p"})
    file_papers(tmp_path, SECOND, {".pdf": b"q"})
    assert names(tmp_path) == ["N-1-v2.json", "N-1-v2.pdf", "N-1.json", "N-1.pdf"]
    assert file_stem(SECOND) == "N-1-v2"


def test_a_disk_that_fails_half_way_leaves_nothing(tmp_path, monkeypatch):
    def fails(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("needlewright.papers.filing.os.link", fails)
    monkeypatch.setattr("needlewright.papers.filing.os.replace", fails)
    with pytest.raises(PaperError, match="No space left on device"):
        file_papers(tmp_path, PAPER, {".pdf": b"p"})
    assert names(tmp_path) == []


def test_a_disk_without_links_is_filed_on(tmp_path, monkeypatch):
    def no_links(*_):
        raise OSError(95, "Operation not supported")

    monkeypatch.setattr("needlewright.papers.filing.os.link", no_links)
    file_papers(tmp_path, PAPER, {".pdf": b"p"})
    assert names(tmp_path) == ["N-1.json", "N-1.pdf"]
    with pytest.raises(PaperError):
        file_papers(tmp_path, {**PAPER, "customer": "B"}, {".pdf": b"q"})


def test_a_file_where_the_folder_should_be_is_named_as_such(tmp_path):
    (tmp_path / "left.csv").write_text("dial\n")
    with pytest.raises(PaperError, match=r"left\.csv: is no folder") as caught:
        file_papers(tmp_path / "left.csv", PAPER, {".pdf": b"p"})
    assert "taken" not in str(caught.value)
