"""The face with its zones drawn: hatched where dim or dark, numbered, in words."""

from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from needlewright.papers.light_sheet import (
    LINE,
    LightSheet,
    SheetMark,
    SheetZone,
    draw_light_sheet,
    light_sheet_png,
)


def sheet(*states: str, marks: tuple[SheetMark, ...] = ()) -> LightSheet:
    light = np.full((60, 160, 3), 0.02, np.float32)
    light[25:35] = 0.4
    zones = np.repeat(np.arange(1, 5, dtype=np.int16), 40)[None].repeat(60, axis=0)
    named = tuple(SheetZone(n, s, f"zone {n}: {s}") for n, s in enumerate(states, start=1))
    return LightSheet("Lamp check", light, zones, 1.0, named, marks, ("a line below",))


def hatched(page: np.ndarray, quarter: int) -> float:
    """Share of a quarter of the face on which slanting lines lie."""
    part = page[80:280, 24 + 400 * quarter + 20 : 24 + 400 * (quarter + 1) - 20].astype(float)
    return float(np.mean(part[..., 0] > part[..., 2] + 60))


def test_dark_is_hatched_closer_than_dim_and_sound_is_not() -> None:
    page = draw_light_sheet(sheet("sound", "dim", "dark", "not seen"))
    assert page.shape[1] == 1648
    shares = [hatched(page, n) for n in range(4)]
    assert shares[0] == 0.0 == shares[3]
    assert shares[1] == pytest.approx(2 / 30, abs=0.02)
    assert shares[2] == pytest.approx(2 / 14, abs=0.03)


def test_a_sign_that_stayed_dark_is_ringed() -> None:
    marks = (SheetMark((20.0, 45.0), 3.0, "stop: did not light"),)
    without = draw_light_sheet(sheet("sound", "sound", "sound", "sound"))
    page = draw_light_sheet(sheet("sound", "sound", "sound", "sound", marks=marks))
    ringed = np.all(page == LINE, axis=2).sum() - np.all(without == LINE, axis=2).sum()
    circle = 2 * np.pi * 3.0 * 1.4 * 10
    assert ringed == pytest.approx(3 * circle, rel=0.35)


def test_the_file_is_the_drawing() -> None:
    drawn = sheet("sound", "dark", "sound", "sound")
    opened = np.asarray(Image.open(BytesIO(light_sheet_png(drawn))))
    assert np.array_equal(opened, draw_light_sheet(drawn))
