"""Which gauges an owner's own words name. Sentences as owners write them: no source."""

import pytest

from needlewright.composing.complaint_words import gauges_named, named_words
from needlewright.composing.gauge_names import gauge_names
from readings.light.lit_demo import FAMILY

ALL = tuple(dial.id for dial in FAMILY.dials)


@pytest.mark.parametrize(
    ("said", "named"),
    [
        ("fuel gauge hangs at a quarter whatever is in the tank", ("fuel",)),
        ("Speedometer sticks at 60, then jumps; REV COUNTER rests above zero", ("engine", "speed")),
        ("temperature needle sits below its mark with the ignition off", ("temp",)),
        ("display dim, worse when warm; speedo 10 over at motorway speed", ("speed",)),
        ("all needles dead in the morning, alive once the cabin is warm", ALL),
        ("every gauge is dead", ALL),
        ("none of the gauges work", ALL),
        ("no needles move at all", ALL),
        ("all gauges work except the fuel gauge", ("fuel",)),
        ("All of the gauges work, but the speedo sticks", ("speed",)),
        ("no gauges ever failed, only the speedo sticks", ("speed",)),
        ("no gauges ever failed", ()),
        ("all dials are fine apart from the temp gauge", ("temp",)),
        ("happens at high revs", ()),
        ("fuel gauge twitches above about 3,000 rpm", ("fuel",)),
        ("dims at low temperature", ()),
        ("hangs at the rev counter, not at the temp gauge", ("engine", "temp")),
        ("the revs jump", ("engine",)),
        ("the tacho\nis dead", ("engine",)),
        ("temp gauge jumps", ("temp",)),
        ("needle rattles; refuelled and tempered it, speeding up", ()),
        ("the lamps are dark", ()),
        ("", ()),
    ],
)
def test_gauges_that_are_called_by_name_are_found_and_nothing_else(said, named):
    assert {*ALL} == {"engine", "speed", "temp", "fuel"}
    assert gauges_named(said, FAMILY) == tuple(one for one in ALL if one in named)


def test_gauges_are_listed_as_a_sentence_lists_them():
    names = gauge_names(FAMILY)
    assert named_words(("fuel",), names) == "the fuel level gauge"
    assert named_words(("speed", "fuel"), names) == "the road speed gauge and the fuel level gauge"
    assert named_words(("engine", "speed", "fuel"), names) == (
        "the engine speed gauge, the road speed gauge and the fuel level gauge"
    )
