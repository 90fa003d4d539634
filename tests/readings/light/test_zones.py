"""How a face is divided into zones."""

from dataclasses import replace

import numpy as np

from needlewright.families.folder import load_family
from needlewright.readings.light.zones import zoning_of
from readings.drawn_clips import FAMILIES
from readings.light.lit_demo import FAMILY


def test_by_the_lamps_a_family_states() -> None:
    zoning = zoning_of(FAMILY)
    assert zoning.source == "lamps"
    assert [zone.id for zone in zoning.zones] == ["behind-engine", "behind-speed", "behind-small"]
    assert [zone.mirror for zone in zoning.zones] == [3, None, 1]
    numbers = zoning.of_places((125, 303), 1.0)
    for zone, lamp in zip(zoning.zones, FAMILY.lamps, strict=True):
        x, y = lamp.centre_mm
        assert numbers[int(y), int(x)] == zone.number
    assert set(np.unique(numbers)) == {1, 2, 3}


def test_evenly_round_the_dials_where_it_states_none() -> None:
    zoning = zoning_of(replace(FAMILY, lamps=()))
    assert zoning.source == "dials"
    by_id = {zone.id: zone for zone in zoning.zones}
    assert set(by_id) == {
        "engine-left",
        "engine-right",
        "speed-left",
        "speed-right",
        "temp",
        "fuel",
    }
    assert by_id["speed-left"].mirror == by_id["speed-right"].number
    assert by_id["speed-right"].mirror == by_id["speed-left"].number
    numbers = zoning.of_places((125, 303), 1.0)
    x, y = FAMILY.dial("speed").centre_mm
    assert numbers[int(y), int(x) - 20] == by_id["speed-left"].number
    assert numbers[int(y), int(x) + 20] == by_id["speed-right"].number


def test_one_lamp_divides_nothing() -> None:
    assert zoning_of(replace(FAMILY, lamps=FAMILY.lamps[:1])).source == "dials"


def test_mirror_images_are_of_each_other() -> None:
    """A small dial may lie nearest to the half of a larger one, whose image is its other half."""
    zones = zoning_of(load_family(FAMILIES / "fam-job")).zones
    by_number = {zone.number: zone for zone in zones}
    for zone in zones:
        assert zone.mirror is None or by_number[zone.mirror].mirror == zone.number
    assert {zone.id: zone.mirror for zone in zones}["fuel"] is None
