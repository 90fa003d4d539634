"""Lamps and tell-tales of a family: read, grouped, complained of, written back."""

import json
from dataclasses import replace
from pathlib import Path

import pytest

from families.places import plain, put
from needlewright.errors import FamilyError
from needlewright.families.folder import load_family, write_family
from needlewright.families.lamps import Dm1File, lamp_groups

STATED = {
    "lamps": [{"id": "left", "centre_mm": [10, 20], "reach_mm": 15}, {"note": "unnamed"}],
    "tell_tales": [
        {"id": "oil", "sign": "drop", "signal": {"kind": "dm1", "lamp": "red_stop"}},
        {"id": "beam", "group": "indicators", "colour": [0, 0, 1]},
    ],
}


def test_lamps_are_lit_in_their_groups(tmp_path: Path):
    put(tmp_path, json.dumps(plain() | STATED))
    family = load_family(tmp_path)
    groups = lamp_groups((*family.lamps, *family.tell_tales))
    assert {g.name: [lamp.id for lamp in g.lamps] for g in groups} == {
        "backlight": ["left", "backlight-2"],
        "tell-tales": ["oil"],
        "indicators": ["beam"],
    }
    assert [lamp.id for g in groups for lamp in g.by_hand] == ["left", "backlight-2", "beam"]
    assert family.tell_tales[0].signal == Dm1File(kind="dm1", lamp="red_stop")
    assert (family.lamps[0].centre_mm, family.lamps[0].reach_mm) == ((10.0, 20.0), 15.0)


@pytest.mark.parametrize(
    ("field", "lamp", "words"),
    [
        ("lamps", {"group": "two words"}, "lamps[0].group: expected a name of 1 to 64 characters"),
        ("lamps", {"reach_mm": 0}, "lamps[0].reach_mm: expected a length in mm above 0, found 0"),
        (
            "tell_tales",
            {"signal": {"kind": "dm1", "lamp": "oil"}},
            "tell_tales[0].signal.lamp: expected malfunction, red_stop, amber_warning or protect",
        ),
        (
            "tell_tales",
            {"signal": {"kind": "can_frame", "frame": "1G#00", "period_ms": 100}},
            "tell_tales[0].signal.frame: expected an identifier, # and bytes in hexadecimal",
        ),
        (
            "tell_tales",
            {"signal": {"kind": "steam"}},
            "tell_tales[0].signal: expected an object whose kind is dm1 or can_frame",
        ),
    ],
)
def test_what_a_lamp_cannot_be_is_one_sentence(tmp_path: Path, field: str, lamp, words: str):
    put(tmp_path, json.dumps(plain() | {field: [lamp]}))
    with pytest.raises(FamilyError) as refused:
        load_family(tmp_path)
    assert words in str(refused.value)


def test_a_lamp_that_changed_is_written_and_the_others_stay_as_they_were(tmp_path: Path):
    put(tmp_path, json.dumps(plain() | STATED))
    family = load_family(tmp_path)
    write_family(family, tmp_path / "same")
    same = json.loads((tmp_path / "same" / "family.json").read_text("utf-8"))
    assert {field: same[field] for field in STATED} == STATED
    oil, beam = family.tell_tales
    write_family(replace(family, tell_tales=(replace(oil, reach_mm=3.0), beam)), tmp_path / "new")
    new = json.loads((tmp_path / "new" / "family.json").read_text("utf-8"))
    assert new["lamps"] == STATED["lamps"]
    assert new["tell_tales"][0] == {**STATED["tell_tales"][0], "group": "tell-tales", "reach_mm": 3}
