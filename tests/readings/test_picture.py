"""Opening photos: what comes out, and one sentence for every way a file is no photo."""

import hashlib
import struct
import zlib
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from needlewright.errors import PictureError
from needlewright.readings.picture import (
    MAX_PIXELS,
    MAX_SIDE_PX,
    open_picture,
    picture_from_array,
)

PHOTOS = Path(__file__).parents[1] / "data" / "photos"

EXIF_ORIENTATION = 0x0112
EXIF_IFD = 0x8769
DATE_TIME_ORIGINAL = 0x9003
SUB_SECONDS_ORIGINAL = 0x9291
FOCAL_35MM = 0xA405


def quarters() -> Image.Image:
    """Red, green / blue, white quarters of a 200 x 100 picture."""
    image = Image.new("RGB", (200, 100), (255, 255, 255))
    image.paste((255, 0, 0), (0, 0, 100, 50))
    image.paste((0, 255, 0), (100, 0, 200, 50))
    image.paste((0, 0, 255), (0, 50, 100, 100))
    return image


def refusal(path: Path) -> str:
    with pytest.raises(PictureError) as caught:
        open_picture(path)
    sentence = str(caught.value)
    assert str(path) in sentence
    assert "\n" not in sentence
    return sentence


def png_header(width: int, height: int) -> bytes:
    """A PNG that says it is this large and has no pixels at all."""
    body = b"IHDR" + struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    chunk = struct.pack(">I", 13) + body + struct.pack(">I", zlib.crc32(body))
    end = struct.pack(">I", 0) + b"IEND" + struct.pack(">I", zlib.crc32(b"IEND"))
    return b"\x89PNG\r\n\x1a\n" + chunk + end


def test_a_photo_of_the_set() -> None:
    path = PHOTOS / "fam-a" / "photos" / "002.jpg"
    picture = open_picture(path)
    assert picture.pixels.shape == (1067, 1600, 3)
    assert picture.pixels.dtype == np.uint8
    assert picture.focal_35mm == 26
    assert picture.taken is None
    assert picture.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert open_picture(PHOTOS / "fam-a" / "photos" / "009.jpg").focal_35mm is None


def test_channels_are_blue_green_red(tmp_path: Path) -> None:
    quarters().save(tmp_path / "q.png")
    pixels = open_picture(tmp_path / "q.png").pixels
    assert pixels[10, 10].tolist() == [0, 0, 255]
    assert pixels[10, 150].tolist() == [0, 255, 0]
    assert pixels[80, 10].tolist() == [255, 0, 0]


# The EXIF orientation n says how the stored picture must be turned to stand upright; the corner
# that then holds the stored top-left corner (red), by EXIF 2.32, table 4 tag 274.
@pytest.mark.parametrize(
    ("orientation", "shape", "red_at"),
    [
        (1, (100, 200), (5, 5)),
        (2, (100, 200), (5, -5)),
        (3, (100, 200), (-5, -5)),
        (4, (100, 200), (-5, 5)),
        (5, (200, 100), (5, 5)),
        (6, (200, 100), (5, -5)),
        (7, (200, 100), (-5, -5)),
        (8, (200, 100), (-5, 5)),
    ],
)
def test_orientation_is_applied(
    tmp_path: Path, orientation: int, shape: tuple[int, int], red_at: tuple[int, int]
) -> None:
    exif = Image.Exif()
    exif[EXIF_ORIENTATION] = orientation
    quarters().save(tmp_path / "q.png", exif=exif)
    pixels = open_picture(tmp_path / "q.png").pixels
    assert pixels.shape[:2] == shape
    assert pixels[red_at].tolist() == [0, 0, 255]


def test_focal_length_and_time_are_read(tmp_path: Path) -> None:
    exif = Image.Exif()
    details = exif.get_ifd(EXIF_IFD)
    details[FOCAL_35MM] = 28
    details[DATE_TIME_ORIGINAL] = "2031:05:06 07:08:09"
    details[SUB_SECONDS_ORIGINAL] = "25"
    quarters().save(tmp_path / "q.jpg", exif=exif)
    picture = open_picture(tmp_path / "q.jpg")
    assert picture.focal_35mm == 28
    assert picture.taken == datetime(2031, 5, 6, 7, 8, 9, 250_000)


@pytest.mark.parametrize(("focal", "time"), [(0, "0000:00:00 00:00:00"), (0, "yesterday")])
def test_unknown_focal_length_and_time_are_none(tmp_path: Path, focal: int, time: str) -> None:
    exif = Image.Exif()
    details = exif.get_ifd(EXIF_IFD)
    details[FOCAL_35MM] = focal
    details[DATE_TIME_ORIGINAL] = time
    quarters().save(tmp_path / "q.jpg", exif=exif)
    picture = open_picture(tmp_path / "q.jpg")
    assert picture.focal_35mm is None
    assert picture.taken is None


def test_garbled_exif_does_not_spoil_a_photo(tmp_path: Path) -> None:
    quarters().save(tmp_path / "q.jpg", exif=b"Exif\0\0II*\0\x08\0\0\0\xff\xff\x12\x01\x03")
    picture = open_picture(tmp_path / "q.jpg")
    assert picture.pixels.shape == (100, 200, 3)
    assert picture.focal_35mm is None


@pytest.mark.parametrize("kind", ["JPEG", "MPO", "TIFF", "WEBP", "BMP", "AVIF"])
def test_formats(tmp_path: Path, kind: str) -> None:
    options = {"save_all": True, "append_images": [quarters()]} if kind == "MPO" else {}
    quarters().save(tmp_path / "q.img", kind, quality=95, **options)
    pixels = open_picture(tmp_path / "q.img").pixels
    assert pixels.shape == (100, 200, 3)
    assert np.abs(pixels[25, 50].astype(int) - [0, 0, 255]).max() <= 12


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "RGB", "RGBA"])
def test_png_modes(tmp_path: Path, mode: str) -> None:
    Image.new("RGB", (80, 70), (255, 255, 255)).convert(mode).save(tmp_path / "w.png")
    pixels = open_picture(tmp_path / "w.png").pixels
    assert pixels.shape == (70, 80, 3)
    assert (pixels == 255).all()


def test_cmyk_jpeg(tmp_path: Path) -> None:
    Image.new("RGB", (80, 70), (250, 0, 0)).convert("CMYK").save(tmp_path / "c.jpg")
    blue, green, red = open_picture(tmp_path / "c.jpg").pixels[35, 40].tolist()
    assert red > 240
    assert max(blue, green) < 15


def test_sixteen_bit_grey_keeps_its_upper_byte(tmp_path: Path) -> None:
    ramp = np.linspace(0, 65535, 80 * 70).astype(np.uint16).reshape(70, 80)
    Image.fromarray(ramp).save(tmp_path / "deep.png")
    pixels = open_picture(tmp_path / "deep.png").pixels
    assert (pixels == (ramp >> 8)[:, :, None]).all()


def test_transparent_parts_are_black(tmp_path: Path) -> None:
    Image.new("RGBA", (80, 70), (200, 200, 200, 0)).save(tmp_path / "t.png")
    assert not open_picture(tmp_path / "t.png").pixels.any()


def test_missing_file(tmp_path: Path) -> None:
    assert "no such file" in refusal(tmp_path / "none.jpg")


def test_folder(tmp_path: Path) -> None:
    assert "is a folder" in refusal(tmp_path)


def test_empty_file(tmp_path: Path) -> None:
    (tmp_path / "empty.jpg").touch()
    assert "zero bytes" in refusal(tmp_path / "empty.jpg")


@pytest.mark.parametrize("content", [b"just words, no picture at all", b"\xff\xd8", b"%PDF-1.7 "])
def test_no_picture(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "p.jpg").write_bytes(content)
    assert "p.jpg" in refusal(tmp_path / "p.jpg")


@pytest.mark.parametrize("share", [0.02, 0.1, 0.5, 0.9, 0.99])
def test_cut_short_jpeg(tmp_path: Path, share: float) -> None:
    whole = (PHOTOS / "fam-a" / "photos" / "001.jpg").read_bytes()
    (tmp_path / "cut.jpg").write_bytes(whole[: int(len(whole) * share)])
    assert "damaged or cut short" in refusal(tmp_path / "cut.jpg")


@pytest.mark.parametrize("share", [0.3, 0.9])
def test_cut_short_png(tmp_path: Path, share: float) -> None:
    quarters().save(tmp_path / "q.png")
    whole = (tmp_path / "q.png").read_bytes()
    (tmp_path / "q.png").write_bytes(whole[: int(len(whole) * share)])
    refusal(tmp_path / "q.png")


def test_flipped_bytes_never_leave_a_traceback(tmp_path: Path) -> None:
    quarters().save(tmp_path / "q.png")
    whole = (tmp_path / "q.png").read_bytes()
    random = np.random.default_rng(7)
    refused = 0
    for _ in range(200):
        bad = bytearray(whole)
        for at in random.integers(8, len(bad), 3):
            bad[at] ^= int(random.integers(1, 256))
        (tmp_path / "bad.png").write_bytes(bad)
        try:
            open_picture(tmp_path / "bad.png")
        except PictureError:
            refused += 1
    assert refused > 20  # the others decode to wrong colours, which no decoder notices


@pytest.mark.parametrize(
    ("width", "height"), [(40_000, 40_000), (40_000, 300), (200_000, 200_000), (20_000, 10_000)]
)
def test_too_large_is_refused_by_its_header(tmp_path: Path, width: int, height: int) -> None:
    assert width * height > MAX_PIXELS or max(width, height) > MAX_SIDE_PX
    (tmp_path / "huge.png").write_bytes(png_header(width, height))
    sentence = refusal(tmp_path / "huge.png")
    assert "at most 120 megapixels and 30000 px a side" in sentence


def test_too_small_is_refused(tmp_path: Path) -> None:
    Image.new("RGB", (1600, 20)).save(tmp_path / "thin.png")
    assert "1600 x 20 px" in refusal(tmp_path / "thin.png")


def test_heic_says_what_to_do(tmp_path: Path) -> None:
    (tmp_path / "p.heic").write_bytes(b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + bytes(64))
    sentence = refusal(tmp_path / "p.heic")
    assert "HEIC" in sentence
    assert "JPEG" in sentence


def test_float_pixels_are_no_photo(tmp_path: Path) -> None:
    Image.fromarray(np.zeros((80, 80), np.float32)).save(tmp_path / "f.tif")
    assert "no photo's" in refusal(tmp_path / "f.tif")


def test_name_that_cannot_be_one() -> None:
    with pytest.raises(PictureError, match=r"cannot be a file's name|no such file"):
        open_picture(Path("a\0b.jpg"))


def test_pictures_in_memory() -> None:
    grey = np.arange(70 * 80, dtype=np.uint8).reshape(70, 80)
    picture = picture_from_array(grey, focal_35mm=35)
    assert picture.pixels.shape == (70, 80, 3)
    assert (picture.pixels[:, :, 2] == grey).all()
    assert picture.focal_35mm == 35
    assert picture.sha256 == hashlib.sha256(picture.pixels.tobytes()).hexdigest()
    with pytest.raises(PictureError, match="shape"):
        picture_from_array(np.zeros((70, 80, 3), np.float64))  # type: ignore[arg-type]
    with pytest.raises(PictureError, match="at least 64 px"):
        picture_from_array(np.zeros((10, 80, 3), np.uint8))
