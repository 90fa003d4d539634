"""Senders, sensors, preferred values against figures printed elsewhere; each names its source."""

import math

import pytest

from needlewright.signals.line_table import LineTable
from needlewright.signals.preferred import E24, E96, at_or_above, nearest
from needlewright.signals.pulses import PulseSignal
from needlewright.signals.resistance import SENDER_PAIRS
from needlewright.signals.signal import Wire
from needlewright.signals.thermistor import SteinhartHart

TABLE_10K = {0.0: 32128, 10.0: 19549, 20.0: 12262, 25.0: 9814, 30.0: 7908, 50.0: 3542}
"""Rows of a printed table of a 10 k thermistor, degrees Celsius to ohm; no source is named: it is a
maker's. They hold the law, not the part."""


def test_fuel_sender_pairs():
    # Common practice, no source; empty first, so the order is the direction.
    assert SENDER_PAIRS == (
        (240, 33),
        (73, 10),
        (75, 10),
        (0, 90),
        (0, 30),
        (10, 180),
        (16, 158),
        (40, 250),
    )


def test_a_wrong_sender_on_a_gauge():
    # Computed, linear in ohms: the empty end of a 75-10 sender on a 240-33 gauge shows 79.7 %.
    gauge = LineTable((0.0, 1.0), (240.0, 33.0))
    assert round(100 * gauge.value_at(75.0), 1) == 79.7


def fitted() -> SteinhartHart:
    return SteinhartHart.through(tuple((t, TABLE_10K[t]) for t in (0.0, 25.0, 50.0)))


def test_steinhart_hart_coefficients():
    # Computed from the published table through 0, 25 and 50 degC.
    fit = fitted()
    assert fit.a == pytest.approx(1.1041591e-3, rel=1e-7)
    assert fit.b == pytest.approx(2.3891795e-4, rel=1e-7)
    assert fit.c == pytest.approx(6.9316265e-8, rel=1e-6)


def test_steinhart_hart_meets_the_other_rows_and_poorer_models_do_not():
    # The published table: the rows that were not fitted are met within 0.003 degC.
    fit = fitted()
    worst = max(abs(fit.celsius_at(ohm) - t) for t, ohm in TABLE_10K.items())
    assert worst < 0.003
    beta = math.log(TABLE_10K[0.0] / TABLE_10K[50.0]) / (1 / 273.15 - 1 / 323.15)

    def by_beta(ohm: float) -> float:
        return 1 / (1 / 298.15 + math.log(ohm / TABLE_10K[25.0]) / beta) - 273.15

    line = LineTable((0.0, 25.0, 50.0), tuple(float(TABLE_10K[t]) for t in (0.0, 25.0, 50.0)))
    for model in (by_beta, line.value_at):
        assert max(abs(model(ohm) - t) for t, ohm in TABLE_10K.items()) > 0.05


def test_e24_and_nearest():
    # IEC 60063, series E24; the nearest to 319 as the PyPI package `eseries` has it.
    assert " ".join(map(str, E24)) == (
        "10 11 12 13 15 16 18 20 22 24 27 30 33 36 39 43 47 51 56 62 68 75 82 91"
    )
    assert nearest(319.0, "E24") == 330.0


def test_e96_at_or_above():
    # IEC 60063, series E96; at or above 184 as the PyPI package `eseries` has it.
    assert len(E96) == 96
    assert (E96[0], E96[25], E96[26], E96[-1]) == (100, 182, 187, 976)
    assert at_or_above(184.0, "E96") == 187.0


@pytest.mark.parametrize(("pulses", "kmh", "hz"), [(4000, 50, 55.6), (25_000, 180, 1250)])
def test_tachograph_pulses(pulses, kmh, hz):
    # EU tachograph annex I B 3.2.5, 4,000 to 25,000 pulses per km; frequencies computed.
    signal = PulseSignal(Wire("speed", "road speed", "km/h", 0.0, 220.0), "km", pulses)
    stimulus = signal.command(kmh).stimulus
    assert round(stimulus.frequency_hz, 1) == hz
