"""What is typed into a sum: units, limits, and one clear sentence for what cannot be used."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from needlewright.amounts import THIN
from needlewright.errors import SumError
from needlewright.plans.sums.bench_units import BENCH_UNITS, converted, same_quantity
from needlewright.plans.sums.catalogue import SUMS, names, sum_named
from needlewright.plans.sums.gauge_table import read_pairs
from needlewright.plans.sums.model import Amount, Choice, Figure, Line, Pasted
from needlewright.plans.sums.typed import read_input, read_inputs, work_out, wrong_inputs
from needlewright.plans.sums.wording import (
    default_words,
    figure_words,
    limit,
    number,
    range_words,
)

CURRENT = Amount("current", "Current", "A", 0.001, 10.0, 0.02)
MAYBE = Amount("life", "Rated life", "h", 1.0, 1e5, None)
PLAIN = Amount("count", "In a row", "", 1.0, 10.0, 1.0, whole=True)
SERIES = Choice("series", "Series", (("E24", "5 %"), ("E96", "1 %")), "E24")
TABLE = Pasted("table", "Table", "a,b\n1,2\n", longest=20)


@pytest.mark.parametrize(
    ("typed", "amps"),
    [
        (None, 0.02),
        ("0.5", 0.5),
        ("1,5", 1.5),
        ("12,5 mA", 0.0125),
        ("0,125", 0.125),
        ("0,0005e1", 0.005),
        (",5 A", 0.5),
        ("1,0000", 1.0),
        (" 20 mA ", 0.02),
        ("20mA", 0.02),
        ("1e-3", 0.001),
        (".5 A", 0.5),
        ("1 mA", 0.001),
    ],
)
def test_a_number_is_taken_in_any_unit_of_its_quantity(typed: str | None, amps: float) -> None:
    assert read_input(CURRENT, typed) == pytest.approx(amps, rel=1e-12)


@pytest.mark.parametrize(
    ("one", "typed", "sentence"),
    [
        (CURRENT, "many", "Current: expected a number from 0.001 to 10 A, found 'many'"),
        (CURRENT, " ", "Current: give a number from 0.001 to 10 A"),
        (CURRENT, "1,000", "Current: 1,000 can be read in two ways; write 1000 or 1.0"),
        (CURRENT, "12,250 mA", "Current: 12,250 mA can be read in two ways; write 12250 or 12.25"),
        (
            CURRENT,
            "1,234.5",
            "Current: the commas of '1,234.5' can be read in two ways; "
            "write the number with one point and no comma",
        ),
        (CURRENT, "3 V", "Current: 'V' is not a unit of current; use one of: A, mA"),
        (CURRENT, "nan", "Current: expected a number from 0.001 to 10 A, found 'nan'"),
        (
            CURRENT,
            "11",
            "Current: 11 is out of what this sum is good for; give a number from 0.001 to 10 A",
        ),
        (
            CURRENT,
            "1e999",
            "Current: 1e999 is out of what this sum is good for; give a number from 0.001 to 10 A",
        ),
        (CURRENT, "9" * 99, f"Current: expected a number from 0.001 to 10 A, found '{'9' * 60}'"),
        (PLAIN, "2 A", "In a row: it has no unit, found '2 A'; give a whole number from 1 to 10"),
        (PLAIN, "1.5", "In a row: 1.5 is not a whole number; give a whole number from 1 to 10"),
        (SERIES, "E12", "Series: there is no 'E12'; use one of: E24, E96"),
        (
            TABLE,
            "x" * 21,
            "Table: 21 characters are more than the 20 that are taken; "
            "leave out what is not needed",
        ),
    ],
)
def test_what_cannot_be_used_is_said_in_a_sentence(one, typed: str, sentence: str) -> None:
    with pytest.raises(SumError) as raised:
        read_input(one, typed)
    assert str(raised.value) == sentence


def test_what_may_be_left_empty_is_none_and_a_minus_may_be_a_true_one() -> None:
    assert read_input(MAYBE, " ") is None
    assert read_input(Amount("t", "T", "degC", -60.0, 60.0, 20.0), "−40 °F") == pytest.approx(-40)
    assert read_input(TABLE, "a,b\n") == "a,b\n"


def test_a_text_that_is_not_given_is_the_example_and_an_empty_one_is_refused() -> None:
    reflow = sum_named("reflow")
    csv = next(one for one in reflow.inputs if isinstance(one, Pasted))
    assert read_inputs(reflow, {}).word("csv") == csv.example
    sentence = "Recording: there is nothing in it; paste the text, or take its file"
    with pytest.raises(SumError, match=sentence):
        work_out(reflow, {"csv": " \n"})
    assert str(wrong_inputs(reflow, {"csv": ""})["csv"]) == sentence


def test_an_input_that_is_not_asked_for_is_refused() -> None:
    with pytest.raises(SumError, match="lamp-life asks for no 'colour'; it asks for: voltage,"):
        read_inputs(sum_named("lamp-life"), {"colour": "red"})
    with pytest.raises(SumError, match="there is no sum 'dinner'; use one of: lamp-life"):
        sum_named("dinner")


def test_every_wrong_input_is_named() -> None:
    wrong = wrong_inputs(sum_named("lamp-life"), {"voltage": "x", "rated-life": "0"})
    assert set(wrong) == {"voltage", "rated-life"}


@given(st.sampled_from(sorted(BENCH_UNITS)), st.data(), st.floats(-1e6, 1e6))
def test_a_number_comes_back_from_every_unit_of_its_quantity(symbol, data, value) -> None:
    other = data.draw(st.sampled_from(same_quantity(symbol)))
    there = converted(value, symbol, other)
    unit, target = BENCH_UNITS[symbol], BENCH_UNITS[other]
    slack = 1e-9 * (abs(value) + (abs(unit.shift) + abs(target.shift)) / unit.factor) + 1e-200
    assert converted(there, other, symbol) == pytest.approx(value, rel=1e-9, abs=slack)


@pytest.mark.parametrize(
    ("value", "digits", "words"),
    [
        (0.88, 3, "0.880"),
        (0.9996, 3, "1.00"),
        (26712.3, 3, f"26{THIN}712"),
        (-3.2, 2, "−3.2"),
        (4.1e9, 2, "4.1 × 10^9"),
        (0.0, 3, "0"),
        (2e-7, 1, "2 × 10^−7"),
    ],
)
def test_numbers_as_people_read_them(value: float, digits: int, words: str) -> None:
    assert number(value, digits) == words


def test_limits_are_written_out() -> None:
    # ISO 80000-1:2009, 7.3.1 (from memory): thousands stand apart by a small space
    million = f"10{THIN}000{THIN}000"
    assert [limit(one) for one in (1e-6, 1e7, -40.0, 0.0)] == ["0.000001", million, "−40", "0"]
    assert [default_words(one) for one in (1e6, 1e-5, -30.0, 97.1, 0.0)] == [
        "1000000", "0.00001", "−30", "97.1", "0",
    ]  # fmt: skip


def test_a_number_may_be_typed_as_it_is_shown() -> None:
    wide = Amount("ohm", "Resistance", "ohm", 0.01, 1e6, 100.0)
    for typed in (
        limit(1e6),
        f"{limit(1e6)} ohm",
        "1 000 000",
        "1\u2009000\u00a0000 Ω",
        "1000 kohm",
    ):
        assert read_input(wide, typed) == 1e6
    assert read_input(wide, f"12{THIN}345,5") == 12345.5
    for typed in ("12 5", "1 0000"):
        with pytest.raises(SumError, match="Resistance"):
            read_input(wide, typed)
    for which in SUMS:
        for one in which.inputs:
            if isinstance(one, Amount):
                assert [read_input(one, limit(end)) for end in (one.least, one.most)] == [
                    pytest.approx(one.least, abs=1e-9), pytest.approx(one.most, rel=1e-9),
                ]  # fmt: skip


@given(st.text(max_size=80))
def test_any_text_is_a_number_within_the_limits_or_a_sentence(typed: str) -> None:
    try:
        value = read_input(CURRENT, typed)
    except SumError as error:
        assert str(error).startswith("Current: ")  # noqa: PT017
        return
    assert 0.001 <= value <= 10.0


def test_a_figure_says_its_range() -> None:
    assert figure_words(Figure("r", "R", 475.0, "ohm")) == "475 Ω"
    assert figure_words(Figure("r", "R", 1.0, said="size 24")) == "size 24"
    assert range_words(Figure("r", "R", 475.0, "ohm", 451.0, 499.0)) == "451 to 499 Ω"
    assert range_words(Figure("r", "R", 1.0, "V", high=2.0)) == "at most 2.00 V"
    assert range_words(Figure("r", "R", 1.0)) == ""


@pytest.mark.parametrize("name", names())
def test_every_sum_is_worked_out_with_what_it_has_at_first(name: str) -> None:
    which = sum_named(name)
    told = work_out(which, {}).told
    assert told.figures[0].value is not None or told.figures[0].said
    for one in told.figures:
        for value in (one.value, one.low, one.high):
            assert value is None or math.isfinite(value)
        if one.value is not None and one.low is not None and one.high is not None:
            assert one.low <= one.value <= one.high, one.name
    assert told.steps
    assert len({one.name for one in told.figures}) == len(told.figures)


@pytest.mark.parametrize("which", SUMS, ids=names())
def test_a_sum_says_where_it_is_from_and_how_far_it_is_good(which) -> None:
    assert all((which.source, which.limits, which.what_for, which.drawing))
    taken = [one.name for one in which.inputs]
    assert len(set(taken)) == len(taken)
    assert not {"out", "json", "help"} & set(taken)
    for one in which.inputs:
        if isinstance(one, Amount):
            assert one.default is None or one.least <= one.default <= one.most
            assert one.unit in BENCH_UNITS or one.unit == ""


def as_typed(value: float) -> float:
    """As many digits as a person types."""
    return float(f"{round(value, 9):.6g}")


@pytest.mark.parametrize("which", SUMS, ids=names())
@given(data=st.data())
def test_any_numbers_within_the_limits_give_an_answer_or_a_sentence(which, data) -> None:
    typed = {}
    for one in which.inputs:
        if isinstance(one, Amount) and one.default is None and data.draw(st.booleans()):
            continue
        if isinstance(one, Amount):
            numbers = st.floats(one.least, one.most).map(as_typed)
            if one.whole:
                numbers = st.integers(round(one.least), round(one.most))
            typed[one.name] = repr(data.draw(numbers))
        elif isinstance(one, Choice):
            typed[one.name] = data.draw(st.sampled_from([code for code, _ in one.choices]))
    try:
        answered = work_out(which, typed)
    except SumError:
        return
    for one in answered.told.figures:
        for value in (one.value, one.low, one.high):
            assert value is None or math.isfinite(value), one.name


@pytest.mark.parametrize("which", SUMS, ids=names())
def test_every_number_takes_a_decimal_comma(which) -> None:
    for one in (one for one in which.inputs if isinstance(one, Amount)):
        middle = (one.least + one.most) / 2 if one.default is None else one.default
        for value in (one.least, one.most, middle):
            typed = f"{value:.4f}" if abs(value) < 1e6 else f"{value:.1f}"
            if not one.least <= float(typed) <= one.most:
                continue
            comma = typed.replace(".", ",")
            assert read_input(one, comma) == read_input(one, typed) == float(typed)
            if one.unit:
                assert read_input(one, f"{comma} {one.unit}") == float(typed)
    whole = [one for one in which.inputs if isinstance(one, Amount) and one.whole]
    for one in whole:
        with pytest.raises(SumError, match="1,5 is not a whole number; give a whole number from"):
            read_input(one, "1,5")


@pytest.mark.parametrize(
    "rows",
    [
        "0;32650,5\n25;10000,5\n50;3602,5\n",
        "°C;Ohm\n0;32650,5\n25;10000,5\n50,0;3602,5\n",
        "0\t32650,5\n25\t10000,5\n50\t3602,5",
        "0 32650,5\n25,0  10000,5\n 50 3602,5\n",
        "0,32650.5\n25,10000.5\n50,3602.5\n",
        "temperature c, ohm\n0, 32650.5\n25, 10000.5\n50, 3602.5\n\n",
        "temperature c,ohm\n0,32650.5\n25,10000.5\n50,3602.5\n",
    ],
)
def test_a_table_takes_decimal_commas_where_no_comma_parts_it(rows: str) -> None:
    found = read_pairs(rows, "Table", ("temperature_c", "ohm"), 3)
    assert found == ((0.0, 32650.5), (25.0, 10000.5), (50.0, 3602.5))


@pytest.mark.parametrize(
    ("rows", "sentence"),
    [
        (
            "0,32650,5\n25,10000,5\n",
            "Table, row 1: expected two numbers, temperature_c and ohm, found '0,32650,5'; part "
            "them by a semicolon where they have decimal commas",
        ),
        ("0;32,650\n25;10,000\n", "Table, row 1: 32,650 can be read in two ways; write 32650 or"),
        ("0;32.650,5\n25;10\n", "Table, row 1: the commas of '32.650,5' can be read in two ways"),
        ("0;a\n", "Table, row 1: expected two numbers, temperature_c and ohm, found '0;a'"),
    ],
)
def test_a_table_whose_commas_say_two_things_is_refused(rows: str, sentence: str) -> None:
    with pytest.raises(SumError) as raised:
        read_pairs(rows, "Table", ("temperature_c", "ohm"), 2)
    assert str(raised.value).startswith(sentence)
    with pytest.raises(SumError, match=r"row 2: expected 2 cells, found 4; .* by semicolons"):
        work_out(sum_named("reflow"), {"csv": "time_s,a_c\n0,5,20,5\n4,5,25,5\n"})


WRONG_NUMBERS = (
    "-1", "0", "1e300", "nan", "inf", "abc", "12 5", "3,5", "1,000", "5 bananas", "", "--", "1 V V",
    "\u00bd", "\u0661\u0662", "0x10", "1_000", "1e400", "1\n2",
)  # fmt: skip
USED_WITH = {"points": {"sender": "table"}, "marking": {"by": "marking"}, "way": {"by": "way"}}
WRONG_TEXTS = ("", "abc", "1,2", "a,b\n1,2\n3", "\0", "1;2\n3;4", "time_s,a_c\n0,1")


@pytest.mark.parametrize("which", SUMS, ids=lambda which: which.name)
def test_whatever_is_typed_into_any_field_is_worked_out_or_refused_in_one_sentence(which):
    for one in which.inputs:
        tried = WRONG_NUMBERS if isinstance(one, Amount) else WRONG_TEXTS
        if isinstance(one, Amount):
            tried += (f"{one.least!r}", f"{one.most!r}", f"{one.most * 1.001 + 1!r}")
        refused = 0
        for typed in tried:
            try:
                told = work_out(which, USED_WITH.get(one.name, {}) | {one.name: typed}).told
            except SumError as error:
                said = str(error)
                assert "\n" not in said
                assert ". " not in said
                refused += 1
                continue
            for figure in told.figures:
                low, value, high = figure.low, figure.value, figure.high
                assert all(math.isfinite(x) for x in (low, value, high) if x is not None)
                if None not in (low, value, high):
                    slack = 1e-9 * max(abs(low), abs(high))
                    assert low - slack <= value <= high + slack, figure.name
        assert refused >= (2 if isinstance(one, Amount | Pasted | Line) else 1), one.name
