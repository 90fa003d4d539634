import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings

from families.places import FAMILIES, NAMES, plain, put
from needlewright.errors import FamilyError
from needlewright.families.assemble import family_from
from needlewright.families.folder import load_family, write_family
from needlewright.families.model import Movement, Programme, Variant
from needlewright.families.revise import document_of
from needlewright.families.scale import Scale
from needlewright.families.schema import FamilyFile
from strategies import family_documents


@pytest.mark.parametrize("name", NAMES)
def test_an_unchanged_family_is_written_as_it_was_read(tmp_path: Path, name: str) -> None:
    written = write_family(load_family(FAMILIES / name), tmp_path)
    original = (FAMILIES / name / "family.json").read_text(encoding="utf-8")
    assert written.read_text(encoding="utf-8") == original + "\n"


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(family_documents())
def test_unknown_fields_and_key_order_come_back(tmp_path: Path, document: dict[str, Any]) -> None:
    family = family_from(FamilyFile.model_validate(document), tmp_path, document)
    text = write_family(family, tmp_path).read_text(encoding="utf-8")
    assert text == json.dumps(document, indent=1, ensure_ascii=False) + "\n"
    # and once more: what was written is read and written the same
    again = json.loads(text)
    family = family_from(FamilyFile.model_validate(again), tmp_path, again)
    assert write_family(family, tmp_path).read_text(encoding="utf-8") == text


@settings(max_examples=40)
@given(family_documents())
def test_a_family_made_anew_says_the_same(document: dict[str, Any]) -> None:
    family = family_from(FamilyFile.model_validate(document), Path("a"), None)
    made = document_of(family)
    assert family_from(FamilyFile.model_validate(made), Path("a"), None) == family


def test_a_change_touches_its_own_lines_only(tmp_path: Path) -> None:
    family = load_family(FAMILIES / "fam-job")
    speed = family.dials[1]
    changed = replace(speed, rest_angle_deg=-111.5, needle=replace(speed.needle, tip_width_mm=1.5))
    dials = (family.dials[0], changed, *family.dials[2:])
    text = write_family(replace(family, dials=dials), tmp_path).read_text(encoding="utf-8")
    before = (FAMILIES / "fam-job" / "family.json").read_text(encoding="utf-8").splitlines()
    differing = [(a, b) for a, b in zip(before, text.splitlines(), strict=True) if a != b]
    assert differing == [
        ('   "rest_angle_deg": -110.32,', '   "rest_angle_deg": -111.5,'),
        ('    "tip_width_mm": 1.39,', '    "tip_width_mm": 1.5,'),
    ]


def test_every_known_field_can_be_changed(tmp_path: Path) -> None:
    document = plain() | {"shelf": 4}
    document["dials"][0]["seen"] = "twice"
    document["dials"][0]["needle"]["maker's mark"] = "none"
    family = load_family(put(tmp_path / "a", document))
    speed, fuel = family.dials
    speed = replace(
        speed,
        id="road",
        scale=Scale((0, 100), (-100, 100)),
        rest_angle_deg=-100.0,
        programme=Programme((0, 100), (1, 103)),
        rule={"house": {"of_graduation": 0.5}},
        graduation=5,
        movement=Movement(cycle_deg=1.5),
        rest_mark="first_mark",
    )
    fuel = replace(fuel, quantity="tank", needle=replace(fuel.needle, colour=(1.0, 0.5, 0.0)))
    variant = Variant("early", "round pegs", "red needles")
    changed = replace(
        family, name="other", dials=(fuel, speed), eccentricity_mm=0.2, variants=(variant,)
    )
    put(tmp_path / "b", "{}")
    write_family(changed, tmp_path / "b")
    read = load_family(tmp_path / "b")
    assert (read.name, read.eccentricity_mm, read.variants) == ("other", 0.2, (variant,))
    assert read.raw is not None
    assert read.raw["shelf"] == 4
    assert read.dials == (fuel, speed)
    assert "seen" not in read.raw["dials"][1]  # another id is another dial
    back = write_family(replace(read, dials=(replace(fuel, rule=None),)), tmp_path / "b")
    assert [dial["id"] for dial in json.loads(back.read_text())["dials"]] == ["fuel"]


def test_what_becomes_unknown_leaves_the_file(tmp_path: Path) -> None:
    family = load_family(FAMILIES / "fam-job")
    speed = replace(family.dials[1], rule=None, programme=Programme())
    document = document_of(replace(family, dials=(speed,)))
    assert "rule" not in document["dials"][0]
    assert "programme" not in document["dials"][0]
    assert "movement" in document["dials"][0]


def test_an_error_leaves_the_old_file_alone(tmp_path: Path) -> None:
    put(tmp_path, plain())
    before = (tmp_path / "family.json").read_bytes()
    wrong = plain()
    wrong["dials"][0]["centre_mm"] = [500, 0]
    with pytest.raises(FamilyError, match=r"centre_mm: expected a point .*; not written$"):
        write_family(wrong, tmp_path)
    with pytest.raises(FamilyError, match="not written, as it is not plain JSON"):
        write_family(plain() | {"when": {1, 2}}, tmp_path)
    with pytest.raises(FamilyError, match="not written, as it is not plain JSON"):
        write_family(plain() | {"shelf": float("nan")}, tmp_path)
    assert (tmp_path / "family.json").read_bytes() == before
    assert sorted(p.name for p in tmp_path.iterdir()) == ["face.png", "family.json"]


def test_a_failing_disk_leaves_no_half_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    put(tmp_path, plain())
    before = (tmp_path / "family.json").read_bytes()

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(FamilyError, match=r"family\.json: not written: No space left on device$"):
        write_family(plain() | {"name": "new"}, tmp_path)
    assert (tmp_path / "family.json").read_bytes() == before
    assert sorted(p.name for p in tmp_path.iterdir()) == ["face.png", "family.json"]


def test_the_folder_is_made(tmp_path: Path) -> None:
    path = write_family(plain(), tmp_path / "new" / "one")
    assert json.loads(path.read_text(encoding="utf-8")) == plain()
    (tmp_path / "taken").write_text("")
    with pytest.raises(FamilyError, match="not written: File exists"):
        write_family(plain(), tmp_path / "taken")
