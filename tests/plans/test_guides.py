"""Guides: held against the catalogue when they are loaded, and filled with what a family says."""

import json
import shutil
from pathlib import Path

import pytest

import needlewright.plans.guides as room
from needlewright.errors import PlanError
from needlewright.families.folder import load_family
from needlewright.families.model import Family
from needlewright.papers.guide_drawings import DRAWINGS
from needlewright.plans.catalogue.file_tables import CatalogueTables
from needlewright.plans.guides.load import GuideBook, load_guides, shipped_catalogue
from needlewright.plans.guides.made import guide_of, refit_of
from needlewright.plans.guides.model import Counted

DEMO = Path(__file__).parents[2] / "src" / "needlewright" / "demo_data" / "family"
SHIPPED = Path(room.__file__).parent


@pytest.fixture(scope="module")
def catalogue() -> CatalogueTables:
    return shipped_catalogue()


@pytest.fixture(scope="module")
def book(catalogue: CatalogueTables) -> GuideBook:
    return load_guides(catalogue, DRAWINGS)


def family_with(folder: Path, refit: object, **more: object) -> Family:
    shutil.copytree(DEMO, folder)
    path = folder / "family.json"
    said = json.loads(path.read_text(encoding="utf-8"))
    path.write_text(json.dumps({**said, **more, "refit": refit}), encoding="utf-8")
    return load_family(folder)


def complaint(folder: Path, catalogue: CatalogueTables, file: str, old: str, new: str) -> str:
    """What is said of the guides of the program with one place changed."""
    shutil.copytree(SHIPPED, folder)
    path = folder / file
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(PlanError) as wrong:
        load_guides(catalogue, DRAWINGS, folder)
    assert "\n" not in str(wrong.value)
    return str(wrong.value)


def test_every_operation_has_a_guide(book, catalogue):
    assert len(catalogue.operation) == 14
    for code in catalogue.operation:
        assert code in guide_of(book, code).operations


def test_a_guide_says_what_its_work_can_do_to_hands_and_parts(book, catalogue):
    # common practice, no source: lead where solder flows, voltages where a display is touched,
    # electrostatics wherever the case is open, the lens with it, the needle where one is pulled
    said = {name: one.cautions for name, one in book.guides.items()}
    soldered = {
        "replace-movement", "reflow-joints", "replace-driver", "clean-board", "display-feed",
        "replace-display", "bridge-track", "restore-coating", "clean-contacts", "mend-foil",
        "replace-led", "keep-mileage",
    }  # fmt: skip
    assert {name for name, kinds in said.items() if "solder" in kinds} == soldered
    # wherever a face is off, or lamps are changed, what drives display and backlight lies bare
    bare = soldered | {"change-face", "mend-stop", "replace-lamps"}
    assert {name for name, kinds in said.items() if "high_voltage" in kinds} == bare
    opened = set(said) - {"set-programme"}
    assert {name for name, kinds in said.items() if {"static", "lens"} <= set(kinds)} == opened
    # what can hurt a hand stands before what can hurt a lens
    for kinds in said.values():
        hurts = [kinds.index(one) for one in ("high_voltage", "solder") if one in kinds]
        assert not hurts or "lens" not in kinds or max(hurts) < kinds.index("lens")
    pulled = opened - {"replace-lamps", "mend-foil"}
    assert {name for name, kinds in said.items() if "needle" in kinds} == pulled
    assert all("supply" in kinds for kinds in said.values())


def test_a_guide_leads_to_the_others_of_its_work(book):
    assert guide_of(book, "replace_lamps").see_also == (
        "clean-contacts", "mend-foil", "replace-led",
    )  # fmt: skip
    assert guide_of(book, "clean-board").see_also == (
        "bridge-track", "keep-mileage", "restore-coating",
    )  # fmt: skip
    assert guide_of(book, "set-needle").see_also == ()
    for name, one in book.guides.items():
        for other in guide_of(book, name).see_also:
            assert name in guide_of(book, other).see_also
            assert set(one.operations) & set(book.guides[other].operations)


def test_a_guide_may_open_further_than_its_operations(book):
    # An LED stands on the board, a lamp in its holder behind it.
    assert len(guide_of(book, "replace-lamps").open_first) == 1
    led = guide_of(book, "replace-led")
    assert [words.split()[0] for words in led.open_first] == ["open", "mark", "lift", "take"]
    assert "wide-jawed clip lever for the connector" in led.tools
    # whoever opens the one that does not fit is led to the other before anything is turned
    lamps = guide_of(book, "replace-lamps")
    assert "soldered by their leads, or LEDs: the board comes out" in lamps.steps[1].words
    assert led.title.removeprefix("Replace ") in lamps.steps[1].words
    assert "replace-led" in lamps.see_also
    assert sum("A lamp with leads" in step.words for step in led.steps) == 1
    assert any("lead" in caution.lower() for caution in led.cautions)


def test_what_heats_a_coating_or_could_alter_a_mileage_says_so(book):
    # common practice, no source; odometers: 49 USC 32703 and 32704
    assert "fumes that harm the lungs" in guide_of(book, "restore-coating").cautions[0]
    kept = guide_of(book, "keep-mileage")
    assert kept.cautions[0].startswith("Mileage is recorded and never altered")
    assert any("the law's procedure" in step.words for step in kept.steps)


def test_every_drawing_is_of_some_step(book):
    used = {step.drawing for one in book.guides.values() for step in one.step}
    used |= {step.drawing for part in book.refit.part for step in part.step}
    assert used - {None} == set(DRAWINGS)


def test_the_way_in_is_the_catalogues_and_the_way_out_its_reverse(book):
    guide = guide_of(book, "mend-stop")
    assert [words.split()[0] for words in guide.open_first] == ["open", "mark", "lift"]
    assert [words.split()[0] for words in guide.close_after] == ["lay", "needle", "close"]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (
            (
                "texts/set-needle.toml",
                'operations = ["set_needle"]',
                'operations = ["set_needles"]',
            ),
            "set-needle.toml: operations: there is no operation 'set_needles'; known: change_face",
        ),
        (
            ("texts/replace-movement.toml", '"solder", ', ""),
            "replace-movement.toml: cautions: operation 'replace_movement' needs the caution "
            "'solder' and it is not there; add it",
        ),
        (
            ("texts/replace-movement.toml", '"needle", ', ""),
            "replace-movement.toml: cautions: level 'needles off', which operation "
            "'replace_movement' opens, needs the caution 'needle' and it is not there; add it",
        ),
        (
            ("texts/replace-led.toml", 'open = ["board out"]', 'open = ["board off"]'),
            "replace-led.toml: open: there is no level 'board off'; known: board out,",
        ),
        (
            ("texts/replace-led.toml", '"face", ', ""),
            "replace-led.toml: cautions: level 'face off', which it opens, needs the caution "
            "'face' and it is not there; add it",
        ),
        (
            ("texts/mend-stop.toml", '"supply"]', '"suply"]'),
            "mend-stop.toml: cautions: there is no caution 'suply'; known: chips, face,",
        ),
        (
            ("texts/mend-stop.toml", 'drawing = "stop"', 'drawing = "stopp"'),
            "mend-stop.toml: step.drawing: there is no drawing 'stopp'; known: align,",
        ),
        (
            ("texts/mend-stop.toml", "photos =", "photo ="),
            "mend-stop.toml: photo: there is no such key; take it out or mend its spelling",
        ),
        (("texts/mend-stop.toml", "title = ", "title "), "mend-stop.toml: is no TOML: "),
        (
            ("texts/mend-stop.toml", 'of = "dials" }]', 'of = "dials", count = 0 }]'),
            "mend-stop.toml: counted.0.count: input should be greater than or equal to 1",
        ),
        (
            ("texts/replace-lamps.toml", ', "replace_tell_tale"', ""),
            "replace-lamps.toml: operations: operation 'replace_tell_tale' names this guide and is "
            "not among them; add it",
        ),
        (
            ("levels.toml", '[level."face off"]', '[level."face away"]'),
            "levels.toml: level: there is no level 'face away'; known: board out, face off,",
        ),
        (
            ("refit.toml", "and wait {wait}", "and wait a little"),
            "refit.toml: the first step does not say the airbag wait; put {wait} into it",
        ),
        (
            ("refit.toml", " No ohmmeter on airbag circuits, ever.", ""),
            "refit.toml: cautions: none says 'no ohmmeter on airbag circuits'; add it",
        ),
    ],
)
def test_what_does_not_fit_is_one_sentence(tmp_path, catalogue, change, said):
    file, old, new = change
    assert complaint(tmp_path / "guides", catalogue, file, old, new).startswith(said)


def test_a_missing_guide_is_said(tmp_path, catalogue):
    shutil.copytree(SHIPPED, tmp_path / "guides")
    (tmp_path / "guides" / "texts" / "mend-stop.toml").unlink()
    with pytest.raises(
        PlanError, match=r"operation\.mend_stop.guide: there is no guide 'mend-stop'"
    ):
        load_guides(catalogue, DRAWINGS, tmp_path / "guides")


def test_a_family_gives_its_counts(tmp_path, book):
    lamps = [{"id": f"backlight-{n}"} for n in range(5)]
    family = family_with(
        tmp_path / "f",
        {
            "fasteners": [
                {"what": "screws of the lens", "count": 7, "at": "opened"},
                {"what": "screws of the frame", "count": 4, "tightness": "hand tight"},
            ],
            "loose_parts": [{"what": "felt rings", "count": 2, "at": "opened"}],
            "anything": "else is kept",
        },
        lamps=lamps,
    )
    counted = guide_of(book, "replace-lamps", family).counted
    assert counted == (
        Counted("screws of the lens", 7),
        Counted("felt rings", 2),
        Counted("backlight lamps with holders", 5),
        Counted("tell-tale lamps with holders", 4),
    )
    dials = len(family.dials)
    faces = guide_of(book, "change-face", family).counted
    assert Counted("needles", dials) in faces
    # the face's own fasteners are not the family's words on the case
    assert Counted("fasteners and pins of the face", None) in faces
    # every needle comes off before a face or a board does; a needle is set by itself
    for name, words, of_one in (
        ("replace-movement", "needles", dials),
        ("set-needle", "needles pulled", 1),
    ):
        assert Counted(words, dials) in guide_of(book, name, family).counted
        assert Counted(words, of_one) in guide_of(book, name, family, of_one_dial=True).counted
    assert Counted("needles pulled", None) in guide_of(book, "set-needle").counted
    looser = family_with(tmp_path / "l", {"loose_parts": [{"what": "felt rings", "at": "opened"}]})
    assert guide_of(book, "replace-lamps", looser).counted[:2] == (
        Counted("felt rings", None),
        Counted("fasteners of the case", None),
    )
    assert guide_of(book, "replace-lamps").counted[0] == Counted("fasteners of the case", None)


def test_the_refit_sheet_begins_with_the_wait_and_ends_on_the_road(tmp_path, book):
    family = family_with(
        tmp_path / "f",
        {
            "fasteners": [
                {"what": "upper screws", "count": 2, "tightness": "until they just lie"},
                {"what": "case screws", "count": 7, "at": "opened"},
                {"what": "lower screws"},
            ],
            "connectors": [{"what": "large connector", "count": 1}],
            "loose_parts": [{"what": "trim clips", "count": 3}],
            "cautions": ["The trim breaks when it is cold."],
        },
    )
    sheet = refit_of(book, family, mileage="771627 km", tag="EX-1")
    # common practice, no source: 10 minutes unless the vehicle's own manual says otherwise
    assert "wait 10 minutes, unless this vehicle's own manual says otherwise." in (
        sheet.steps[0].words
    )
    assert [step.part for step in sheet.steps if step.part] == [
        "Before",
        "Put in",
        "First key-on",
        "On the road",
    ]
    words = [step.words for step in sheet.steps]
    order = ("Disconnect the battery", "Connectors:", "Alignment before pressure", "Fasteners:")
    after = ("battery on", "Self-test sweep", "Lamp check", "Odometer equals", "GNSS", "rough road")
    places = [next(n for n, one in enumerate(words) if said in one) for said in (*order, *after)]
    assert places == sorted(places)
    assert sheet.fasteners == (
        Counted("upper screws", 2, "until they just lie"),
        Counted("lower screws", None),
    )
    assert sheet.connectors == (Counted("large connector", 1),)
    assert sheet.loose_parts == (Counted("trim clips", 3),)
    assert sheet.cautions[-1] == "The trim breaks when it is cold."
    assert any("771627 km" in one for one in words)
    manual = refit_of(book, family, wait="90 s, manual page 12-4")
    assert "and wait 90 s, manual page 12-4." in manual.steps[0].words


@pytest.mark.parametrize(
    ("refit", "said"),
    [
        ({"fasteners": [{"what": "screws", "count": -2}]}, "refit.fasteners.0.count: input should"),
        ({"fasteners": [{"count": 2}]}, "refit.fasteners.0.what: field required"),
        ([{"what": "screws", "at": "roof"}], "refit: 'screws' comes off at 'roof', which there is"),
        ({"connectors": "two"}, "refit.connectors: input should be a valid tuple"),
        ({"fasteners": [{"what": "one"}] * 13}, "refit.fasteners: tuple should have at most 12"),
    ],
)
def test_refit_notes_of_another_form_are_one_sentence(tmp_path, book, refit, said):
    family = family_with(tmp_path / "f", refit)
    with pytest.raises(PlanError) as wrong:
        refit_of(book, family)
    assert str(wrong.value).startswith(f"family '{family.name}': {said}")
    assert "\n" not in str(wrong.value)


def test_a_list_of_refit_notes_stands_for_the_fasteners(tmp_path, book):
    family = family_with(tmp_path / "f", [{"what": "screws", "count": 4}])
    assert refit_of(book, family).fasteners == (Counted("screws", 4),)


def test_an_unknown_guide_is_said_with_those_there_are(book):
    with pytest.raises(PlanError, match="there is no guide 'polish'; there are: bridge-track, "):
        guide_of(book, "polish")
