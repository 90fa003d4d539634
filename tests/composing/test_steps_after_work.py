"""What is next once the work is done goes by the run as left."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from needlewright.composing.after_work import AfterLine, AfterWork
from needlewright.composing.job_findings import job_findings
from needlewright.composing.steps_after_work import steps_after_work
from needlewright.findings.lamps.looked import Looked
from needlewright.records.families import load_version
from needlewright.records.run_photos import add_run_photo
from needlewright.records.run_readings import store_outcome
from needlewright.records.runs import set_aside_run, start_run
from needlewright.records.sheet import job_sheet
from needlewright.records.views import PaperView
from records.benches import ANNA, bench, measured_side, outcomes, received, told
from records.benches import jpeg as photo


@pytest.fixture(scope="module")
def measured(tmp_path_factory):
    """The drawn job, measured as found and as left."""
    with bench(tmp_path_factory.mktemp("shop")) as (one, _):
        received(one)
        measured_side(one, "T-77", "found")
        measured_side(one, "T-77", "left")
        yield one


def asked(shop, job=None, after=None):
    sheet = job or job_sheet(shop, "T-77")
    family = load_version(shop, sheet.family_version_id)
    return steps_after_work(shop, sheet, family, after)


def test_all_that_conforms_as_left_asks_for_its_certificate(measured):
    """The findings still know what it had, and no more say to open it."""
    found = job_findings(measured, "T-77", looks_ahead=0)
    assert found.card("speed").top.cause == "lost_steps"
    assert [(one.kind, one.expected_minutes) for one in found.steps] == [("prove", None)]
    assert found.steps == asked(measured)
    assert (
        found.steps[0].words == "Issue its certificate: nothing that was looked at is wrong as left"
    )
    assert found.steps[0].reason == (
        "By run as-left; what the run as found showed has been worked on since."
    )


def test_a_lamp_that_is_wrong_as_left_is_mended_before_proof(measured):
    line = AfterLine("new", True, True, "tell-tale fog", "Tell-tale fog: dark", None, None)
    right = replace(line, outcome="mended", is_worse=False, is_wrong=False, what="zone speed")
    after = AfterWork("as-left", "as-found", (line, right), (), "")
    mend, prove = asked(measured, after=after)
    assert (mend.kind, mend.words, mend.then) == (
        "mend",
        "Go on with the work; wrong as left: tell-tale fog",
        ("tell-tale fog",),
    )
    assert prove.kind == "prove"
    assert "a speedometer that fails gets no certificate" in prove.reason


def unseen(outcome, what, why=None):
    left = None if why is None else Looked("tell_tale", what, None, None, None, why=why)
    return AfterLine(outcome, False, False, what, what, None, left)


def test_a_lamp_that_was_dark_and_is_not_seen_again_holds_the_certificate_back(measured):
    dark, lit = unseen("not_seen", "tell-tale fog", "glare"), unseen("right_not_seen", "zone speed")
    after = AfterWork("as-left", "as-found", (dark, lit), ("photo two: too dark",), "")
    again, prove = asked(measured, after=after)
    assert (again.kind, again.words) == (
        "finish_run",
        "Look again; wrong as found and not seen as left: tell-tale fog",
    )
    assert again.then == (
        "not seen as left: tell-tale fog (glare)",
        "not seen as left: zone speed (not looked at)",
        "photo two: too dark",
    )
    assert (prove.kind, prove.words) == (
        "prove",
        "Or leave it unseen, and issue its certificate",
    )
    wrong = AfterLine("still", False, True, "zone temp", "Zone temp: dark", None, None)
    mend, _ = asked(measured, after=replace(after, lines=(wrong, dark)))
    assert mend.then[:2] == ("zone temp", "not seen as left: tell-tale fog (glare)")


@pytest.mark.parametrize(
    ("lines", "photos", "ends"),
    [
        (1, (), "is wrong as left; 1 lamp or current was not seen"),
        (2, (), "is wrong as left; 2 lamps or currents were not seen"),
        (0, ("photo two: too dark",), "is wrong as left; some photos could not be judged"),
    ],
)
def test_what_was_right_and_is_not_seen_again_is_said_with_the_certificate(
    measured, lines, photos, ends
):
    both = (unseen("right_not_seen", "zone speed"), unseen("not_known", "hub", "it is covered"))
    after = AfterWork("as-left", "as-found", both[:lines], photos, "")
    [prove] = asked(measured, after=after)
    assert prove.kind == "prove"
    assert prove.words == f"Issue its certificate: nothing that was seen {ends}"
    assert len(prove.then) == lines + len(photos)


def test_what_was_issued_on_the_run_as_left_ends_it_and_an_older_paper_does_not(measured):
    job = job_sheet(measured, "T-77")
    began = next(one.started_at for one in job.runs if one.side == "left")
    paper = PaperView(
        1, "T-77", "certificate", "C-1", 1, "C-1", None, None, None, "a", "b", None,
        date(2026, 1, 2), began + timedelta(minutes=5), ANNA,
    )  # fmt: skip
    [over] = asked(measured, replace(job, papers=(paper,)))
    assert (over.kind, over.words) == (
        "over",
        "Nothing is left to look for: the certificate C-1 is issued",
    )
    older = replace(paper, issued_at=began - timedelta(minutes=5))
    assert [one.kind for one in asked(measured, replace(job, papers=(older,)))] == ["prove"]
    replaced = replace(paper, replaced_by="C-1-2")
    assert [one.kind for one in asked(measured, replace(job, papers=(replaced,)))] == ["prove"]


def test_a_run_as_left_that_shows_the_old_faults_sends_back_to_the_work(tmp_path):
    """Begun it wants its end; set aside, the run as found speaks again."""
    with bench(tmp_path) as (shop, _):
        received(shop)
        measured_side(shop, "T-77", "found")
        before = job_findings(shop, "T-77", looks_ahead=0).steps
        assert before[0].kind in ("test", "open")
        run = start_run(shop, "T-77", "left", told(), ANNA)
        [begun] = asked(shop)
        assert (begun.kind, begun.words[:57]) == (
            "finish_run",
            "Finish the run as left: run as-left has no photo at step ",
        )
        for step, outcome in outcomes().items():
            kept = add_run_photo(shop, run.id, photo(step), f"left-{step}.jpg", ANNA, step=step)
            store_outcome(shop, kept.id, outcome, photo(step + 100))
        mend, prove = asked(shop)
        assert (mend.kind, prove.kind) == ("mend", "prove")
        assert "the road speed gauge" in mend.then
        assert job_findings(shop, "T-77", looks_ahead=0).steps == (mend, prove)
        set_aside_run(shop, run.id, "the lid was loose", ANNA)
        assert job_findings(shop, "T-77", looks_ahead=0).steps == before
