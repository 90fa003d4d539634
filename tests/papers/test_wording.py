import pytest

from needlewright.papers.wording import (
    count_words,
    day_words,
    hours_words,
    mileage,
    number,
    place_words,
    places_for,
    plus_minus,
    probability,
    sentence_for_people,
    sentences_for_people,
    short,
    span_words,
    unit_words,
    work_words,
)


@pytest.mark.parametrize(
    ("value", "places", "written"),
    [(-1.85, 1, "−1.9"), (-0.04, 1, "0.0"), (2.25, 2, "2.25"), (-0.001, 2, "0.00"), (7.0, 0, "7")],
)
def test_a_number_has_a_true_minus_and_no_minus_zero(value, places, written):
    assert number(value, places) == written


def test_an_error_has_its_sign_unless_it_is_nothing():
    assert plus_minus(2.31, 0.38, 1, signed=True) == "+2.3 ± 0.4"
    assert plus_minus(-2.31, 0.38, 1, signed=True) == "−2.3 ± 0.4"
    assert plus_minus(0.01, 0.38, 1, signed=True) == "0.0 ± 0.4"


def test_an_uncertainty_is_never_rounded_away():
    assert plus_minus(2.31, 0.012, 1) == "2.3 ± 0.02"
    assert plus_minus(2.31, None, 1) == "2.3 ± ?"


def test_a_column_takes_the_decimals_of_its_median_uncertainty():
    assert places_for([0.37, 0.38, 0.014]) == 1
    assert places_for([0.014, None, 0.0]) == 3
    assert places_for([]) == 2


def test_no_probability_is_a_certainty():
    assert probability(1.0) == "> 0.999"
    assert probability(0.0) == "< 0.001"
    assert probability(0.97725) == "0.977"
    assert probability(None) == "?"


def test_mileages_keep_their_tenths():
    assert mileage(184213.0, "km") == "184\u202f213 km"
    assert mileage(77162.7, "mi") == "77\u202f162.7 mi"
    assert mileage(None, "km") == "none stated"


def test_days_and_places():
    assert day_words("2026-03-02") == "2 March 2026"
    assert place_words({"commanded": 80.0, "approach": "up"}, "km/h") == "80 km/h, up"
    assert place_words({"commanded": None, "approach": "rest"}, "km/h") == "at rest"
    assert short(0.25) == "0.25"
    assert short(-40.0) == "−40"
    assert span_words(21.5, 21.5, "°C") == "21.5 °C"
    assert span_words(20.0, 22.5, "°C") == "20 to 22.5 °C"
    assert span_words(None, None, "V") == "not recorded"


def test_units_as_a_dial_prints_them():
    assert unit_words("1000 r/min") == "×1000 r/min"
    assert unit_words("degC") == "°C"
    said = "by 0.0685 (1000 r/min), by 0.5 degC, by 0.01 (fraction of full)"
    assert sentence_for_people(said) == "by 0.0685 ×1000 r/min, by 0.5 °C, by 0.01 of full"
    assert sentences_for_people(["fuel: fails"]) == ("Fuel: fails",)


def test_an_owner_is_told_that_a_needle_was_set_and_not_by_which_angles():
    line = "temp: needle set at −10 °C, intended −3.40°, achieved −3.32°, tip 1.77°"
    assert work_words(line) == "temp: needle set at −10 °C"
    assert work_words("speed: needle set straight") == "speed: needle set straight"


@pytest.mark.parametrize(
    ("hours", "said"),
    [
        (0.01633, "59 s"),
        (0.0166, "1 min"),
        (0.2, "12 min"),
        (1.0, "1 h"),
        (2.5, "2.5 h"),
        (1e3, "1\u202f000 h"),
    ],
)
def test_hours_as_people_say_them(hours, said):
    assert hours_words(hours) == said
    assert (count_words(1, "look"), count_words(1200, "look")) == ("1 look", "1\u202f200 looks")
