"""Lamps and currents of a run at the bench: kept with the job, and counted as evidence."""

import json
import re
import shutil
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import cv2
import numpy as np
import pytest

from needlewright.bench.keeping import KeptRun
from needlewright.bench.outcome import LampPhoto, RestCurrent
from needlewright.bench.steps import RunPlan, plan_run, with_checks
from needlewright.composing import bench_seen
from needlewright.composing.after_work import AfterWork
from needlewright.composing.bench_choice import BenchChoice
from needlewright.composing.bench_folder import begin_stored, folder_of
from needlewright.composing.bench_kept import StoredRun, told_of
from needlewright.composing.evidence_piece import Material, Piece
from needlewright.composing.job_evidence import collect
from needlewright.composing.job_findings import job_findings
from needlewright.composing.kept_pieces import take_analysis
from needlewright.composing.lamp_photos import LampShot
from needlewright.composing.light_measuring import Wish
from needlewright.composing.lights import LightReport, check_lights
from needlewright.composing.shop_priors import experience_of
from needlewright.errors import KnowledgeError, RunError
from needlewright.families.model import Family
from needlewright.findings.evidence import Evidence
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.records.families import families, keep_family, load_version
from needlewright.records.opening import Shop, open_shop
from needlewright.records.runs import set_aside_run, start_run
from needlewright.records.sheet import job_sheet
from needlewright.records.shop import add_person, change_settings
from needlewright.records.undo import undo_last
from needlewright.records.words import RunSide
from readings.light.lit_demo import FAMILY, LAMPS, SOUND, photo
from web.sheet_desk import BY, TAG, open_job, received

DEAD = SOUND | {"behind-engine": 0.0}
LIT = tuple(LAMPS)
JUDGED: dict[tuple[object, ...], LightReport] = {}
"""What was judged of which picture; a picture says the same whichever run shows it."""


@dataclass
class Bench:
    """A shop with a job, whose family says what a cluster draws at rest."""

    shop: Shop
    family: Family

    def begin(self, side: RunSide, rehearsed: str | None = None) -> StoredRun:
        plan = self.plan()
        rows = told_of(plan, self.family, 21.0)
        run = start_run(self.shop, TAG, side, rows, BY, rehearsed=rehearsed)
        kept = begin_stored(self.shop, run.id, self.family, plan, BenchChoice(kind="rehearsal"))
        stored = StoredRun(self.shop, run.id, BY, kept)
        self.last = run.id
        return stored

    def plan(self) -> RunPlan:
        return with_checks(plan_run({"speed": (20.0,)}, (0,)), self.family, sweep=False)

    def take(
        self, stored: StoredRun, seen: dict[str, float] | None, amperes: float | None = None
    ) -> LampPhoto:
        """A photo of the backlight (black where nothing is given) and a current."""
        name = "backlight.png"
        file = png(None if seen is None else tuple(seen.items()))
        (folder_of(self.shop, self.last) / name).write_bytes(file)
        taken = LampPhoto("backlight", name, LIT, (), 13.5, 0.31)
        stored.keep_check(taken, 3, 1)
        if amperes is not None:
            stored.keep_current(RestCurrent(1, 13.5, amperes))
        return taken

    def pieces(self, finding: str) -> list[Piece]:
        """What there is on a finding."""
        job = job_sheet(self.shop, TAG)
        found = collect(Material(self.shop, job, self.family, load_knowledge(None)))
        assert not [words for words in found.not_used if "lamps and currents" in words]
        return [
            one
            for one in found.pieces
            if isinstance(one.says, Evidence) and one.says.finding == finding
        ]

    def says(self, finding: str) -> float | None:
        """How much likelier a finding is made; None: nothing is said of it."""
        ratios = [one.says.ratio for one in self.pieces(finding) if isinstance(one.says, Evidence)]
        assert len(ratios) <= 1
        return ratios[0] if ratios else None


@cache
def png(seen: tuple[tuple[str, float], ...] | None) -> bytes:
    """A photo of lamps; None: a black one."""
    pixels = np.zeros((427, 640, 3), np.uint8) if seen is None else photo(dict(seen))
    return cv2.imencode(".png", pixels)[1].tobytes()


@pytest.fixture(autouse=True)
def judged_once(monkeypatch: pytest.MonkeyPatch) -> None:
    def once(
        family: Family, shots: Sequence[LampShot], healthy: Path | None, wish: Wish
    ) -> LightReport:
        key = (healthy, wish, *((one.path.read_bytes(), one.lit, one.not_lit) for one in shots))
        if key not in JUDGED:
            JUDGED[key] = check_lights(family, shots, healthy, wish)
        return JUDGED[key]

    monkeypatch.setattr(bench_seen, "check_lights", once)


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    folder = tmp_path / "family"
    shutil.copytree(FAMILY.folder, folder)
    file = folder / "family.json"
    said = json.loads(file.read_text(encoding="utf-8"))
    said["supply"] = {"limit_a": 2.0, "rest_a": [0.15, 0.25]}
    file.write_text(json.dumps(said), encoding="utf-8")
    with open_shop(tmp_path / "shop") as shop:
        add_person(shop, BY)
        change_settings(
            shop, {"name": "Example", "place": "Nowhere", "authorised_by": BY, "invented": True}
        )
        keep_family(shop, folder)
        open_job(shop)
        received(shop)
        yield Bench(shop, load_version(shop, families(shop)[0].version_id))


def test_a_dead_lamp_and_a_current_outside_the_range_count_when_the_run_is_finished(bench):
    stored = bench.begin("found")
    bench.take(stored, DEAD, amperes=0.6)
    [kept] = job_sheet(bench.shop, TAG).photos
    assert (kept.stage, kept.kind, kept.name) == (
        "received",
        "other",
        "bench-found-lamps-backlight.png",
    )
    assert kept.note == (f"Run as-found, lamps backlight: lit {', '.join(LIT)}; 13.5 V and 0.31 A")
    assert bench.says("lamp_check_dark") is None  # while it lasts
    stored.finish()
    assert not folder_of(bench.shop, bench.last).exists()
    assert bench.shop.originals.path(kept.sha256).is_file()
    dark, current = bench.says("lamp_check_dark"), bench.says("current_off")
    assert dark is not None
    assert dark > 10
    assert current is not None
    assert current > 10


def test_a_sound_face_and_a_current_within_the_range_speak_against(bench):
    stored = bench.begin("found")
    bench.take(stored, SOUND, amperes=0.2)
    stored.finish()
    dark, current = bench.says("lamp_check_dark"), bench.says("current_off")
    assert dark is not None
    assert dark < 1
    assert current is not None
    assert current < 1


def test_a_current_that_drops_from_one_key_on_to_the_next_speaks_of_what_feeds_all(bench):
    stored = bench.begin("found")
    for key_ons, amperes in ((1, 0.2), (3, 0.06), (5, 0.2)):
        stored.keep_current(RestCurrent(key_ons, 13.5, amperes))
    stored.finish()
    together = bench.says("all_at_once")
    assert together is not None
    assert together > 10  # two drops; a sound cluster does so one time in ten


def test_only_the_newest_run_as_found_speaks_and_one_set_aside_is_silent(bench):
    stored = bench.begin("found", rehearsed="rehearsed, sound, 23 degC, seed 7")
    bench.take(stored, DEAD, amperes=0.6)
    stored.finish()
    first = bench.last
    [piece] = bench.pieces("current_off")
    assert piece.words.endswith(" (Rehearsed, sound, 23 °C: no real cluster was seen.)")
    assert piece.rehearsed == "rehearsed, sound, 23 degC, seed 7"
    [card] = [one for one in job_findings(bench.shop, TAG).cards if one.id == "supply"]
    [seen] = [one for one in card.evidence if one.finding == "current_off"]
    assert seen.rehearsed == piece.rehearsed
    assert "seed" not in seen.words
    assert [one.note for one in job_sheet(bench.shop, TAG).photos if "seed" in one.note] == []
    stored = bench.begin("found")
    bench.take(stored, SOUND, amperes=0.2)
    stored.finish()
    current = bench.says("current_off")
    assert current is not None
    assert current < 1
    set_aside_run(bench.shop, bench.last, "only to see")
    current = bench.says("current_off")
    assert current is not None
    assert current > 10  # the first run is the newest again
    set_aside_run(bench.shop, first, "only to see")
    assert bench.says("current_off") is None


def test_a_run_as_left_keeps_its_photos_and_says_nothing_of_what_the_cluster_had(bench):
    stored = bench.begin("left")
    bench.take(stored, DEAD, amperes=0.6)
    stored.finish()
    sheet = job_sheet(bench.shop, TAG)
    [kept] = sheet.photos
    assert (kept.stage, kept.name) == ("returned", "bench-left-lamps-backlight.png")
    assert [one.name for one in sheet.analyses] == [
        f"lamps and currents of run as-left, no. {bench.last}"
    ]
    found = collect(Material(bench.shop, sheet, bench.family, load_knowledge(None)))
    assert (found.pieces, found.not_used) == ((), ())
    assert experience_of(bench.shop, load_knowledge(None)).cases == ()
    seen = job_findings(bench.shop, TAG)
    assert not any(card.evidence for card in seen.cards)
    after = seen.after_work
    assert after is not None
    assert (after.run, after.found_run, after.worse) == ("as-left", None, 0)
    told = {(one.what, one.outcome) for one in after.told}  # wrong, and nobody looked before
    assert told == {("zone behind engine", "wrong"), ("current at rest", "wrong")}


def looked(bench, found: object, left: object, *amperes: float) -> AfterWork:
    """Run as found and run as left, each with its lamps and its current."""
    for side, seen, drawn in zip(("found", "left"), (found, left), amperes, strict=True):
        stored = bench.begin(side)
        bench.take(stored, seen, drawn)
        stored.finish()
    after = job_findings(bench.shop, TAG).after_work
    assert after is not None
    return after


def test_what_the_work_mended_is_told_and_what_is_right_is_counted(bench):
    after = looked(bench, DEAD, SOUND, 0.6, 0.2)
    assert (after.run, after.found_run) == ("as-left", "as-found")
    assert (after.worse, after.wrong, after.not_judged, after.remark) == (0, 0, (), "")
    told = {one.what: one for one in after.told}
    assert {one.outcome for one in after.told} == {"mended"}
    assert set(told) == {"zone behind engine", "current at rest"}
    words = told["zone behind engine"].words
    assert re.fullmatch(
        r"Zone behind engine: dark as found \(.* %, light \d+ ± \d+ %\), "
        r"lit as it should be as left \(.* %, light \d+ ± \d+ %\)",
        words,
    ), words
    assert told["current at rest"].words == (
        "Current at rest: outside its range as found (over 99 %, 0.600 ± 0.026 A), "
        "as it should be as left (over 99 %, 0.200 ± 0.013 A)"
    )
    zones = [one for one in after.lines if one.left is not None and one.left.kind == "zone"]
    hubs = [one for one in after.lines if one.left is not None and one.left.kind == "hub"]
    assert (len(zones), len(hubs)) == (len(LAMPS), len(bench.family.dials))


def test_what_got_worse_comes_first_and_what_is_still_so_is_told(bench):
    after = looked(bench, SOUND, DEAD, 0.6, 0.6)
    assert [(one.what, one.outcome) for one in after.told] == [
        ("zone behind engine", "new"),
        ("current at rest", "still"),
    ]
    assert (after.worse, after.wrong) == (1, 2)
    dark = bench.says("lamp_check_dark")
    assert dark is not None
    assert dark < 1  # the findings go by the run as found alone


def test_what_was_wrong_and_is_not_looked_at_again_is_told(bench):
    stored = bench.begin("found")
    bench.take(stored, DEAD, amperes=0.2)
    stored.finish()
    assert job_findings(bench.shop, TAG).after_work is None  # the work is not done
    stored = bench.begin("left", rehearsed="rehearsed, sound, 23 degC, seed 7")
    bench.take(stored, None, amperes=0.2)
    stored.finish()
    after = job_findings(bench.shop, TAG).after_work
    assert after is not None
    assert [(one.what, one.outcome) for one in after.told] == [("zone behind engine", "not_seen")]
    assert after.told[0].words.endswith(", not looked at as left")
    [problem] = after.not_judged
    assert problem.startswith("bench-left-lamps-backlight, rehearsed.png: ")
    assert str(bench.shop.folder) not in problem
    assert after.remark == "Rehearsed, sound, 23 °C: no real cluster was seen."
    set_aside_run(bench.shop, bench.last, "only to see")
    assert job_findings(bench.shop, TAG).after_work is None


def test_a_photo_taken_again_or_back_counts_no_more_and_undo_brings_it_back(bench):
    stored = bench.begin("found")
    bench.take(stored, DEAD)
    bench.take(stored, SOUND)
    [kept] = job_sheet(bench.shop, TAG).photos
    step = bench.plan().steps[2]
    assert step.kind == "lamps"
    stored.take_back(step, 2)
    assert job_sheet(bench.shop, TAG).photos == ()
    assert undo_last(bench.shop, TAG).what == (
        "run as-found: photo of lamps withdrawn at the bench"
    )
    assert job_sheet(bench.shop, TAG).photos == (kept,)
    stored.keep_check(None, 3, 1)  # skipped
    assert job_sheet(bench.shop, TAG).photos == ()


def test_photos_that_cannot_be_judged_are_kept_and_noted_and_the_run_is_finished(bench):
    stored = bench.begin("found")
    bench.take(stored, None)
    stored.finish()
    sheet = job_sheet(bench.shop, TAG)
    assert len(sheet.photos) == 1
    assert [one.name.split(" of ")[0] for one in sheet.analyses] == ["lamps and currents"]
    [note] = sheet.notes
    assert note.text.startswith("Run as-found: bench-found-lamps-backlight.png: ")
    assert str(bench.shop.folder) not in note.text


def cut_off(*_: object) -> None:
    raise RunError("the run: cannot be written (No space left on device)")


def test_what_is_skipped_when_a_run_is_finished_again_counts_no_more(bench, monkeypatch):
    stored = bench.begin("found")
    bench.take(stored, DEAD, amperes=0.6)
    with monkeypatch.context() as patched:
        patched.setattr(KeptRun, "finish", cut_off)
        with pytest.raises(RunError, match="No space left"):
            stored.finish()
    assert bench.says("lamp_check_dark") is not None
    stored.take_back(bench.plan().steps[2], 2)
    stored.keep_check(None, 3, 1)  # skipped
    stored.finish()
    assert bench.says("lamp_check_dark") is None
    names = sorted(one.name.split(" of ")[0] for one in job_sheet(bench.shop, TAG).analyses)
    assert names == ["currents", "lamps and currents"]


def test_a_document_is_not_called_as_what_a_run_saw(bench):
    stored = bench.begin("found")
    bench.take(stored, SOUND, amperes=0.2)
    stored.finish()
    names = [one.name for one in job_sheet(bench.shop, TAG).analyses]
    assert len(names) == 3
    for name in names:
        with pytest.raises(KnowledgeError, match="give the file another name"):
            take_analysis(bench.shop, TAG, name, b"[]")
