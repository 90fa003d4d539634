"""Plans of jobs and what was accepted of them: kept whole, undone, refused in one sentence."""

import json
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from threading import Barrier

import pytest

from needlewright.errors import ConflictError, JobError, NotThereError, PlanError, RecordError
from needlewright.records.backup import backup
from needlewright.records.jobs import edit_job
from needlewright.records.opening import open_shop
from needlewright.records.plan_acceptances import accept_plan, take_back_acceptance
from needlewright.records.plans import keep_plan, plan_document_of, plan_of_job
from needlewright.records.restore import restore
from needlewright.records.sheet import job_sheet
from needlewright.records.undo import history, undo_last
from records.benches import ANNA, BERT, bench, new, sqlite_only

TAG = "T-77"
DAY = date(2026, 3, 2)


@pytest.fixture
def opened(tmp_path):
    with bench(tmp_path / "shop") as (one, _):
        new(one)
        yield one


def document(number="AAAA0001", price="124.77"):
    """As much of a plan as the records look at."""
    option = {"id": "recommended", "price": price, "minutes": 83.67, "p": 1e-17}
    other = {"id": "everything", "price": "410.00"}
    return {"number": number, "tag": TAG, "currency": "EUR", "options": [option, other]}


def accept(opened, number="AAAA0001", by=ANNA, **more):
    said = {"option": "recommended", "who": "C. Ustomer", "when": DAY, "how": "by telephone"}
    return accept_plan(opened, TAG, number, by, **said | more)


def state(opened):
    """Number, what is accepted of it, whether another acceptance is needed, older numbers."""
    view = plan_of_job(opened, TAG)
    accepted = None if view.acceptance is None else view.acceptance.option
    older = [one.number for one in view.superseded]
    return view.number, accepted, view.needs_new_acceptance, older


def test_a_plan_is_kept_whole_and_the_same_one_once(opened):
    assert plan_of_job(opened, TAG) is None
    before = job_sheet(opened, TAG).version
    first = keep_plan(opened, TAG, document(), ANNA)
    again = keep_plan(opened, TAG, document(), BERT)
    assert (first.version, again.version) == (before + 1, before + 1)
    view = plan_of_job(opened, TAG)
    assert (view.number, view.by, view.acceptance) == ("AAAA0001", ANNA, None)
    assert json.dumps(view.document) == json.dumps(document())  # figures, texts and their order
    keep_plan(opened, TAG, document("BBBB0002"), BERT)
    assert state(opened) == ("BBBB0002", None, False, ["AAAA0001"])
    assert plan_document_of(opened, TAG, "aaaa0001")["number"] == "AAAA0001"
    assert plan_document_of(opened, TAG)["number"] == "BBBB0002"
    with pytest.raises(NotThereError, match="has no plan CCCC0003; its plans: AAAA0001, BBBB0002"):
        plan_document_of(opened, TAG, "CCCC0003")


def test_who_accepted_what_when_and_how_at_which_price(opened):
    keep_plan(opened, TAG, document(), ANNA)
    accept(opened, price="124.77 EUR", by=BERT)
    one = plan_of_job(opened, TAG).acceptance
    assert (one.number, one.option, one.price) == ("AAAA0001", "recommended", "124.77 EUR")
    assert (one.who, one.when, one.how) == ("C. Ustomer", DAY, "by telephone")
    assert (one.by, one.taken_back) == (BERT, None)
    assert history(opened, TAG)[0].what == "plan AAAA0001 accepted: recommended"


def test_a_change_after_an_acceptance_needs_a_new_one_and_the_old_one_stays(opened):
    keep_plan(opened, TAG, document(), ANNA)
    accept(opened)
    keep_plan(opened, TAG, document("BBBB0002", "131.00"), ANNA)
    assert state(opened) == ("BBBB0002", None, True, ["AAAA0001"])
    old = plan_of_job(opened, TAG).superseded[0].acceptances
    assert [(one.option, one.price) for one in old] == [("recommended", "124.77 EUR")]


def test_a_plan_changed_back_is_accepted_again_unless_another_was_accepted_since(opened):
    keep_plan(opened, TAG, document(), ANNA)
    accept(opened)
    keep_plan(opened, TAG, document("BBBB0002"), ANNA)
    keep_plan(opened, TAG, document(), ANNA)
    assert state(opened) == ("AAAA0001", "recommended", False, ["BBBB0002", "AAAA0001"])
    assert [given.option for given in plan_of_job(opened, TAG).acceptances] == ["recommended"]
    keep_plan(opened, TAG, document("BBBB0002"), ANNA)
    accept(opened, "BBBB0002")
    keep_plan(opened, TAG, document(), ANNA)
    assert state(opened)[:3] == ("AAAA0001", None, True)


def test_what_is_taken_back_counts_no_more_and_none_before_it_either(opened):
    keep_plan(opened, TAG, document(), ANNA)
    accept(opened)
    keep_plan(opened, TAG, document("BBBB0002"), ANNA)
    accept(opened, "BBBB0002", option="everything")
    take_back_acceptance(opened, TAG, "the owner sells the van", BERT)
    assert state(opened)[1:3] == (None, False)
    back = plan_of_job(opened, TAG).acceptances[0].taken_back
    assert (back.by, back.why) == (BERT, "the owner sells the van")
    keep_plan(opened, TAG, document(), ANNA)
    assert state(opened)[:3] == ("AAAA0001", None, False)
    with pytest.raises(RecordError, match="no plan of it is accepted; there is nothing to take"):
        take_back_acceptance(opened, TAG, "again", BERT)
    accept(opened)
    assert state(opened)[:2] == ("AAAA0001", "recommended")


def test_each_step_is_undone(opened):
    keep_plan(opened, TAG, document(), ANNA)
    accept(opened)
    keep_plan(opened, TAG, document("BBBB0002"), ANNA)
    undo_last(opened, TAG, ANNA)
    assert state(opened) == ("AAAA0001", "recommended", False, [])
    take_back_acceptance(opened, TAG, "a mistake", ANNA)
    assert state(opened)[1] is None
    undo_last(opened, TAG, ANNA)
    assert state(opened)[1] == "recommended"
    assert plan_of_job(opened, TAG).acceptance.taken_back is None
    undo_last(opened, TAG, ANNA)
    assert state(opened) == ("AAAA0001", None, False, [])
    undo_last(opened, TAG, ANNA)
    assert plan_of_job(opened, TAG) is None


def test_a_second_acceptance_is_a_conflict_and_the_same_one_is_none(opened):
    keep_plan(opened, TAG, document(), ANNA)
    version = accept(opened).version
    assert accept(opened, by=BERT).version == version  # the form sent twice
    with pytest.raises(ConflictError) as said:
        accept(opened, option="everything", by=BERT)
    assert str(said.value) == (
        "job T-77: plan AAAA0001 is accepted already: option 'recommended' by C. Ustomer on "
        "2026-03-02 (by telephone), written down by Anna Invented; yours was not saved; take that "
        "one back first if another counts"
    )
    assert state(opened)[1] == "recommended"


def test_of_two_acceptances_at_the_same_moment_one_counts(opened):
    keep_plan(opened, TAG, document(), ANNA)
    together = Barrier(2)

    def enter(option):
        together.wait()
        try:
            accept(opened, option=option)
        except ConflictError:
            return "refused"
        return option

    with ThreadPoolExecutor(2) as pool:
        said = [*pool.map(enter, ("recommended", "everything"))]
    assert sorted(said, key="refused".__eq__)[1:] == ["refused"]
    view = plan_of_job(opened, TAG)
    assert [one.option for one in view.acceptances] == [one for one in said if one != "refused"]


@pytest.mark.parametrize(
    ("more", "error", "words"),
    [
        ({"option": "half"}, PlanError, "plan AAAA0001 has no option 'half'; it has: recommended"),
        ({"number": "BBBB0002"}, PlanError, "it was changed after that; send the new quote"),
        ({"when": date(2026, 3, 9)}, PlanError, "2026-03-09 is yet to come; correct the day"),
        (
            {"price": "99.00 EUR"},
            PlanError,
            "99.00 EUR was accepted and option 'recommended' costs",
        ),
        ({"who": " "}, JobError, "who: expected who accepted, in one line, found ' '"),
        ({"how": ""}, JobError, "how: expected how, such as by message"),
        ({"by": "Nobody"}, RecordError, "nobody named 'Nobody' works in this shop"),
    ],
)
def test_what_cannot_be_accepted(opened, more, error, words):
    keep_plan(opened, TAG, document(), ANNA)
    with pytest.raises(error) as said:
        accept(opened, **more)
    assert words in str(said.value)
    assert "\n" not in str(said.value)
    assert state(opened)[1] is None


def test_what_cannot_be_kept(opened):
    with pytest.raises(NotThereError, match="no plan of it was kept; make one with needlewright"):
        accept(opened)
    with pytest.raises(RecordError, match="plan AAAA0001 is of job none; make one of this job"):
        keep_plan(opened, TAG, document() | {"tag": None}, ANNA)
    with pytest.raises(RecordError, match="the plan has no number; make it anew"):
        keep_plan(opened, TAG, document("A"), ANNA)
    assert plan_of_job(opened, TAG) is None


@sqlite_only
def test_plan_and_acceptance_come_back_from_a_backup(opened, tmp_path):
    keep_plan(opened, TAG, document(), ANNA)
    accept(opened)
    view = plan_of_job(opened, TAG)
    backup(opened, tmp_path / "all.zip")
    restore(tmp_path / "all.zip", tmp_path / "restored")
    with open_shop(tmp_path / "restored") as there:
        assert plan_of_job(there, TAG) == view


def test_when_a_cluster_was_built_is_said_as_exactly_as_it_is_known(opened):
    for known in ("2012", "2012-05", "2012-05-17"):
        assert edit_job(opened, TAG, {"built": known}, ANNA).built == known
    assert new(opened, "T-78").built == "2012-05-17"  # the same cluster, by its serial
    undo_last(opened, TAG, ANNA)
    assert job_sheet(opened, TAG).built == "2012-05"
    assert edit_job(opened, TAG, {"built": ""}, ANNA).built is None
    assert new(opened, "T-79", serial="S-9", built="2014").built == "2014"
    # the serial, typed later, leads to a cluster of which it was not known
    assert edit_job(opened, "T-79", {"serial": "S-123"}, ANNA).built == "2014"


@pytest.mark.parametrize("typed", ["12", "1899", "2012-13", "2012-02-30", "2012-5", "May 2012"])
def test_what_is_no_year_month_or_day(opened, typed):
    with pytest.raises(JobError, match="built: expected a year, month or day from 1900 on, such"):
        edit_job(opened, TAG, {"built": typed}, ANNA)


def test_a_cluster_was_not_built_tomorrow(opened):
    assert edit_job(opened, TAG, {"built": "2026"}, ANNA).built == "2026"
    with pytest.raises(RecordError, match="built 2026-04 is yet to come \\(2026-03-02 today\\)"):
        edit_job(opened, TAG, {"built": "2026-04"}, ANNA)
