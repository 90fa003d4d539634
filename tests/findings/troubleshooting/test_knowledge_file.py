"""The knowledge file: what is in the shipped one, and what is refused."""

from pathlib import Path

import pytest

from findings.troubleshooting.small_knowledge import SMALL, knowledge_in
from needlewright.errors import KnowledgeError
from needlewright.findings.troubleshooting.belief import belief_of
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.findings.troubleshooting.model import Answer, code_of, of_state
from needlewright.findings.troubleshooting.responsible import responsible

VOCABULARY = {
    *("needle_offset", "scale_factor", "lost_steps", "backlash", "dragging", "stalled", "blocked"),
    *("wrong_face", "erratic", "cold_stall", "lamp_out", "lamp_dim", "display_dim"),
    *("display_dead", "tell_tale_dead", "supply_joint", "corrosion"),
    *("sender", "wiring", "ground", "bus", "battery"),
}
"""The faults of the trade; common practice, no source."""


def test_the_shipped_file_knows_every_fault_of_the_vocabulary() -> None:
    assert set(load_knowledge().causes) == VOCABULARY


def test_every_entry_says_where_it_comes_from() -> None:
    knowledge = load_knowledge()
    tables = (knowledge.causes, knowledge.findings, knowledge.remedies)
    assert all(one.source for table in tables for one in table.values())


def test_every_cause_is_shown_by_something_and_cured_by_something() -> None:
    knowledge = load_knowledge()
    shown = {code_of(name) for one in knowledge.findings.values() for name in one.shown_by}
    assert shown == set(knowledge.causes)
    remedies = knowledge.remedies.values()
    for cause in knowledge.causes.values():
        for state in cause.states:
            assert max(of_state(one.cures, state) for one in remedies) >= 0.8, state


def test_what_lies_in_a_dial_lies_in_one_of_its_parts() -> None:
    knowledge = load_knowledge()
    for cause in knowledge.of_scope("dial"):
        assert bool(cause.parts) == cause.inside, cause.code
        assert set(cause.parts) <= set(knowledge.parts)
    used = {part for cause in knowledge.of_scope("dial") for part in cause.parts}
    assert used == set(knowledge.parts)


def test_a_new_movement_cures_no_dead_driver() -> None:
    cures = load_knowledge().remedies["replace_movement"].cures
    assert of_state(cures, "stalled/movement") == 0.97
    assert of_state(cures, "stalled/driver") == 0.0


def test_of_one_gauge_the_sender_is_suspected_first_and_of_several_what_feeds_them() -> None:
    """Common practice, no source: one gauge, its sender; several at once, supply, ground, bus."""
    knowledge = load_knowledge()
    dials = ["speed", "engine", "fuel"]
    feeds = {"supply_joint", "ground", "bus", "battery", "corrosion"}
    one = belief_of(knowledge, dials, [Answer("reads_wrong", True, "fuel")])
    of_one = {(code, dial): p for code, dial, p in responsible(one).causes(one.states)}
    assert of_one["sender", "fuel"] > max(of_one.get((code, None), 0.0) for code in feeds)
    every = belief_of(knowledge, dials, [Answer("reads_wrong", True, dial) for dial in dials])
    of_all = {(code, dial): p for code, dial, p in responsible(every).causes(every.states)}
    assert max(of_all, key=lambda one: of_all[one])[0] in feeds


def test_a_cause_of_the_whole_comes_after_those_that_bring_it(tmp_path: Path) -> None:
    whole = [one.code for one in knowledge_in(tmp_path).of_scope("whole")]
    assert whole.index("corrosion") < whole.index("supply_joint")


CIRCLE = ("brings = { erratic = 0.25 }", "brings = { erratic = 0.25, corrosion = 0.1 }")


JOINTS = "[remedy.joints]\n"


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (CIRCLE, "in a circle .corrosion -> supply_joint -> corrosion."),
        (("prior = 0.2\n", "prior = 0.9\n"), "sum to 1.05; they exclude one another"),
        (("prior = 0.2\n", "prior = 1.2\n"), "cause.sender.prior: .* less than 1, found 1.2"),
        (("prior = 0.2\n", "prior = 0\n"), "cause.sender.prior: .* greater than 0, found 0"),
        (("prior = 0.2\n", ""), "cause.sender.prior: is missing"),
        (("prior = 0.2\n", "priors = 0.2\n"), "cause.sender.priors: there is no such key"),
        (('restarts]\nscope = "whole"', 'restarts]\nscope = "all"'), "'dial' or 'whole'"),
        (("supply_joint = 0.8, battery", "supply = 0.8, battery"), "there is no cause 'supply'"),
        (("supply_joint = 0.8, battery", "stalled = 0.8, battery"), "a cause of one dial"),
        (("minutes = 40\nsource", "minutes = 0\nsource"), "remedy.sender.minutes: .*, found 0"),
        (("minutes = 8", "minutes = -8"), "finding.dead.minutes: .*, found -8"),
        (("[work]", "[work"), "is no TOML"),
        (('source = "invented"\n\n[pointing', "\n[pointing"), "work.source: is missing"),
        (("driver = 0.3 }", "driver = 0.4 }"), "cause.stalled.parts: .* sum to 1.1; they must sum"),
        (("driver = 0.3 }", "drive = 0.3 }"), "no part 'drive'; known: movement, driver"),
        (('"stalled/driver" = 0.6', '"stalled/stop" = 0.6'), "no part 'stop'; its parts: movement"),
        (('"stalled/driver" = 0.6', '"sender/stop" = 0.6'), "has no part 'stop'; its parts: none"),
        (("prior = 0.15", "prior = 0.15\nparts = { driver = 1 }"), "only the causes of a dial"),
        (
            (JOINTS, f'{JOINTS}includes = ["glue"]\n'),
            "joints.includes: there is no other .* 'glue'",
        ),
        (
            (JOINTS, f'{JOINTS}includes = ["joints"]\n'),
            "there is no other remedy 'joints'; known: ",
        ),
        ((JOINTS, f'{JOINTS}includes = ["sender"]\n'), "'sender' is of scope 'dial', and this of"),
        (("ratio = 4", "ratio = 0.5"), "pointing.ratio: .* greater than or equal to 1, found 0.5"),
        (('words = "sender"', 'words = "sender"\nbrings = { stalled = 0.1 }'), "of the whole"),
    ],
)
def test_what_is_wrong_is_said_with_its_place(
    tmp_path: Path, change: tuple[str, str], said: str
) -> None:
    assert SMALL.count(change[0]) >= 1
    with pytest.raises(KnowledgeError, match=said) as raised:
        knowledge_in(tmp_path, SMALL.replace(change[0], change[1], 1))
    assert str(raised.value).startswith(f"{tmp_path / 'knowledge.toml'}: ")


@pytest.mark.parametrize("kind", ["cause", "finding", "remedy"])
@pytest.mark.parametrize("key", ["two words", "a:b", "Upper", "1st", "", "näher", "a,b", "a\\n"])
def test_a_name_that_no_answer_can_be_written_with_is_refused(
    tmp_path: Path, kind: str, key: str
) -> None:
    table = {"cause": "[cause.battery]", "finding": "[finding.dead]", "remedy": "[remedy.joints]"}
    text = SMALL.replace(table[kind], f'[{kind}."{key}"]')
    assert text != SMALL
    with pytest.raises(KnowledgeError) as raised:
        knowledge_in(tmp_path, text)
    found = repr(key.replace("\\n", "\n"))
    assert str(raised.value) == (
        f"{tmp_path / 'knowledge.toml'}: {kind}: expected names that begin with a small letter and "
        f"go on with small letters, digits and underscores, found {found}; give it another name"
    )


def test_more_causes_of_the_whole_than_can_be_looked_at_are_refused(tmp_path: Path) -> None:
    more = "".join(
        f'[cause.more{i}]\nscope = "whole"\ninside = true\nprior = 0.1\nwords = "x"\n'
        'source = "invented"\n'
        for i in range(12)
    )
    with pytest.raises(KnowledgeError, match=r"has 15 causes of the whole; .* at most 14"):
        knowledge_in(tmp_path, SMALL + more)


@pytest.mark.parametrize("content", [b"\xff\xfe", b"x" * 600_000])
def test_a_file_that_is_none_is_refused(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "k.toml").write_bytes(content)
    with pytest.raises(KnowledgeError, match=r"k\.toml: "):
        load_knowledge(tmp_path / "k.toml")


def test_a_file_that_is_not_there_is_said(tmp_path: Path) -> None:
    with pytest.raises(KnowledgeError, match="cannot be opened: No such file"):
        load_knowledge(tmp_path / "none.toml")
