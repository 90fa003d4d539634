"""Edges in light, lines and rounds about a hub, on drawn pictures whose truth is exact."""

import sys
from pathlib import Path

import cv2
import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))

from drawn_face import view

from needlewright.readings.drafting.ink import on_circle
from needlewright.readings.drafting.lit import sample_light
from needlewright.readings.drafting.rounds import agrees, circle_centre, find_round

FINE = 8
SIZE_PX = (320, 240)
FLAT = view().projection


def coded(light):
    """sRGB codes of light from 0 to 1: IEC 61966-2-1:1999, clause 5.2 (from memory)."""
    codes = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    return np.rint(255 * codes).astype(np.uint8)


@pytest.mark.parametrize("blur_px", [0.8, 1.6])
def test_half_the_light_is_at_the_edge_and_half_the_code_is_not(blur_px):
    edge_px = 20.3
    fine = (np.arange(48 * FINE) + 0.5) / FINE - 0.5 < edge_px
    row = cv2.GaussianBlur(fine.astype(np.float64)[None], (0, 0), blur_px * FINE)
    light = 0.02 + 0.8 * row.reshape(-1, FINE).mean(axis=1)
    picture = np.repeat(np.repeat(coded(light)[None, :, None], 24, 0), 3, 2)
    x = np.arange(12.0, 30.0, 0.05)
    at = np.stack([x, np.full_like(x, 11.5)], axis=-1)[None]
    seen = sample_light(picture, at)[0, :, 3]
    half = x[np.argmax(seen < (0.02 + 0.4) * 255)]
    assert half == pytest.approx(edge_px, abs=0.06)
    codes = np.interp(x, np.arange(48), picture[12, :, 0])
    beside = x[np.argmax(codes < (codes[0] + codes[-1]) / 2)] - edge_px
    assert beside > 0.5 * blur_px  # by the more the wider the blur


def disc(centre_px, radius_px, *, light=(0.05, 0.11), turn_share=1.0):
    """A disc on a ground, with a spindle's shadow at its middle, blurred and noisy."""
    canvas = np.full((SIZE_PX[1] * FINE, SIZE_PX[0] * FINE), light[0], np.float32)
    angles = np.linspace(0, 360.0 * turn_share, 400)
    points = np.vstack([on_circle(np.array(centre_px), angles, radius_px), [centre_px]])
    fine = np.rint(((points + 0.5) * FINE - 0.5) * 16).astype(np.int32)
    cv2.fillPoly(canvas, [fine.reshape(-1, 1, 2)], light[1], cv2.LINE_8, shift=4)
    shadow = tuple(int(c * FINE) for c in np.add(centre_px, 4.0))
    cv2.circle(canvas, shadow, 3 * FINE, 0.01, -1)
    small = cv2.resize(canvas, SIZE_PX, interpolation=cv2.INTER_AREA)
    soft = coded(cv2.GaussianBlur(small, (0, 0), 0.9)).astype(np.float64)
    noisy = soft[..., None] + np.random.default_rng(6).normal(0, 1.5, (*soft.shape, 3))
    return np.clip(np.rint(noisy), 0, 255).astype(np.uint8)


def plane_of(at_px):
    return FLAT.to_face(np.array(at_px))


def test_a_printed_disc_says_where_its_centre_is():
    """Its centre also against OpenCV's ellipse fit of the same points."""
    true = (160.37, 118.82)
    found = find_round(disc(true, 31.4), FLAT, plane_of((161.2, 118.0)), (62.0, 80.0))
    centre = found.centre(FLAT)
    assert FLAT.to_photo(centre) == pytest.approx(true, abs=0.06)
    theirs, _, _ = cv2.fitEllipse(found.points_px.astype(np.float32))
    assert FLAT.to_photo(centre) == pytest.approx(theirs, abs=0.05)
    radii = np.linalg.norm(found.points_px - true, axis=1)
    assert radii.mean() == pytest.approx(31.4, abs=0.1)
    # as sure as two passes of ink agree, and no surer
    assert found.doubt == pytest.approx(0.003 * 80.0, rel=0.1)


def test_what_is_round_about_another_point_has_no_say():
    found = find_round(disc((161.2, 118.0), 31.4), FLAT, plane_of((160.0, 118.0)), (62.0, 80.0))
    sure = 0.1**2 * np.eye(2)
    assert agrees(found, FLAT, plane_of((161.3, 118.0)), sure)
    assert not agrees(found, FLAT, plane_of((160.0, 118.0)), sure)


@pytest.mark.parametrize(
    "picture",
    [
        np.full((240, 320, 3), 60, np.uint8),
        disc((160.0, 118.0), 31.4, turn_share=0.5),
        disc((160.0, 118.0), 31.4, light=(0.05, 0.0505)),
    ],
    ids=["nothing", "half a disc", "too faint"],
)
def test_no_round_is_found_where_there_is_none(picture):
    assert find_round(picture, FLAT, plane_of((160.0, 118.0)), (62.0, 80.0)) is None


def test_the_circle_fit_is_exact_on_exact_points():
    points = on_circle(np.array([3.0, -2.0]), np.array([0.0, 70.0, 110.0, 200.0]), 5.0)
    assert circle_centre(points) == pytest.approx([3.0, -2.0], abs=1e-9)
