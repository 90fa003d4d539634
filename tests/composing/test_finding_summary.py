"""The findings of a job in one line."""

from dataclasses import replace

import pytest

from needlewright.composing.finding_summary import result_of
from needlewright.composing.job_answers import Decision, overrule, take_answers
from needlewright.composing.job_findings import job_findings
from needlewright.records.undo import undo_last
from records.benches import ANNA, bench, measured_side, new, received


@pytest.fixture(scope="module")
def measured(tmp_path_factory):
    """The drawn job, measured as found."""
    with bench(tmp_path_factory.mktemp("shop")) as (one, _):
        received(one)
        measured_side(one, "T-77", "found")
        yield one


def line(shop):
    return result_of(job_findings(shop, "T-77", looks_ahead=0))


def test_what_is_wrong_stands_first_and_what_a_person_decided_over_it(measured):
    said = line(measured)
    assert said == (
        "engine: needle turned on its shaft (92 %); speed: movement slips (over 99 %); "
        "fuel: play in the movement's gears (94 %); others sound"
    )
    overrule(measured, "T-77", Decision("speed", ("dragging",), "felt it touch"), ANNA)
    overrule(measured, "T-77", Decision("engine", ("sound",), "the photo was askew"), ANNA)
    assert line(measured) == (
        "speed: needle or movement rubs (decided); "
        "fuel: play in the movement's gears (94 %); others sound"
    )
    for _ in range(2):
        undo_last(measured, "T-77", ANNA)
    assert line(measured) == said


def test_what_nothing_was_seen_of_is_not_called_sound(tmp_path):
    with bench(tmp_path) as (one, _):
        new(one)
        assert line(one) == ""
        take_answers(one, "T-77", "fuel: reads_wrong yes", ANNA)
        said = line(one)
        assert said.startswith("fuel: not certain, first ")
        assert said.endswith("; engine, speed, temp: nothing seen of them")
        assert "sound" not in said


def test_all_that_is_sound_is_named(measured):
    found = job_findings(measured, "T-77", looks_ahead=0)
    temp = next(card for card in found.cards if card.id == "temp")
    assert result_of(replace(found, cards=(temp,))) == "temp: sound"
