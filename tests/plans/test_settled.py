"""The caution on a speedometer that is left at fault names a check that answers that very fault."""

import re
from importlib import resources
from pathlib import Path

import pytest

from needlewright.errors import PlanError
from needlewright.families.folder import load_family
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.plans.catalogue.load import load_catalogue
from needlewright.plans.rebuild.cautions import cautions_of
from needlewright.plans.rebuild.findings import findings_from
from needlewright.plans.rebuild.work import Workshop

FAMILY = load_family(Path(__file__).parents[2] / "src/needlewright/demo_data/family")
KNOWN = load_knowledge(None)
TEXT = (resources.files("needlewright.plans.catalogue") / "catalogue.toml").read_text("utf-8")
READ = "speed read at every check point, from below and from above"
SWEPT = "speed swept from stop to stop and back, without a jump"
TAPPED = "speed swept while the board is tapped: nothing drops out"
RESTS = "speed rests where it belongs, five key-ons"


def said(fault: str, file: Path | None = None) -> str:
    """What follows 'settled by' where a fault of the speedometer is left; empty: nothing does."""
    catalogue = load_catalogue(KNOWN, FAMILY, file)
    workshop = Workshop(
        catalogue,
        tuple(dial.id for dial in FAMILY.dials),
        {"speed": "speed"},
        frozenset({"speed"}),
    )
    found = findings_from({("speed", fault): 0.4}, KNOWN, FAMILY)
    (caution,) = cautions_of(frozenset(), found, FAMILY, KNOWN, workshop)
    assert "this speedometer is left with a chance of 40 % that it is at fault" in caution
    settled = re.search(r"; settled by: ([^.]*)\. ", caution)
    return "" if settled is None else settled[1]


# common practice, no source: what stands or reads wrong is seen at the check points, what does not
# move, or not all its way, by a sweep, a joint that comes and goes by tapping, a stop by where the
# needle comes to rest; a movement too weak only in the cold passes all of them in a warm room
@pytest.mark.parametrize(
    ("fault", "check"),
    [
        ("wrong_face/face", READ),
        ("wrong_face/programme", READ),
        ("scale_factor/programme", READ),
        ("lost_steps/movement", READ),
        ("backlash/movement", READ),
        ("needle_offset/needle", READ),
        ("needle_offset/stop", RESTS),
        ("stalled/driver", SWEPT),
        ("blocked/needle", SWEPT),
        ("erratic/joint", TAPPED),
        ("cold_stall/movement", ""),
    ],
)
def test_it_is_settled_by_what_answers_it_and_else_by_nothing(fault, check):
    assert said(fault) == check


def test_a_catalogue_that_states_nothing_promises_nothing(tmp_path: Path):
    older = re.sub(r", settles = \[[^]]*\]", "", TEXT)
    assert older.count("settles = [") == 0
    (tmp_path / "ours.toml").write_text(older, "utf-8")
    assert said("wrong_face/face", tmp_path / "ours.toml") == ""


@pytest.mark.parametrize(
    ("new", "words"),
    [
        ('settles = ["stuck"', "settles: there is no fault 'stuck'; known:"),
        ('settles = ["stalled/face"', "settles: 'stalled' has no part 'face'; its parts:"),
        ('settles = ["corrosion"', "settles: 'corrosion' is a fault of scope 'whole' and stands"),
    ],
)
def test_a_fault_there_is_not_is_refused(tmp_path: Path, new: str, words: str):
    assert 'settles = ["stalled"' in TEXT
    (tmp_path / "ours.toml").write_text(TEXT.replace('settles = ["stalled"', new), "utf-8")
    with pytest.raises(PlanError) as wrong:
        load_catalogue(KNOWN, FAMILY, tmp_path / "ours.toml")
    place = "operation.replace_movement.checks: '{dial} swept from stop to stop and back, without a"
    assert place in str(wrong.value)
    assert words in str(wrong.value)
