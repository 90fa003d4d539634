"""What cannot be used, by command line: one sentence, the right exit code, nothing half-written."""

import json
import sqlite3
from contextlib import closing
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image

from needlewright.cli.main import run as command_line
from needlewright.readings.run_csv import write_run
from needlewright.records.migrations import REVISIONS
from needlewright.records.opening import open_shop
from needlewright.records.runs import run_sheet, type_run
from needlewright.records.sheet import job_sheet
from needlewright.records.shop import check_shop
from proofs.drawn_job import DATA, true_run
from records.benches import ANNA, BERT, FAMILY_FOLDER, bench, jpeg, new, received
from records.small_disk import Full, small_disk

__all__ = ["small_disk"]  # a fixture, found by its name
TAG = "T-77"
HEIC = b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + bytes(64)
COMMANDS = "photo,step,dial,commanded,unit,approach\n1.jpg,0,speed,40,km/h,up\n"


def bitmap(width_px: int, height_px: int) -> bytes:
    """A blank picture of very many pixels in few bytes."""
    stream = BytesIO()
    Image.new("1", (width_px, height_px)).save(stream, "PNG")
    return stream.getvalue()


PICTURES = {
    "a text": (b"Dear Sir, here is the photo", "is not a picture; a JPEG, PNG, TIFF"),
    "HEIC": (HEIC, "is a HEIC picture, which cannot be read here; set the phone's camera to JPEG"),
    "too many pixels": (
        bitmap(12_000, 12_000),
        "is 12000 x 12000 px; at most 120 megapixels and 30000 px a side are read; scale it down",
    ),
    "too long": (bitmap(30_001, 64), "is 30001 x 64 px; at most 120 megapixels and 30000 px"),
    "too small": (bitmap(63, 63), "is 63 x 63 px; at least 64 px a side are needed"),
    "nothing in it": (b"", "is empty (zero bytes); copy it from the camera again"),
}
HALF = "is damaged or cut short"


@pytest.fixture
def shop(tmp_path):
    """A shop with a job that has been received."""
    with bench(tmp_path / "shop") as (opened, _):
        received(opened)
    return tmp_path / "shop"


@pytest.fixture
def call(shop, capsys, monkeypatch):
    """The command line on that shop: exit code, standard output, standard error."""
    monkeypatch.setenv("NEEDLEWRIGHT_SHOP", str(shop))

    def words(*arguments: object) -> tuple[int, str, str]:
        with pytest.raises(SystemExit) as left:
            command_line([str(one) for one in arguments])
        said = capsys.readouterr()
        return int(left.value.code or 0), said.out, said.err

    return words


@pytest.fixture
def refused(call, shop):
    """A command that is refused: its one sentence, with everything in the shop as it was."""

    def words(code: int, *arguments: object) -> str:
        before = state(shop)
        got, out, err = call(*arguments)
        assert (got, out) == (code, ""), (got, out, err)
        assert err.startswith("needlewright: ")
        assert err.count("\n") == 1
        assert "Traceback" not in err
        assert "should not have happened" not in err
        assert state(shop) == before
        return str(err)

    return words


def state(folder: Path) -> tuple[object, ...]:
    """Everything there is of the job, and every file but the database's and families laid out."""
    files = sorted(
        path.relative_to(folder).as_posix()
        for path in folder.rglob("*")
        if path.is_file()
        and not path.name.startswith("shop.db")
        and (path.parent.parent.name != "families" or "part" in path.name)
    )
    with open_shop(folder) as opened:
        sheet = job_sheet(opened, TAG)
        return sheet, [run_sheet(opened, run.id) for run in sheet.runs], files


# pictures


@pytest.mark.parametrize("bad", PICTURES.values(), ids=PICTURES)
@pytest.mark.parametrize("way", ["receive", "photo", "return", "bench", "final", "retake"])
def test_a_file_that_is_no_photo_is_refused_by_its_name(refused, tmp_path, way, bad):
    content, says = bad
    file = tmp_path / "1.jpg"
    file.write_bytes(content)
    (tmp_path / "commands.csv").write_text(COMMANDS)
    words = {
        "receive": ("receive", TAG, "--sender", "another", "--photo", f"damage={file}"),
        "photo": ("photo", TAG, f"packing={file}"),
        "return": ("return", TAG, "--carrier", "another", "--photo", f"odometer={file}"),
        "bench": ("bench", TAG, file, "--commands", tmp_path / "commands.csv"),
        "final": ("final", TAG, file, "--commands", tmp_path / "commands.csv"),
        "retake": ("retake", TAG, "as-found", 0, file),
    }[way]
    if way == "retake":
        started(tmp_path / "shop")
    said = refused(1, "jobs", *words, "--by", ANNA)
    assert f"{file}: {says}" in said


@pytest.mark.parametrize("bad", PICTURES.values(), ids=PICTURES)
@pytest.mark.parametrize("command", ["read", "look"])
def test_commands_without_a_shop_say_the_same(call, tmp_path, command, bad):
    content, says = bad
    file = tmp_path / "1.jpg"
    file.write_bytes(content)
    more = ("--at", "speed=40") if command == "look" else ()
    code, _, err = call(command, file, "--family", FAMILY_FOLDER, *more)
    assert code == 1
    assert err.splitlines() == [err.strip()]
    assert f"{file}: {says}" in err


def half(tmp_path: Path) -> Path:
    """A photo whose upload broke off."""
    whole = (DATA / "photos" / "fam-a" / "bare.jpg").read_bytes()
    (tmp_path / "1.jpg").write_bytes(whole[: len(whole) // 2])
    return tmp_path / "1.jpg"


def test_half_a_photo_of_a_box_is_refused(refused, tmp_path):
    file = half(tmp_path)
    for words in (("receive", TAG, "--photo", f"damage={file}"), ("photo", TAG, f"label={file}")):
        assert f"{file}: {HALF}" in refused(1, "jobs", *words, "--by", ANNA)
    cut = bitmap(200, 200)[:-40]
    (tmp_path / "cut.png").write_bytes(cut)
    said = refused(1, "jobs", "photo", TAG, f"label={tmp_path / 'cut.png'}", "--by", ANNA)
    assert f"cut.png: {HALF}" in said


def test_half_a_photo_of_a_run_is_kept_named_and_keeps_the_part_open(call, shop, tmp_path):
    (tmp_path / "commands.csv").write_text(COMMANDS)
    words = ("jobs", "bench", TAG, half(tmp_path), "--commands", tmp_path / "commands.csv")
    code, out, err = call(*words, "--by", ANNA)
    assert (code, err) == (0, "")
    (said,) = [line for line in out.splitlines() if line.startswith("not finished: ")]
    assert said.startswith(f"not finished: run as-found, step 0: 1.jpg: {HALF}")
    assert said.endswith("copy it from the camera again")
    with open_shop(shop) as opened:
        assert job_sheet(opened, TAG).stage_of("bench_check").state == "in_hand"
        assert check_shop(opened).problems == ()
    code, _, err = call("read", tmp_path / "1.jpg", "--family", FAMILY_FOLDER)
    assert code == 1
    assert f"{tmp_path / '1.jpg'}: {HALF}" in err


def test_a_photo_of_another_family_is_named_with_what_to_do(call, shop, tmp_path):
    (tmp_path / "1.jpg").write_bytes((DATA / "photos" / "fam-a" / "bare.jpg").read_bytes())
    (tmp_path / "commands.csv").write_text(COMMANDS)
    words = ("jobs", "bench", TAG, tmp_path / "1.jpg", "--commands", tmp_path / "commands.csv")
    code, out, err = call(*words, "--by", ANNA)
    assert (code, err) == (0, "")
    (said,) = [line for line in out.splitlines() if line.startswith("not finished: ")]
    assert said.startswith("not finished: run as-found: nothing was read in 1.jpg (step 0): ")
    assert said.endswith(
        "check that the job's family and variant are the cluster's, take the photo again with the "
        "whole face in the picture, or reject the photo and say why"
    )
    with open_shop(shop) as opened:
        assert job_sheet(opened, TAG).stage_of("bench_check").state == "in_hand"


# two people, a full disk, another version


def test_two_people_saving_the_same_job(refused, call, shop):
    with open_shop(shop) as opened:
        seen = job_sheet(opened, TAG).version
    assert call("jobs", "edit", TAG, "--owner", "first", "--by", BERT)[0] == 0
    stale = ("--seen", seen, "--by", ANNA)
    said = refused(1, "jobs", "edit", TAG, "--owner", "second", *stale)
    assert f"job {TAG}: {BERT} saved 'owner' at " in said
    assert "it is now 'first', you typed 'second'" in said
    assert call("jobs", "edit", TAG, "--vehicle", "a van", *stale)[0] == 0
    assert call("jobs", "receive", TAG, "--packing", "a box", "--by", BERT)[0] == 0
    assert "saved 'packing'" in refused(1, "jobs", "receive", TAG, "--packing", "a bag", *stale)
    box = ("jobs", "return", TAG, "--not-yet", "--carrier")
    assert call(*box, "by hand", "--by", BERT)[0] == 0
    assert "saved 'carrier'" in refused(1, *box, "by post", *stale)


def test_a_full_disk(small_disk, capsys, tmp_path):
    full = Full(small_disk, small_disk / "filler")
    folder = small_disk / "shop"
    with bench(folder) as (opened, _):
        received(opened)
    (tmp_path / "large.jpg").write_bytes(jpeg(9) + bytes(9_000_000))
    photo = ("photo", TAG, f"damage={tmp_path / 'large.jpg'}")
    before = state(folder)
    assert_says_full(capsys, folder, *photo)  # no room for it, though there is some
    assert state(folder) == before
    full.fill()
    for words in (
        ("receive", TAG, "--packing", "a box"),
        ("edit", TAG, "--owner", "another"),
        ("new", "T-78", "--family", "fam-job"),
        ("return", TAG, "--carrier", "by hand", "--not-yet"),
        ("decide", TAG, "leave it", "--why", "sound"),
    ):
        assert_says_full(capsys, folder, *words)
    full.free()
    assert state(folder) == before
    with open_shop(folder) as opened:
        assert check_shop(opened).problems == ()


def assert_says_full(capsys, folder: Path, *words: str) -> None:
    with pytest.raises(SystemExit) as left:
        command_line(["jobs", *words, "--by", ANNA, "--shop", str(folder)])
    said = capsys.readouterr()
    assert (left.value.code, said.out) == (1, ""), words
    assert said.err.count("\n") == 1
    assert "the disk is full" in said.err
    assert "make room on the disk and do it again" in said.err


@pytest.mark.parametrize(
    "words",
    [
        ("jobs", "list"),
        ("jobs", "show", TAG),
        ("jobs", "note", TAG, "text", "--by", ANNA),
        ("shop", "check"),
        ("serve", "--port", "0"),
        ("serve", "--port", "0", "--lan"),
        ("backup", "b.zip"),
    ],
    ids=" ".join,
)
def test_a_database_of_a_newer_version(call, shop, tmp_path, monkeypatch, words):
    monkeypatch.chdir(tmp_path)
    with closing(sqlite3.connect(shop / "shop.db")) as database, database:
        database.execute("UPDATE alembic_version SET version_num = '0999'")
    before = {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
    code, out, err = call(*words)
    assert (code, out) == (1, "")
    assert err == (
        f"needlewright: {shop / 'shop.db'}: was made by a newer version of this program (its form "
        f"is '0999', this program knows forms up to '{REVISIONS[-1]}'); it was not touched; use "
        "the newer program\n"
    )
    assert {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()} == before


# words and numbers


def started(folder: Path) -> None:
    """A run typed in, so that there is one."""
    with open_shop(folder) as opened:
        type_run(opened, TAG, "found", true_run("as-found"), ANNA)


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (("jobs", "show", "T-7"), 1, "there is no job with the tag 'T-7'; is 'T-77' meant?"),
        (("jobs", "certify", "none"), 1, "there is no job with the tag 'none'; look for it on the"),
        (("jobs", "new", "T-9", "--family", "fam-x"), 1, "keeps no family 'fam-x'"),
        (("jobs", "edit", TAG, "--family", "fam-x"), 1, "keeps no family 'fam-x'"),
        (("jobs", "instruments", TAG, "TH-1"), 1, "there is no instrument number 'TH-1'; add it"),
        (("jobs", "edit", TAG, "--odometer-in", "-5"), 1, "the mileage, a number of 0 or more"),
        (("jobs", "edit", TAG, "--odometer-in", "nan"), 1, "the mileage, a number of 0 or more"),
        (("jobs", "receive", TAG, "--odometer", "inf"), 1, "the mileage, a number of 0 or more"),
        (("jobs", "receive", TAG, "--odometer", "1e9"), 1, "the mileage, a number of 0 or more"),
        (
            ("jobs", "receive", TAG, "--odometer", "many"),
            2,
            "'--odometer': Input should be a valid number, unable to parse string as a number, "
            "found 'many'",
        ),
        (("jobs", "receive", TAG, "--unit", "miles"), 1, "expected 'km' or 'mi', found 'miles'"),
        (
            ("jobs", "receive", TAG, "--no-odometer", "never had one"),
            1,
            "a mileage is recorded and also that no odometer is fitted; leave one of them empty",
        ),
        (("jobs", "return", TAG, "--odometer", "-1"), 1, "odometer_out: expected the mileage"),
        (("jobs", "edit", TAG, "--promised", "2026-02-30"), 1, "a day such as 2026-03-02, found"),
        (("jobs", "edit", TAG, "--promised", "tomorrow"), 1, "found 'tomorrow'; correct it and"),
        (("jobs", "receive", TAG, "--day", "02.03.2026"), 1, "found '02.03.2026'; correct it and"),
        (("jobs", "return", TAG, "--day", "2026-13-01", "--not-yet"), 1, "day: expected a day"),
        (
            ("jobs", "return", TAG, "--day", "2026-03-01", "--not-yet"),
            1,
            "the day of return, 2026-03-01, lies before the day of receipt, 2026-03-02; correct",
        ),
        (("jobs", "certify", TAG, "--day", "2026-02-30"), 2, "--day '2026-02-30': expected a day"),
        (
            ("jobs", "return", TAG, "--law", "us", "--notice-before", "5"),
            1,
            "the notice needs its two fields, notice_mileage_before and notice_day; state both",
        ),
        (
            ("shop", "instrument", "TH-9", "--name", "probe", "--due", "soon"),
            1,
            "due: expected a day such as 2026-03-02, found 'soon'; correct it and save again",
        ),
        (
            ("jobs", "edit", TAG, "--owner", "another", "--waits-for", "rain"),
            2,
            "--waits-for: 'rain' is none of cluster",
        ),
    ],
    ids=lambda one: " ".join(one) if isinstance(one, tuple) else "",
)
def test_words_and_numbers(refused, words, code, says):
    by = ("--by", ANNA) if words[0] == "jobs" and words[1] != "show" else ()
    assert says in refused(code, *words, *by)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("bench",), "Missing argument 'WHICH'. Choose from: as-found, as-left"),
        (("bench", "as-is"), "Invalid value for 'WHICH': 'as-is' is not one of 'as-found', 'as-l"),
        (
            ("signal", "constant", "--pulses-per-turn", "few"),
            "should be a valid number, unable to parse string as a number, found 'few'",
        ),
        (("jobs", "retake", TAG, "as-found", "last", "p.jpg"), "as an integer, found 'last'"),
    ],
)
def test_wrong_usage_is_one_line_with_what_was_typed(capsys, words, says):
    with pytest.raises(SystemExit) as left:
        command_line(list(words))
    _, err = capsys.readouterr()
    assert left.value.code == 2
    assert says in err
    assert err.count("\n") == 1


def test_a_dial_the_family_does_not_have(refused, shop, tmp_path):
    (tmp_path / "1.jpg").write_bytes(jpeg(1))
    (tmp_path / "commands.csv").write_text(COMMANDS.replace("speed", "clock"))
    words = ("jobs", "bench", TAG, tmp_path / "1.jpg", "--commands", tmp_path / "commands.csv")
    said = refused(1, *words, "--by", ANNA)
    assert "'clock'" in said
    assert "speed" in said
    run = true_run("as-found")
    write_run(tmp_path / "typed.csv", run)
    text = (tmp_path / "typed.csv").read_text().replace("engine", "clock")
    (tmp_path / "typed.csv").write_text(text)
    said = refused(1, "jobs", "bench", TAG, "--typed", tmp_path / "typed.csv", "--by", ANNA)
    assert "there is no dial 'clock'; the family has " in said
    started(shop)
    words = ("jobs", "reject-reading", TAG, "as-found", 0, "clock", "--why", "x", "--by", ANNA)
    assert "there is no reading of dial 'clock' at step 0" in refused(1, *words)
    words = ("jobs", "reject-photo", TAG, "as-found", 0, "--why", "x", "--by", ANNA)
    assert "there is no photo at step 0" in refused(1, *words)


def test_a_dial_beside_the_records(call, tmp_path):
    (tmp_path / "1.jpg").write_bytes(jpeg(1))
    code, out, err = call("look", tmp_path / "1.jpg", "--family", FAMILY_FOLDER, "--at", "clock=4")
    assert (code, out) == (2, "")
    assert err.count("\n") == 1
    assert "'clock'" in err
    code, out, err = call("read", tmp_path / "1.jpg", "--family", tmp_path / "none")
    assert (code, out, err.count("\n")) == (1, "", 1)


def test_a_job_that_is_not_there_is_no_json_either(call, shop):
    with open_shop(shop) as opened:
        new(opened, "T-78", serial=None)
    code, out, err = call("jobs", "show", "T-79", "--json")
    assert (code, out) == (1, "")
    assert "is 'T-78' meant?" in err or "is 'T-77' meant?" in err
    assert json.loads(call("jobs", "show", "T-78", "--json")[1])["tag"] == "T-78"
