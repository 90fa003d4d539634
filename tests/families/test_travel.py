"""A family in one file: the same bytes each time, and nothing harmful comes out of one.

Names that leave the folder, links and archives that unpack to far more than they are: common
practice of taking in archives, no source. How a ZIP archive is laid out: APPNOTE 6.3.x of the
format, 4.3 and 4.4 (from memory).
"""

import hashlib
import io
import json
import shutil
import struct
import tracemalloc
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from families.places import FAMILIES, plain, put
from needlewright.errors import FamilyError
from needlewright.families.content import (
    MAX_BYTES,
    MAX_FILE_BYTES,
    content_hash_of,
    is_plain_name,
)
from needlewright.families.folder import check_family, load_family
from needlewright.families.packing import MANIFEST, left_behind, packed, write_packed
from needlewright.families.unpacking import unpack_to, unpacked

LINK = 0o120777 << 16


def with_database(folder: Path) -> Path:
    document = plain()
    document["dials"][0]["signal"] = {
        "kind": "can_database", "database": "bus/made.dbc", "message": "M", "signal": "S",
        "unit": "km/h",
    }  # fmt: skip
    put(folder, document)
    (folder / "bus").mkdir()
    (folder / "bus" / "made.dbc").write_text('VERSION ""\n', encoding="utf-8")
    return folder


@pytest.fixture
def file(tmp_path: Path) -> Path:
    write_packed(with_database(tmp_path / "from"), tmp_path / "family.zip")
    return tmp_path / "family.zip"


def rewritten(file: Path, change: Callable[[dict[str, bytes]], None]) -> Path:
    """The archive made anew by somebody else, with its members changed."""
    with zipfile.ZipFile(file) as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    change(members)
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return file


def relisted(members: dict[str, bytes], **more: object) -> None:
    """The list in the archive with fields changed."""
    document = json.loads(members[MANIFEST]) | more
    members[MANIFEST] = json.dumps(document).encode()


def forge_size(file: Path, name: str, size: int) -> None:
    """Let the central directory tell another size of what a member unpacks to."""
    with zipfile.ZipFile(file) as archive:
        real = archive.getinfo(name)
    whole = bytearray(file.read_bytes())
    entry = whole.rindex(name.encode()) - 46
    assert whole[entry : entry + 4] == b"PK\x01\x02"
    assert struct.unpack_from("<I", whole, entry + 24)[0] == real.file_size
    struct.pack_into("<I", whole, entry + 24, size)
    file.write_bytes(bytes(whole))


def refused(file: Path, into: Path) -> str:
    with pytest.raises(FamilyError) as said:
        unpack_to(file, into)
    assert not into.exists()
    assert [path.name for path in into.parent.iterdir() if path.name.endswith(".part")] == []
    sentence = str(said.value)
    assert "\n" not in sentence
    assert sentence.startswith(f"{file}: ")
    return sentence.removeprefix(f"{file}: ")


def test_the_same_folder_gives_the_same_file(tmp_path: Path) -> None:
    one, listed = packed(FAMILIES / "fam-a")
    shutil.copytree(FAMILIES / "fam-a", tmp_path / "elsewhere")  # other times, another place
    (tmp_path / "elsewhere" / "notes.txt").write_text("mine")
    other, _ = packed(tmp_path / "elsewhere")
    assert one == other
    assert left_behind(tmp_path / "elsewhere") == ("notes.txt",)
    with zipfile.ZipFile(io.BytesIO(one)) as archive:
        assert archive.namelist() == [MANIFEST, "family.json", "face.png"]
        assert {info.date_time for info in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
    assert [file.name for file in listed.files] == ["family.json", "face.png"]


def test_what_was_packed_comes_out_again(file: Path, tmp_path: Path) -> None:
    found = unpack_to(file, tmp_path / "to")
    assert found.family.name == "plain"
    for name in ("family.json", "face.png", "bus/made.dbc"):
        assert (tmp_path / "to" / name).read_bytes() == (tmp_path / "from" / name).read_bytes()
    assert not [note for note in check_family(tmp_path / "to") if note.kind == "error"]
    assert packed(tmp_path / "to")[0] == file.read_bytes()


def test_it_can_be_given_another_name(file: Path, tmp_path: Path) -> None:
    assert unpack_to(file, tmp_path / "to", name=" plain  two ").family.name == "plain two"
    assert load_family(tmp_path / "to").name == "plain two"
    with pytest.raises(FamilyError, match="is no name for a family"):
        unpack_to(file, tmp_path / "three", name="\n")
    assert not (tmp_path / "three").exists()


def test_nothing_is_written_over(file: Path, tmp_path: Path) -> None:
    with pytest.raises(FamilyError, match="is there already and not empty; nothing is written"):
        unpack_to(file, tmp_path / "from")
    (tmp_path / "empty").mkdir()
    assert unpack_to(file, tmp_path / "empty").family.name == "plain"
    with pytest.raises(FamilyError, match="is a file; name a new folder"):
        unpack_to(file, file)
    before = file.read_bytes()
    with pytest.raises(FamilyError, match="is there already with other content"):
        write_packed(FAMILIES / "fam-a", file)
    assert file.read_bytes() == before
    write_packed(tmp_path / "from", file)  # the same again is no other content
    with pytest.raises(FamilyError, match=r"expected a file name that ends in \.zip"):
        write_packed(tmp_path / "from", tmp_path / "family.tar")


def test_a_family_that_lacks_what_it_names_does_not_travel(tmp_path: Path) -> None:
    folder = with_database(tmp_path / "from")
    (folder / "bus" / "made.dbc").unlink()
    with pytest.raises(FamilyError, match=r"made\.dbc: cannot be read \(No such file"):
        packed(folder)
    document = json.loads((folder / "family.json").read_text())
    document["dials"][0]["signal"]["database"] = "../made.dbc"
    put(folder, document)
    (tmp_path / "made.dbc").write_text("secret")
    with pytest.raises(FamilyError, match=r"inside the family's folder, found '\.\./made\.dbc'"):
        packed(folder)


def test_what_is_no_archive_or_half_of_one(file: Path, tmp_path: Path) -> None:
    into = tmp_path / "to"
    whole = file.read_bytes()
    file.write_bytes(b"\x89PNG and so on")
    assert refused(file, into).startswith("is no ZIP archive; expected a family written by")
    file.write_bytes(b"")
    assert refused(file, into).startswith("the file is empty")
    for share in (0.1, 0.5, 0.97):
        file.write_bytes(whole[: int(share * len(whole))])
        assert refused(file, into).startswith("is cut short, its end is missing; ask whoever")
    assert refused(tmp_path / "none.zip", into).startswith("there is no such file")
    assert refused(tmp_path / "from", into).startswith("is a folder; a folder needs no unpacking")


def test_a_changed_byte_anywhere_is_noticed_or_harmless(file: Path, tmp_path: Path) -> None:
    """Every byte that says what the family is; the rest are times and rights nobody reads."""
    whole, noticed = file.read_bytes(), 0
    for at in range(0, len(whole), 61):
        spoilt = bytearray(whole)
        spoilt[at] ^= 0x20
        file.write_bytes(bytes(spoilt))
        try:
            with unpacked(file) as found:
                for name in ("family.json", "face.png", "bus/made.dbc"):
                    came = (found.family.folder / name).read_bytes()
                    assert came == (tmp_path / "from" / name).read_bytes()
        except FamilyError:
            noticed += 1
    assert noticed > 0.8 * len(whole) / 61
    spoilt = bytearray(whole)
    spoilt[whole.index(b"road speed")] ^= 0x20
    file.write_bytes(bytes(spoilt))
    assert "is damaged or cut short, so it cannot be unpacked (Bad CRC" in refused(
        file, tmp_path / "to"
    )


def test_content_that_is_not_what_was_packed(file: Path, tmp_path: Path) -> None:
    def change(members: dict[str, bytes]) -> None:
        members["family.json"] = members["family.json"].replace(b"road speed", b"Road speed")

    said = refused(rewritten(file, change), tmp_path / "to")
    assert said.startswith("'family.json' in it is not what was packed, its SHA-256 differs")
    said = refused(rewritten(file, lambda m: relisted(m, content_hash="0" * 64)), tmp_path / "to")
    assert said.startswith("'manifest.json' in it is not what was packed")


@pytest.mark.parametrize(
    "name", ["../out.json", "/etc/out", "a/../../out", "C:/out", "a\\..\\out", "./out", "CON:", ""]
)
def test_names_that_lead_out_of_the_folder(file: Path, tmp_path: Path, name: str) -> None:
    assert not is_plain_name(name)
    with zipfile.ZipFile(file, "a") as archive:
        archive.writestr(zipfile.ZipInfo(name or "\0"), b"x")
    assert "which could be written outside the family's folder" in refused(file, tmp_path / "to")
    assert not (tmp_path / "out.json").exists()


@pytest.mark.parametrize(
    "name",
    [
        "CON",
        "nul.dbc",
        "Aux.tar.gz",
        "bus/PRN.dbc",
        "com1/made.dbc",
        "LPT9.x",
        "COM¹.dbc",
        "CONIN$",
        "conout$.dbc",
    ],
)
def test_names_that_are_a_device_on_windows(name: str) -> None:
    """Names of devices: Windows developer documentation, naming files (from memory)."""
    assert not is_plain_name(name)
    assert not is_plain_name(name.replace(".", " ."))


@pytest.mark.parametrize(
    "name", ["console.dbc", "com.dbc", "COM10.dbc", "bus/null.dbc", "auxiliary", "made.nul"]
)
def test_names_that_only_look_like_a_device(name: str) -> None:
    assert is_plain_name(name)


def test_links_and_folders_are_no_members(file: Path, tmp_path: Path) -> None:
    whole = file.read_bytes()
    with zipfile.ZipFile(file, "a") as archive:
        link = zipfile.ZipInfo("link.dbc")
        link.create_system, link.external_attr = 3, LINK
        archive.writestr(link, "/etc/passwd")
    assert "holds 'link.dbc', which is a link or no plain file" in refused(file, tmp_path / "to")
    file.write_bytes(whole)
    with zipfile.ZipFile(file, "a") as archive:
        archive.writestr("bus/", b"")
    assert "could be written outside" in refused(file, tmp_path / "to")


def test_far_too_much_is_refused_before_it_is_unpacked(file: Path, tmp_path: Path) -> None:
    def bomb(members: dict[str, bytes]) -> None:
        members["face.png"] = b"\0" * (MAX_FILE_BYTES + 1)

    said = refused(rewritten(file, bomb), tmp_path / "to")
    assert file.stat().st_size < 1_000_000
    assert said == (
        f"'face.png' in it is larger when unpacked than {MAX_FILE_BYTES / 1e6:g} MB, the most a "
        "family has; nothing was unpacked"
    )
    assert MAX_BYTES < 2 * MAX_FILE_BYTES


def test_a_member_longer_than_it_says_is_cut_off(file: Path, tmp_path: Path) -> None:
    """The directory says ten bytes, the packed stream goes on: no more than ten are written."""
    rewritten(file, lambda _: None)
    forge_size(file, "bus/made.dbc", 5)
    assert "is not what was packed" in refused(file, tmp_path / "to")


def test_a_list_that_lies_about_its_size_is_not_inflated(file: Path, tmp_path: Path) -> None:
    """40 MB packed small under a told size of 60 kB: no more than the list may have is unpacked."""

    def bomb(members: dict[str, bytes]) -> None:
        members[MANIFEST] += b" " * 40_000_000

    rewritten(file, bomb)
    forge_size(file, MANIFEST, 60_000)
    assert file.stat().st_size < 100_000
    tracemalloc.start()
    try:
        said = refused(file, tmp_path / "to")
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert said.startswith("is damaged or cut short, so it cannot be unpacked (Bad CRC")
    assert peak < 5_000_000


def test_too_many_or_unknown_files(file: Path, tmp_path: Path) -> None:
    whole = file.read_bytes()
    with zipfile.ZipFile(file, "a") as archive:
        archive.writestr("setup.exe", b"MZ")
    said = refused(file, tmp_path / "to")
    assert said.startswith("holds 'setup.exe', which its manifest.json does not name")
    with zipfile.ZipFile(file, "a") as archive:
        for number in range(30):
            archive.writestr(f"{number}.txt", b"")
    assert refused(file, tmp_path / "to").startswith("holds 35 files, a family at most 20")
    file.write_bytes(whole)
    with zipfile.ZipFile(file, "a") as archive, pytest.warns(UserWarning, match="Duplicate"):
        archive.writestr("family.json", b"{}")
    assert refused(file, tmp_path / "to").startswith("holds 'family.json' twice")


def test_a_file_that_no_signal_names_is_refused(file: Path, tmp_path: Path) -> None:
    document = json.loads((tmp_path / "from" / "family.json").read_text())
    del document["dials"][0]["signal"]
    put(tmp_path / "other", document)
    content, listed = packed(tmp_path / "other")
    (tmp_path / "other.zip").write_bytes(content)
    with zipfile.ZipFile(file) as archive:
        database = archive.read("bus/made.dbc")
    entries = json.loads(packed(tmp_path / "from")[1].model_dump_json())["files"]

    def change(members: dict[str, bytes]) -> None:
        members["bus/made.dbc"] = database
        ours = [f.model_dump() for f in listed.files] + entries[2:]
        relisted(
            members,
            files=ours,
            content_hash=content_hash_of({f["name"]: f["sha256"] for f in ours}),
        )

    said = refused(rewritten(tmp_path / "other.zip", change), tmp_path / "to")
    assert said.startswith("holds 'bus/made.dbc', which the family in it does not use")


def test_what_is_missing_or_of_another_form(file: Path, tmp_path: Path) -> None:
    into, whole = tmp_path / "to", file.read_bytes()
    said = refused(rewritten(file, lambda m: m.pop(MANIFEST)), into)  # type: ignore[arg-type, return-value]
    assert said.startswith("has no manifest.json, so nothing says what should be in it")
    file.write_bytes(whole)
    said = refused(rewritten(file, lambda m: m.pop("face.png")), into)  # type: ignore[arg-type, return-value]
    assert said.startswith("lacks 'face.png', which its list names")
    file.write_bytes(whole)
    said = refused(rewritten(file, lambda m: relisted(m, format_version=2)), into)
    assert said == (
        "was made by a newer version of this program (its form is 2, this program knows forms up "
        "to 1); use the newer program"
    )
    for changed in ({"format": "something"}, {"files": "all"}, {"format_version": "1"}):
        file.write_bytes(whole)
        rewritten(file, lambda m, changed=changed: relisted(m, **changed))  # type: ignore[misc]
        assert "its manifest.json is not that of a family" in refused(file, into)


def test_a_family_that_the_check_does_not_pass(file: Path, tmp_path: Path) -> None:
    document = plain()
    document["dials"][0]["direction"] = "ccw"
    spoilt = json.dumps(document).encode()

    def change(members: dict[str, bytes]) -> None:
        members["family.json"] = spoilt
        del members["bus/made.dbc"]
        files = json.loads(members[MANIFEST])["files"][:2]
        files[0] |= {"sha256": hashlib.sha256(spoilt).hexdigest(), "size": len(spoilt)}
        hashes = {entry["name"]: entry["sha256"] for entry in files}
        relisted(members, files=files, content_hash=content_hash_of(hashes))

    said = refused(rewritten(file, change), tmp_path / "to")
    assert said.startswith(
        "the family in it cannot be used: family.json: dial 'speed', direction: expected 'cw', as"
    )
