"""Units of the edges against a general-purpose library and published figures."""

import pytest
from scipy import constants

from needlewright.errors import UnitError
from needlewright.readings.drafting.inputs import QUANTITIES
from needlewright.units import SPELLED, UNITS, convert, spelling_of, unit_for_people

# scipy.constants: each in the SI unit of the second column (CODATA tables and exact definitions)
IN_SI = [
    ("mph", "km/h", constants.mph * 3.6, 1e-12),
    ("MPa", "kPa", 1e6 / 1e3, 1e-12),
    ("bar", "kPa", constants.bar / 1e3, 1e-12),
    ("psi", "kPa", constants.psi / 1e3, 1e-12),
    ("kgf/cm2", "kPa", constants.g / constants.centi**2 / 1e3, 1e-12),
    # the column of mercury in mm of the library; the conventional inch has seven figures
    ("inHg", "kPa", constants.mmHg * 25.4 / 1e3, 3e-7),
    ("US gal", "L", constants.gallon / constants.liter, 1e-12),
    ("imp gal", "L", constants.gallon_imp / constants.liter, 1e-12),
]


@pytest.mark.parametrize(("unit", "other", "factor", "within"), IN_SI)
def test_a_unit_is_what_the_library_says(
    unit: str, other: str, factor: float, within: float
) -> None:
    assert convert(1.0, unit, other) == pytest.approx(factor, rel=within)
    assert convert(factor, other, unit) == pytest.approx(1.0, rel=within)


def test_printed_figures() -> None:
    # NIST SP 811, appendix B.8: factors as printed there
    assert convert(1, "inHg", "kPa") == pytest.approx(3.386389, abs=5e-7)
    assert convert(1, "kgf/cm2", "kPa") == pytest.approx(98.0665, abs=5e-5)
    assert convert(1, "US gal", "L") == pytest.approx(3.785412, abs=5e-7)
    assert convert(1, "imp gal", "L") == pytest.approx(4.54609, abs=5e-6)


def test_degrees_against_the_library() -> None:
    for degf in (-40.0, 32.0, 212.0):
        wanted = constants.convert_temperature(degf, "Fahrenheit", "Celsius")
        assert convert(degf, "degF", "degC") == pytest.approx(wanted, abs=1e-9)


@pytest.mark.parametrize(("one", "other"), [("A", "V"), ("kW", "A"), ("L", "fraction of full")])
def test_units_of_two_quantities_are_not_converted(one: str, other: str) -> None:
    with pytest.raises(UnitError, match="cannot be converted into each other"):
        convert(1.0, one, other)


def test_spellings_lead_to_symbols_and_are_none_themselves() -> None:
    assert set(SPELLED.values()) <= set(UNITS)
    assert not set(SPELLED) & set(UNITS)
    assert [spelling_of(each) for each in ("°F", "l", "kpa", "V", "gal", "knots")] == [
        "degF", "L", "kPa", None, None, None,
    ]  # fmt: skip


def test_every_quantity_has_words_for_a_drafted_dial() -> None:
    assert {unit.quantity for unit in UNITS.values()} == set(QUANTITIES)
    assert unit_for_people("kgf/cm2") == "kgf/cm²"
