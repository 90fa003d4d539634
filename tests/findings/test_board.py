"""What pins on a board say: checklist, open points, evidence with its limits."""

from dataclasses import replace

import pytest

from needlewright.findings.board import MISTAKES, SEES, evidence_of_board, inspect_board
from needlewright.findings.board_pins import Pin
from needlewright.findings.troubleshooting.belief import belief_of
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge

BOTH = [("front", "before"), ("back", "before"), ("front", "after"), ("back", "after")]
ALL_OK = [
    Pin(1, "front", "before", "via", "ok"),
    Pin(2, "front", "before", "joint", "ok"),
    Pin(3, "back", "before", "via", "ok"),
    Pin(4, "back", "before", "joint", "ok"),
    Pin(5, "front", "before", "connector", "ok", 0.1, 0.1),
    Pin(6, "back", "before", "coating", "ok"),
]
CRACK = Pin(7, "back", "before", "joint", "cracked", 0.4, 0.2, "supply")
STRIPPED = Pin(8, "back", "after", "coating", "removed", 0.4, 0.2)


def evidence(*pins: Pin):
    found = evidence_of_board(inspect_board(pins, BOTH))
    return {(one.finding, one.dial): one for one in found}


def test_a_board_nobody_has_looked_at_says_so_of_every_side_and_kind():
    found = inspect_board([], [])
    assert found.open_points == (
        "there is no photo of the front as found",
        "there is no photo of the back as found",
        "nobody has looked at the vias on the front",
        "nobody has looked at the joints on the front",
        "nobody has looked at the vias on the back",
        "nobody has looked at the joints on the back",
        "nobody has looked at the connector on either side",
        "nobody has looked at the coating on either side",
    )
    assert evidence_of_board(found) == ()


def test_a_board_that_is_sound_is_complete_and_speaks_against_both_findings():
    found = inspect_board(ALL_OK, BOTH)
    assert (found.is_complete, found.found, found.mended) == (True, (), ())
    said = evidence(*ALL_OK)
    assert set(said) == {("board_corroded", None), ("board_cracked", None)}
    for one in said.values():
        assert one.ratio == pytest.approx((1 - SEES) / (1 - MISTAKES))


def test_finding_nothing_counts_only_for_what_was_looked_at():
    said = evidence(*ALL_OK[:2])  # the front's vias and joints: two of five, and one of three
    assert said["board_corroded", None].ratio == pytest.approx((1 - 0.8 * 0.4) / (1 - 0.02 * 0.4))
    assert said["board_cracked", None].ratio == pytest.approx((1 - 0.8 / 3) / (1 - 0.02 / 3))
    assert "40 % of what is asked for" in said["board_corroded", None].words


def test_what_is_mended_and_coated_again_leaves_nothing_open():
    mended = Pin(8, "back", "after", "joint", "ok", 0.41, 0.2, "supply", of=7)
    removed = Pin(9, "back", "before", "coating", "removed", 0.4, 0.25)
    restored = Pin(10, "back", "after", "coating", "restored", 0.4, 0.25, of=9)
    pins = [*ALL_OK, CRACK, mended, removed, restored]
    found = inspect_board(pins, BOTH)
    assert [(one.found.number, one.after.number) for one in found.mended] == [(7, 8), (9, 10)]
    assert found.open_points == ()
    assert found.found == (CRACK,)
    # what was found stays evidence, whatever became of it
    assert evidence(*pins)["board_cracked", None].ratio == pytest.approx(40.0)


@pytest.mark.parametrize(
    ("pins", "said"),
    [
        ([CRACK], "joint on the back of the supply, cracked (pin 7): is not pinned after the work"),
        (
            [CRACK, replace(CRACK, number=8, moment="after", of=7)],
            "joint on the back of the supply, cracked (pin 7): is cracked after the work still",
        ),
        ([STRIPPED], "coating on the back, removed (pin 8): is not restored; coat the place again"),
        (
            [
                Pin(7, "back", "before", "coating", "corroded", 0.4, 0.2),
                replace(STRIPPED, of=7),
            ],
            "coating on the back, removed (pin 8): the coating over a mended place is not restored",
        ),
    ],
)
def test_what_is_left_open_has_its_sentence(pins, said):
    found = inspect_board([*ALL_OK, *pins], BOTH)
    assert not found.is_complete
    assert [one for one in found.open_points if one.startswith(said)]


@pytest.mark.parametrize(
    ("pin", "finding", "dial", "ratio"),
    [
        (CRACK, "board_cracked", None, 40.0),
        (replace(CRACK, state="lifted"), "board_cracked", None, 40.0),
        (replace(CRACK, part=None, what="connector"), "board_cracked", None, 40.0),
        (replace(CRACK, part=None), "board_cracked", None, 0.8 / 0.12),
        (replace(CRACK, part="display"), "display_joint", None, 40.0),
        (replace(CRACK, part="movement", dial="fuel"), "joint_cracked", "fuel", 40.0),
        (
            replace(CRACK, part="movement", dial="fuel", state="ok"),
            "joint_cracked",
            "fuel",
            0.2 / 0.98,
        ),
        (replace(CRACK, part=None, what="via", state="corroded"), "board_corroded", None, 40.0),
        (replace(CRACK, part=None, what="coating", state="corroded"), "board_corroded", None, 40.0),
    ],
)
def test_a_pin_speaks_for_the_finding_of_what_it_belongs_to(pin, finding, dial, ratio):
    one = evidence(pin)[finding, dial]
    assert one.ratio == pytest.approx(ratio)
    assert "pin 7" in one.seen_in


def test_no_pin_says_more_than_one_look_is_worth():
    many = [replace(CRACK, number=number) for number in range(7, 27)]
    assert evidence(*many)["board_cracked", None].ratio == pytest.approx(SEES / MISTAKES)


def test_pins_turn_what_is_believed_towards_the_cause_they_show():
    knowledge = load_knowledge()
    wet = replace(CRACK, what="via", part=None, state="corroded")
    dim = replace(CRACK, number=8, part="display")
    loose = replace(CRACK, number=9, part="movement", dial="fuel")
    before = belief_of(knowledge, ["fuel"])
    after = before
    for piece in evidence(wet, dim, loose).values():
        after = after.seen(piece)
    # what corrosion, a dim display and a loose joint of the movement would be complained of
    for finding, dial in (("got_wet", None), ("display_fades", None), ("tapping_helps", "fuel")):
        assert after.probability(finding, dial) > 3 * before.probability(finding, dial)
