"""Light of zones in drawn photos of a lit face: true within what is stated, however exposed."""

from functools import cache

import numpy as np
import pytest

from needlewright.errors import PictureError
from needlewright.readings.light.field import light_field
from needlewright.readings.light.laying import LaidLight, lay_print
from needlewright.readings.light.linear import BLACK_LIGHT
from needlewright.readings.light.spots import Spot, discs
from needlewright.readings.light.zone_light import (
    FaceLight,
    ReferenceKind,
    combined,
    evenness_of,
    zone_lights,
)
from needlewright.readings.light.zones import zoning_of
from readings.light.lit_demo import (
    FAMILY,
    LAMPS,
    SOUND,
    Photo,
    exposed,
    jpeg,
    laid,
    laid_there,
    level_at,
    photo,
)

ZONING = zoning_of(FAMILY)
SPOTS = [Spot(t.id, t.centre_mm, t.reach_mm or 3.0) for t in FAMILY.tell_tales]


@cache
def healthy() -> LaidLight:
    return laid(photo(SOUND), "healthy")


def measured(seen: Photo, kind: ReferenceKind = "healthy") -> tuple[FaceLight, np.ndarray]:
    """The zones, and the true light of each in that of the brightest."""
    here = laid_there(seen, healthy())
    zones = ZONING.of_places(here.seen.shape, here.px_per_mm)
    out = discs(
        here,
        [(d.centre_mm, d.needle.hub_radius_mm + 2.5) for d in FAMILY.dials]
        + [(s.centre_mm, 1.3 * s.reach_mm) for s in SPOTS],
    )
    reference = healthy() if kind == "healthy" else lay_print(FAMILY, here)
    cells = light_field(here, reference, zones, out)
    face = zone_lights(
        cells, ZONING.zones, reference=kind, room=0.025, floor=BLACK_LIGHT / cells.contrast
    )
    assert face is not None
    return face, cells


def truth(shares: dict[str, float], cells) -> np.ndarray:
    level = level_at(shares, cells.places_mm)
    light = np.array([np.median(level[cells.zone == z.number]) for z in ZONING.zones])
    return light / np.median(light[light >= 0.8 * light.max()])


def lights(face: FaceLight) -> np.ndarray:
    return np.array([zone.light for zone in face.zones], float)


@pytest.mark.parametrize("kind", ["healthy", "print"])
def test_a_dead_lamp_and_one_at_half(kind: ReferenceKind) -> None:
    shares = {"behind-engine": 0.0, "behind-speed": 1.0, "behind-small": 0.5}
    face, cells = measured(photo(shares), kind)
    true = truth(shares, cells)
    assert true == pytest.approx([0.03, 1.0, 0.5], abs=0.03)
    off = (lights(face) - true) / np.array([zone.u_light for zone in face.zones])
    assert np.abs(off).max() < 2.0
    assert face.zones[0].light < 0.07
    assert face.zones[2].light == pytest.approx(true[2], abs=0.03 if kind == "healthy" else 0.09)
    against = face.zones[2].against_mirror
    assert against is not None
    assert against.light > 5
    even = evenness_of(face)
    assert even is not None
    assert even.spread == pytest.approx(np.std(true, ddof=1) / np.mean(true), abs=2 * even.u_spread)


@pytest.mark.parametrize("times", [0.15, 1.8])
def test_exposure_and_gain_change_nothing(times: float) -> None:
    shares = {"behind-engine": 1.0, "behind-speed": 0.6, "behind-small": 1.0}
    seen = photo(shares)
    as_taken, _ = measured(seen)
    otherwise, _ = measured(exposed(seen, times))
    assert otherwise.factor == pytest.approx(times * as_taken.factor, rel=0.03)
    assert lights(otherwise) == pytest.approx(lights(as_taken), abs=0.02)


def test_a_jpeg_says_the_same() -> None:
    shares = {"behind-engine": 1.0, "behind-speed": 1.0, "behind-small": 0.4}
    face, cells = measured(jpeg(photo(shares), 80))
    assert lights(face) == pytest.approx(truth(shares, cells), abs=0.05)


def test_what_is_blown_out_is_left_out_and_said() -> None:
    seen = photo({"behind-engine": 0.3, "behind-speed": 1.0, "behind-small": 1.0})
    face, _ = measured(exposed(seen, 6.0))
    engine, speed, small = face.zones
    assert engine.light is not None
    assert (speed.why, small.why) == ("overexposed", "overexposed")
    assert min(speed.saturated, small.saturated) > 0.5 > engine.saturated


def test_what_is_black_is_no_more_than_that() -> None:
    shares = {"behind-engine": 0.0, "behind-speed": 1.0, "behind-small": 1.0}
    face, _ = measured(exposed(photo(shares), 0.05))
    engine = face.zones[0]
    assert engine.black > 0.3
    assert engine.u_light > 0.02
    assert engine.light < 0.1


def test_the_stated_uncertainty_is_that_of_the_errors() -> None:
    """Errors of dim zones in their own uncertainties, by cameras of ten tone curves.

    A camera whose curve is the standard one to a power of 1 ± 0.1 (k = 1) is what the component of
    the tone curve stands for; the healthy unit was seen by one of the standard curve.
    """
    rng = np.random.default_rng(4)
    off = []
    for _ in range(10):
        shares = {lamp: float(rng.uniform(0.1, 0.8)) for lamp in LAMPS}
        shares[str(rng.choice(LAMPS))] = 1.0
        seen = exposed(photo(shares), float(rng.uniform(0.4, 1.4)))
        curved = np.round(255 * (seen / 255) ** (1 + 0.1 * rng.standard_normal()))
        face, cells = measured(curved.astype(np.uint8))
        true, u = truth(shares, cells), np.array([zone.u_light for zone in face.zones])
        off += list(((lights(face) - true) / u)[true < 0.9])
    assert len(off) == 20
    assert np.mean(np.abs(off) < 2.0) >= 0.9
    assert 0.4 < np.std(off) < 1.3


def test_several_photos_are_taken_together() -> None:
    first, _ = measured(photo(SOUND))
    second, _ = measured(photo({**SOUND, "behind-engine": 0.8}))
    both = combined([first, second])
    engine = both.zones[0]
    assert engine.light == pytest.approx((first.zones[0].light + second.zones[0].light) / 2)
    apart = abs(first.zones[0].light - second.zones[0].light) / 2  # std / sqrt 2 of two values
    assert engine.u_light == pytest.approx(apart, rel=0.01)
    assert both.zones[1].u_light >= min(first.zones[1].u_light, second.zones[1].u_light)


def test_lamps_that_nobody_switched_on_are_not_judged() -> None:
    here = laid_there(photo({"behind-speed": 1.0, "behind-small": 1.0}), healthy())
    zones = ZONING.of_places(here.seen.shape, here.px_per_mm)
    cells = light_field(here, healthy(), zones, np.zeros(here.seen.shape, bool))
    face = zone_lights(cells, ZONING.zones, reference="healthy", room=0.0, unlit=frozenset({1}))
    assert face is not None
    assert face.zones[0].why == "its lamp was not switched on"


@pytest.mark.parametrize(
    ("seen", "words"),
    [
        (np.full((240, 360, 3), 3, np.uint8), "nothing in it gives light (too dark)"),
        (np.full((240, 360, 3), 255, np.uint8), "100 % of it is blown out (too bright)"),
        (
            np.random.default_rng(1).integers(0, 200, (240, 360, 3)).astype(np.uint8),
            "the face of family 'invented-estate' is not found in it",
        ),
    ],
)
def test_a_photo_that_is_none_is_one_sentence(seen: Photo, words: str) -> None:
    with pytest.raises(PictureError) as refused:
        laid(seen, "x.png")
    assert str(refused.value).startswith("x.png: ")
    assert words in str(refused.value)
