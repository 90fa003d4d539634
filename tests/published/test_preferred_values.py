"""The preferred resistor values against the package `eseries`, which has IEC 60063 of its own."""

import eseries
import pytest
from hypothesis import given
from hypothesis import strategies as st

from needlewright.plans.sums.led_instead import led_string
from needlewright.signals.preferred import E24, E96, at_or_above, nearest

SERIES = {"E24": eseries.E24, "E96": eseries.E96}


def test_the_series_are_the_same():
    # IEC 60063, tables 1 and 2, as PyPI `eseries` has them.
    assert tuple(eseries.series(eseries.E24)) == E24
    assert tuple(eseries.series(eseries.E96)) == E96


@given(st.floats(1.0, 9e6), st.sampled_from(["E24", "E96"]))
def test_the_next_and_the_nearest_value_are_the_same(ohm, series):
    # IEC 60063 as PyPI `eseries` looks it up.
    theirs = SERIES[series]
    assert at_or_above(ohm, series) == pytest.approx(
        eseries.find_greater_than_or_equal(theirs, ohm * (1 - 1e-9))
    )
    mine = nearest(ohm, series)
    assert abs(mine - ohm) == pytest.approx(abs(eseries.find_nearest(theirs, ohm) - ohm), abs=1e-6)


@given(st.floats(0.001, 0.05), st.integers(1, 3), st.sampled_from(["E24", "E96"]))
def test_the_resistor_of_an_led_is_the_next_of_the_series(amps, count, series):
    # Ohm's law, then IEC 60063 as PyPI `eseries` looks it up.
    leds = led_string(13.5, 3.0, count, amps, series=series)
    wanted = (13.5 - 3.0 * count) / amps * (1 - 1e-9)  # a rounding is no step of the series
    theirs = eseries.find_greater_than_or_equal(SERIES[series], wanted)
    assert leds.ohm == pytest.approx(theirs)
