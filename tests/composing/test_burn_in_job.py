"""A job's burn-in: its file is what is true, the records follow it, whatever ends the program."""

import os
import shutil
import signal
from dataclasses import replace
from datetime import timedelta
from types import SimpleNamespace

import pytest
from sqlalchemy import update

from needlewright.bench.burn_in.journal import (
    JOURNAL,
    Beat,
    Counts,
    Ended,
    Happened,
    Looked,
    Visited,
    now,
    texts_in,
)
from needlewright.bench.burn_in.plan import BurnInPlan
from needlewright.composing.burn_in_job import (
    begin_of_job,
    catch_up,
    family_of,
    folder_of,
    journal_of,
    report_of,
    take_up,
    unfinished_of,
)
from needlewright.composing.burn_in_keeper import LINES_BEHIND, Keeper
from needlewright.composing.burn_in_known import known_document, known_in, known_of_shop, lives_of
from needlewright.composing.burn_in_pictures import MOST_PICTURES, pictures_of, pictures_of_folder
from needlewright.composing.burn_in_report import report_document
from needlewright.composing.burn_in_statements import shown_document
from needlewright.errors import RunError
from needlewright.plans.burn_in.paying import Costs
from needlewright.plans.wear.weibull import Weibull
from needlewright.records.burn_in_journals import journal_kept
from needlewright.records.burn_ins import (
    burn_in,
    burn_ins_of,
    set_aside_burn_in,
)
from needlewright.records.opening import open_shop
from needlewright.records.opinions import Decided, give_opinion
from needlewright.records.tables import Job
from needlewright.web.burn_in_view import look_at, now_document
from records.benches import ANNA, BERT, bench, jpeg, new, received

PLAN = BurnInPlan(
    hours=2.0, dwell_s=280.0, sweeps_each=1, check_every_h=1.0, points={"speed": (40.0,)}
)
BACKLASH = Decided(("backlash",), "plays", {"backlash": 0.9}, dial="speed")
REHEARSED = "rehearsed, sound, 23 degC, seed 5"


@pytest.fixture
def opened(tmp_path):
    with bench(tmp_path / "shop") as (one, _):
        received(one)
        yield one


def begun(opened, tag="T-77", rehearsed=REHEARSED):
    known = known_of_shop(opened)
    view = begin_of_job(opened, tag, PLAN, known, rehearsed=rehearsed, by=ANNA)
    return view, take_up(opened, view, ANNA)


def followed(opened, view, journal) -> Keeper:
    keeper = Keeper(opened, view, journal, family_of(opened, view))
    keeper.follow()
    return keeper


def counted(hours: float, sweeps: int = 0) -> Counts:
    return Counts(powered_s=3600.0 * hours, sweeps=sweeps, key_ons=1)


def beat(journal, hours: float, sweeps: int = 0) -> None:
    journal.write(Beat(at=now(), counts=counted(hours, sweeps)))


def event(
    journal, hours: float, what: str = "lamp_out", pictures: int = 2, sweeps: int = 0
) -> None:
    names = tuple(f"events/0001/{n:02d}.jpg" for n in range(pictures))
    (journal.folder / "events" / "0001").mkdir(parents=True, exist_ok=True)
    for n, name in enumerate(names):
        (journal.folder / name).write_bytes(jpeg(n))
    journal.write(
        Happened(
            at=now(),
            counts=counted(hours, sweeps),
            what=what,
            where="stop",
            words="the lamp gives 0% of the light it gave at first",
            pictures=names,
            picture_s=tuple(float(n) for n in range(pictures)),
        )
    )


def end(journal, hours: float, state="finished", sweeps: int = 0) -> None:
    journal.write(Ended(at=now(), counts=counted(hours, sweeps), state=state, words="done"))


def test_the_records_follow_the_file_and_hold_the_whole_of_it(opened):
    view, journal = begun(opened)
    keeper = followed(opened, view, journal)
    assert burn_in(opened, view.id).lines == 1
    for n in range(LINES_BEHIND):
        beat(journal, 0.01 * n)
    assert burn_in(opened, view.id).lines == 1, "while nothing happens the file alone has it"
    beat(journal, 0.3)
    assert burn_in(opened, view.id).lines == LINES_BEHIND + 2
    event(journal, 0.5)
    seen = burn_in(opened, view.id)
    assert (seen.hours, seen.state, seen.said["failures"]) == (
        0.5,
        "under_way",
        {"hours": 1, "sweeps": 0},
    )
    end(journal, 2.0, sweeps=24)
    done = burn_in(opened, view.id)
    assert (done.state, done.words, keeper.problem) == ("finished", "done", "")
    # chi-square with 2 (1 + 1) degrees of freedom at 95 %: 9.488 / 2 / 2 h (any table of it)
    assert done.said["line"] == (
        "2 h, 24 sweeps, 1 event, 1 failure; too short to say how often it fails"
    )
    assert journal_kept(opened, view.id).lines == texts_in(journal.folder)
    report = report_of(opened, done)
    assert report == report_document(journal, family_of(opened, done), known_of_shop(opened))
    assert list(pictures_of(opened, done, report).values()) == [jpeg(0), jpeg(1)]
    shutil.rmtree(folder_of(opened, view.id))  # the records alone are enough from here on
    assert report_of(opened, done) == report
    assert unfinished_of(opened, "T-77") is None


def test_a_damaged_line_of_the_file_is_not_taken_over(opened):
    view, journal = begun(opened)
    keeper = followed(opened, view, journal)
    beat(journal, 0.25)
    path = journal.folder / JOURNAL
    path.write_bytes(path.read_bytes().replace(b'"powered_s":900.0', b'"powered_s":9"'))
    end(journal, 0.3, "failed")
    assert keeper.problem.endswith(
        "journal.jsonl: line 2 is damaged; put the file back from a copy, or begin anew"
    )
    kept = burn_in(opened, view.id)
    assert (kept.lines, kept.state) == (1, "under_way")


@pytest.mark.parametrize("name", ["../secret.jpg", "/etc/hostname", "events/../../secret.jpg", "l"])
def test_a_picture_outside_the_folder_is_read_by_nobody(opened, name):
    view, journal = begun(opened)
    (journal.folder.parent / "secret.jpg").write_bytes(jpeg(3))
    (journal.folder / "l").symlink_to(journal.folder.parent / "secret.jpg")
    keeper = followed(opened, view, journal)
    said = {"what": "lamp_out", "where": "stop", "words": "out", "pictures": (name,)}
    journal.write(Happened(at=now(), counts=counted(0.5), picture_s=(0.0,), **said))
    assert f"names a picture outside the folder, '{name}', which is not read" in keeper.problem
    assert journal_kept(opened, view.id).pictures == {}
    report = report_document(journal, family_of(opened, view), known_of_shop(opened))
    with pytest.raises(RunError, match="names a picture outside the folder"):
        pictures_of_folder(journal.folder, report)


def test_a_paper_has_so_many_pictures_and_no_more(opened):
    _, journal = begun(opened)
    event(journal, 0.5, pictures=MOST_PICTURES + 2)
    (journal.folder / "events/0001/00.jpg").unlink()
    report = {"events": [{"pictures": journal.lines[-1].pictures}]}
    found = pictures_of_folder(journal.folder, report)
    assert next(iter(found)) == "events/0001/01.jpg"
    assert len(found) == MOST_PICTURES


def test_a_program_that_is_killed_between_file_and_records_loses_and_doubles_nothing(opened):
    view, journal = begun(opened)
    followed(opened, view, journal)
    child = os.fork()
    if child == 0:  # never comes back
        with open_shop(opened.folder) as mine:
            again = take_up(mine, view, BERT)
            again.written = lambda line: os.kill(os.getpid(), signal.SIGKILL)
            event(again, 0.5)
        os._exit(1)
    _, status = os.waitpid(child, 0)
    assert os.WTERMSIG(status) == signal.SIGKILL
    with (journal.folder / JOURNAL).open("ab") as stream:
        stream.write(b'{"at":"2026-')  # and a line was being written
    assert burn_in(opened, view.id).lines == 1
    left = unfinished_of(opened, "t-77")
    assert left is not None
    assert (left.lines, left.hours, left.said["events"]) == (3, 0.5, 1)
    assert catch_up(opened, left) == left
    on = take_up(opened, left, ANNA)
    followed(opened, left, on)
    end(on, 2.0)
    kept = journal_kept(opened, view.id)
    assert [one.kind for one in journal_of(opened, kept.view).lines] == [
        "begun",
        "gone_on",
        "event",
        "gone_on",
        "ended",
    ]
    assert kept.lines == texts_in(on.folder)
    assert len(kept.pictures) == 2
    with pytest.raises(RunError, match="is finished; report it"):
        take_up(opened, kept.view, ANNA)


def test_a_shop_restored_from_a_backup_goes_on_from_its_records(opened):
    view, journal = begun(opened)
    followed(opened, view, journal)
    event(journal, 0.5)
    before = texts_in(journal.folder)
    shutil.rmtree(journal.folder)  # a backup has the records, and no file of a run under way
    again = take_up(opened, burn_in(opened, view.id), ANNA)
    assert texts_in(again.folder)[:-1] == before
    assert again.counts.hours == 0.5
    # an older copy of the file is brought up to what the records have
    (again.folder / JOURNAL).write_bytes(before[0].encode() + b"\n")
    assert texts_in(take_up(opened, burn_in(opened, view.id)).folder)[:-1] == before


def test_records_that_are_busy_end_no_burn_in(opened, monkeypatch):
    view, journal = begun(opened)
    keeper = followed(opened, view, journal)
    with monkeypatch.context() as patched:
        patched.setattr(
            "needlewright.records.burn_in_journals.keep",
            lambda *_: (_ for _ in ()).throw(RunError("the disk is full; make room")),
        )
        event(journal, 0.5)
    assert keeper.problem == "the disk is full; make room"
    beat(journal, 0.6)
    keeper.finish()
    assert (keeper.problem, burn_in(opened, view.id).lines) == ("", 3)


def test_one_at_a_time_of_a_job_and_what_is_set_aside_is_not_gone_on_with(opened):
    view, journal = begun(opened)
    beat(journal, 0.25)
    with pytest.raises(RunError, match=r"is not finished \(15 min of 2 h\); go on with it, or set"):
        begun(opened)
    set_aside_burn_in(opened, view.id, "another cluster on the bench", ANNA)
    with pytest.raises(RunError, match="is set aside; begin another one"):
        take_up(opened, burn_in(opened, view.id), ANNA)
    assert begun(opened)[0].id != view.id
    assert len(burn_ins_of(opened, "T-77")) == 2


def burnt(opened, tag: str, failed: str = "", rehearsed=None) -> None:
    """A day and 288 sweeps of a cluster of its own; what fails fails after a quarter of them."""
    received(opened, tag, serial=tag)
    burnt_again(opened, tag, failed, rehearsed)


def burnt_again(opened, tag: str, failed: str = "", rehearsed=None) -> None:
    hours, sweeps = 24.0, 288
    view, journal = begun(opened, tag, rehearsed)
    if failed:
        event(journal, hours / 4, failed, pictures=0, sweeps=sweeps // 4)
    for visit in range(2):
        journal.write(
            Looked(
                at=now(),
                counts=counted(hours, sweeps),
                visit=visit,
                dial="speed",
                value=40.0,
                angle_deg=1.0,
                u_angle_deg=0.1,
            )
        )
        journal.write(Visited(at=now(), counts=counted(hours, sweeps), visit=visit))
    end(journal, hours, sweeps=sweeps)
    catch_up(opened, view)


def went_back(opened, tag: str) -> None:
    with opened.writing("closing") as session:
        session.execute(update(Job).where(Job.tag == tag).values(closed_at=opened.now()))


def test_the_shops_own_clusters_teach_the_laws(tmp_path):
    with bench(tmp_path / "shop") as (opened, clock):
        burnt(opened, "sound")
        burnt(opened, "dead lamp", "lamp_out")
        burnt(opened, "returned")
        burnt(opened, "only rehearsed", "lamp_out", REHEARSED)
        went_back(opened, "sound")
        went_back(opened, "returned")
        clock.at += timedelta(days=146)  # four tenths of a year
        new(opened, "again", serial="returned", return_of="returned")
        give_opinion(opened, "again", BACKLASH, ANNA)
        lives = lives_of(opened, opened.now())
        # 500 h and 10 000 sweeps a year of driving (common practice, no source)
        year = 146 / 365.2425
        assert lives["hours"].failed == pytest.approx((6.0,))
        assert sorted(lives["hours"].running) == pytest.approx([24 + 500 * year] * 2)
        assert lives["sweeps"].failed == pytest.approx((288 + 10_000 * year,))
        assert sorted(lives["sweeps"].running) == pytest.approx([288, 288 + 10_000 * year])
        laws = {one.clock: one for one in known_of_shop(opened).laws}
        assert laws["hours"].said == (
            "scale, the shape as stated, from the shop's 1 failure and 2 that still run"
        )
        # with the shape s as stated, scale^s = sum of t^s over the failures (NIST/SEMATECH
        # e-Handbook, 8.4.1.2)
        ages = (6.0, *lives["hours"].running)
        assert laws["hours"].law.scale == pytest.approx(sum(t**0.5 for t in ages) ** 2, rel=1e-6)
        stated = known_of_shop(opened, stated={"hours": Weibull(0.7, 9e4)}).laws[0]
        assert (stated.said, stated.law) == ("stated", Weibull(0.7, 9e4))


def test_a_life_is_watched_until_its_warranty_ends_and_no_longer(tmp_path):
    with bench(tmp_path / "shop") as (opened, clock):
        for tag in ("well", "late", "early"):
            burnt(opened, tag)
            went_back(opened, tag)
        clock.at += timedelta(days=73)  # a fifth of a year
        new(opened, "early again", serial="early", return_of="early")
        give_opinion(opened, "early again", BACKLASH, ANNA)
        clock.at += timedelta(days=803)  # 2.4 years in all, and the warranty is two
        new(opened, "late again", serial="late", return_of="late")
        give_opinion(opened, "late again", BACKLASH, ANNA)
        lives = lives_of(opened, opened.now() + timedelta(days=3000))
        early = 73 / 365.2425
        assert lives["sweeps"].failed == pytest.approx((288 + 10_000 * early,))
        assert lives["sweeps"].running == pytest.approx([288 + 20_000] * 2)
        assert lives["hours"].failed == ()
        assert sorted(lives["hours"].running) == pytest.approx([24 + 500 * early, 1024, 1024])


def test_a_second_burn_in_of_a_job_goes_on_with_the_life_of_the_first(tmp_path):
    with bench(tmp_path / "shop") as (opened, _):
        burnt(opened, "twice")
        burnt_again(opened, "twice")
        burnt(opened, "repaired", "lamp_out")
        burnt_again(opened, "repaired", "lamp_out")
        lives = lives_of(opened, opened.now())
        # an electronic failure after 6 of 24 h, and again after 6 more of 48 h
        assert lives["hours"].failed == (6.0, 30.0)
        assert lives["hours"].failed_from == (0.0, 24.0)
        assert (lives["hours"].running, lives["hours"].running_from) == ((48.0,), (0.0,))
        # the movements have not failed: 576 sweeps of one life, not two of 288
        assert (lives["sweeps"].running, lives["sweeps"].failed) == ((576.0, 576.0), ())
        # f(t) / S(a) of each: scale^s = sum(x^s - a^s) / failures, s = 0.5 as stated
        watched = 6**0.5 + (30**0.5 - 24**0.5) + 48**0.5
        law = next(one.law for one in known_of_shop(opened).laws if one.clock == "hours")
        assert law.scale == pytest.approx((watched / 2) ** 2, rel=1e-6)


def test_what_was_known_is_kept_as_it_was(opened):
    known = known_of_shop(opened, confidence=0.9, costs=(Costs(0.4, 180.0, 20.0), "EUR"))
    assert known_in(known_document(known)) == known
    assert known_in(known_document(replace(known, costs=None))).costs is None


def test_undone_while_it_is_on_it_is_kept_and_does_not_count(opened):
    view, journal = begun(opened)
    keeper = followed(opened, view, journal)
    set_aside_burn_in(opened, view.id, "undone", ANNA)
    event(journal, 0.5)
    assert not keeper.view.counts, "whoever carries it out sees that"
    assert keeper.view.lines == 2


def test_a_run_too_short_for_an_hour_between_failures_says_so_and_a_longer_one_its_mean(opened):
    known = known_of_shop(opened)
    short = shown_document(known, counted(0.0163, 1), {}, rehearsed=False)["words"]
    assert short.startswith("59 s of this one unit with no failure of the electronics: too short")
    assert "; 1 sweep of this one unit" in short
    # 24 h / -ln(0.05) = 8.01 h (NIST/SEMATECH e-Handbook, 8.4.5.1)
    day = shown_document(known, counted(24.0, 288), {}, rehearsed=False)["words"]
    assert "a mean of at least 8.01 h between failures" in day
    assert "a mean of at least 96 sweeps between failures" in day


@pytest.mark.parametrize(
    ("rehearsed", "why"),
    [
        (None, "The workbench ended; the supply was not switched off by it: check it"),
        (REHEARSED, "The workbench ended in the middle of it"),
    ],
)
def test_one_that_was_cut_off_says_that_nobody_switched_the_supply_off(opened, rehearsed, why):
    view, journal = begun(opened, rehearsed=rehearsed)
    followed(opened, view, journal)
    beat(journal, 0.3)
    nowhere = SimpleNamespace(at=lambda number: None)
    look = look_at(opened, nowhere, burn_in(opened, view.id))
    said = now_document(opened, look)
    assert (said["phase"], said["words"]) == ("stopped", why)
    assert (said["done"], said["left"]) == ("18 min / 2 h", "1.7 h")
