import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from families.places import FAMILIES, NAMES, plain, put
from needlewright.errors import FamilyError, PictureError
from needlewright.families.face import (
    FaceHeader,
    face_header,
    open_face,
    size_disagreement,
)
from needlewright.families.folder import check_family, load_family


def png_of_size(path: Path, width: int, height: int) -> Path:
    """A PNG whose header states a size, with next to nothing behind it."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return (
            struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        )

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    path.write_bytes(
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", zlib.compress(b"\0" * 100))
        + chunk(b"IEND", b"")
    )
    return path


@pytest.mark.parametrize("name", NAMES)
def test_the_real_faces_open(name: str) -> None:
    family = load_family(FAMILIES / name)
    face = open_face(family.face_path)
    header = face_header(family.face_path)
    assert face.shape == (header.height_px, header.width_px, 3)
    assert face.dtype == np.uint8
    assert size_disagreement(header, family.face_size_mm, family.px_per_mm) is None


def test_red_green_blue_in_this_order(tmp_path: Path) -> None:
    Image.new("RGB", (64, 64), (10, 20, 30)).save(tmp_path / "face.png")
    assert open_face(tmp_path / "face.png")[5, 7].tolist() == [10, 20, 30]


@pytest.mark.parametrize(
    ("mode", "colour", "rgb"),
    [
        ("1", 1, [255, 255, 255]),
        ("L", 77, [77, 77, 77]),
        ("I;16", 77 * 256 + 3, [77, 77, 77]),  # 16 bits of grey
        ("RGBA", (10, 20, 30, 255), [10, 20, 30]),
        ("RGBA", (10, 20, 30, 0), [255, 255, 255]),  # nothing there: white
        ("LA", (50, 255), [50, 50, 50]),
    ],
)
def test_every_kind_of_png(
    tmp_path: Path, mode: str, colour: int | tuple[int, ...], rgb: list[int]
) -> None:
    Image.new(mode, (64, 64), colour).save(tmp_path / "face.png")
    assert open_face(tmp_path / "face.png")[0, 0].tolist() == rgb


def test_a_picture_of_40000_pixels_is_refused_by_its_header(tmp_path: Path) -> None:
    put(tmp_path, plain(), face=None)
    path = png_of_size(tmp_path / "face.png", 40_000, 40_000)
    sentence = (
        f"{path}: expected a picture of 64 to 16000 px a side and at most 100 million pixels, "
        "found 40000 x 40000 px; scale it down and state its px_per_mm"
    )
    for opening in (face_header, open_face):
        with pytest.raises(PictureError) as caught:
            opening(path)
        assert str(caught.value) == sentence
    with pytest.raises(FamilyError) as refused:
        load_family(tmp_path)
    assert str(refused.value) == sentence
    assert check_family(tmp_path)[-1].sentence == sentence


@pytest.mark.parametrize(
    ("size", "advice"),
    [
        ((16_001, 100), "scale it down"),
        ((12_000, 10_000), "scale it down"),
        ((500, 10), "scan it larger"),
        ((2**31 - 1, 2**31 - 1), "scale it down"),
    ],
)
def test_the_limits_of_size(tmp_path: Path, size: tuple[int, int], advice: str) -> None:
    path = png_of_size(tmp_path / "face.png", *size)
    with pytest.raises(PictureError, match=rf"found {size[0]} x {size[1]} px; {advice}"):
        face_header(path)


def test_no_face(tmp_path: Path) -> None:
    put(tmp_path, plain(), face=None)
    path = tmp_path / "face.png"
    with pytest.raises(FamilyError) as caught:
        load_family(tmp_path)
    assert str(caught.value) == (
        f"{path}: there is no such file; expected a PNG picture of the bare face"
    )


def test_what_is_no_picture(tmp_path: Path) -> None:
    path = tmp_path / "face.png"
    put(tmp_path, plain(), face=None)
    for data, words in (
        (b"not a picture at all", "found a file that is none"),
        (b"", "the file is empty"),
        (b"\x89PNG\r\n\x1a\n", "found a file that is none"),
        (b"\x89PNG\r\n\x1a\nrubbish behind it", "found a file that is none"),
    ):
        path.write_bytes(data)
        with pytest.raises(FamilyError, match=rf"{path}.*{words}") as caught:
            load_family(tmp_path)
        assert "expected a PNG picture of the bare face" in str(caught.value)


def test_another_kind_of_picture_under_the_name(tmp_path: Path) -> None:
    Image.new("RGB", (400, 320)).save(tmp_path / "face.png", "JPEG")
    with pytest.raises(PictureError, match="expected a PNG picture of the bare face"):
        open_face(tmp_path / "face.png")


def test_a_folder_in_its_place(tmp_path: Path) -> None:
    (tmp_path / "face.png").mkdir()
    with pytest.raises(PictureError, match=r"face\.png: .* picture of the bare face, found a fold"):
        face_header(tmp_path / "face.png")


def test_a_cut_off_picture(tmp_path: Path) -> None:
    put(tmp_path, plain())
    path = tmp_path / "face.png"
    noise = np.random.default_rng(5).integers(0, 256, (320, 400), dtype=np.uint8)
    Image.fromarray(noise).save(path)
    path.write_bytes(path.read_bytes()[:20_000])
    assert face_header(path) == FaceHeader(400, 320)
    with pytest.raises(PictureError, match=r"face\.png: the picture is damaged: .*again$"):
        open_face(path)
    notes = check_family(tmp_path)
    assert [note.words.split(":")[0] for note in notes if note.kind == "error"] == [
        "the picture is damaged"
    ]


def test_a_wrong_px_per_mm_is_an_error(tmp_path: Path) -> None:
    document = plain()
    document["px_per_mm"] = 12
    put(tmp_path, document)
    sentence = (
        f"{tmp_path / 'face.png'}: expected 1200 x 960 px, which is face_size_mm [100, 80] times "
        "px_per_mm 12, found 400 x 320 px; correct the one that is wrong"
    )
    with pytest.raises(FamilyError) as caught:
        load_family(tmp_path)
    assert str(caught.value) == sentence


def test_a_small_disagreement_is_a_remark(tmp_path: Path) -> None:
    put(tmp_path, plain(), face=(408, 320))
    assert load_family(tmp_path).name == "plain"
    (note,) = [note for note in check_family(tmp_path) if note.field == "px_per_mm"]
    assert note.kind == "remark"
    assert note.words.startswith("expected 400 x 320 px, which is face_size_mm [100, 80] times")
    assert "found 408 x 320 px" in note.words


def test_rounding_to_whole_pixels_is_no_disagreement() -> None:
    assert size_disagreement(FaceHeader(3451, 1483), (287.6, 123.6), 12) is None
    assert size_disagreement(FaceHeader(3454, 1483), (287.6, 123.6), 12) is None  # 0.08 %
    off = size_disagreement(FaceHeader(3456, 1483), (287.6, 123.6), 12)
    assert off is not None
    assert off[0] == pytest.approx(4.8 / 3451.2)
