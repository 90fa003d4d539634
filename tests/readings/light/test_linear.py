"""From codes to light, against the standard's figures and a colour management library."""

import numpy as np
import pytest
from PIL import Image, ImageCms

from needlewright.readings.light.linear import WHOLE_CURVE, linear_light, luminance


@pytest.mark.parametrize(
    ("code", "light"),
    [(0, 0.0), (10, 10 / 255 / 12.92), (128, 0.21586), (188, 0.50289), (255, 1.0)],
)
def test_light_of_codes(code: int, light: float) -> None:
    """IEC 61966-2-1:1999, clause 5.2, its formula by hand; from memory."""
    assert linear_light(np.array([code], np.uint8))[0] == pytest.approx(light, abs=1e-5)
    assert WHOLE_CURVE[code] / 65535 == pytest.approx(light, abs=1e-5)


def test_greys_as_a_colour_management_library_has_them() -> None:
    """LittleCMS through Pillow: L* of greys, CIE 15 (L* = 116 Y^(1/3) - 16, from memory)."""
    codes = np.arange(20, 256, 5, dtype=np.uint8)
    greys = Image.fromarray(np.repeat(codes[None, :, None], 3, axis=2))
    to_lab = ImageCms.buildTransform(
        ImageCms.createProfile("sRGB"), ImageCms.createProfile("LAB"), "RGB", "LAB"
    )
    lab = np.asarray(ImageCms.applyTransform(greys, to_lab), float)[0, :, 0] * 100 / 255
    y = luminance(np.repeat(linear_light(codes)[:, None], 3, axis=1))
    mine = np.where(y > 216 / 24389, 116 * np.cbrt(y) - 16, y * 24389 / 27)
    assert np.abs(mine - lab).max() < 0.4  # a step of the library's eight bits


def test_luminance_of_the_primaries() -> None:
    """ITU-R BT.709-6, item 3.2, from memory."""
    assert luminance(np.eye(3, dtype=np.float32)).tolist() == pytest.approx(
        [0.0722, 0.7152, 0.2126]
    )
