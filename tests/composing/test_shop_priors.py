"""Finished jobs as cases: what moves the priors of the next one."""

import pytest
from scipy.stats import beta

from needlewright.composing.job_answers import Decision, overrule, take_answers
from needlewright.composing.job_findings import job_findings
from needlewright.composing.shop_priors import experience_of
from needlewright.composing.shop_record import shop_record
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.records.opinions import Decided, give_opinion
from needlewright.records.tables import Job
from needlewright.records.undo import undo_last
from records.benches import ANNA, bench, new


@pytest.fixture
def opened(tmp_path):
    with bench(tmp_path) as (one, _):
        for number in range(3):
            new(one, f"T-{number}", serial=f"S-{number}")
        yield one


def give_back(opened, *tags):
    with opened.writing("returned, for a test") as session:
        for job in session.query(Job).where(Job.tag.in_(tags)):
            job.closed_at = opened.now()


def test_a_returned_job_counts_as_a_person_said(opened):
    known = load_knowledge(None)
    overrule(opened, "T-0", Decision("fuel", ("dragging",), "felt it"), ANNA)
    overrule(opened, "T-0", Decision("fuel", ("blocked",), "saw it"), ANNA)
    overrule(opened, "T-0", Decision("lamps", ("lamp_out",), "dark"), ANNA)
    overrule(opened, "T-0", Decision("supply", ("sound",), "knocked"), ANNA)
    overrule(opened, "T-1", Decision("speed", ("stalled",), "dead"), ANNA)
    assert experience_of(opened, known).cases == ()  # nothing was returned yet
    give_back(opened, "T-0", "T-2")  # on T-2 nobody said anything
    (case,) = experience_of(opened, known).cases
    assert (case.dials, case.found_in_dials, case.found_in_whole) == (
        *(4, ("blocked",), ("lamp_out",)),
    )
    assert experience_of(opened, known, but="T-0").cases == ()


def test_answers_beside_an_opinion_teach_how_often_a_cause_shows(opened):
    """Beta distribution: (P x weight + yes) / (weight + answers); any textbook."""
    take_answers(opened, "T-0", "fuel: sticks yes", ANNA)
    overrule(opened, "T-0", Decision("fuel", ("blocked",), "saw it"), ANNA)
    give_back(opened, "T-0")
    known = load_knowledge(None)
    taught = experience_of(opened, known).teach(known).findings["sticks"]
    file, weight = known.findings["sticks"], known.prior_weight
    alone = 1.0 - (1.0 - file.otherwise) * (1.0 - file.shown_by["blocked"])
    yes = (alone * weight + 1) / (weight + 1)
    link = 1.0 - (1.0 - yes) / (1.0 - file.otherwise)
    assert taught.shown_by["blocked"] == pytest.approx(link)
    assert link > file.shown_by["blocked"]


def test_what_was_taken_back_teaches_nothing(opened):
    overrule(opened, "T-0", Decision("fuel", ("dragging",), "felt it"), ANNA)
    undo_last(opened, "T-0", ANNA)
    give_back(opened, "T-0")
    assert experience_of(opened, load_knowledge(None)).cases == ()


def test_a_job_that_names_what_the_file_does_not_have_is_left_out_with_a_sentence(opened):
    give_opinion(opened, "T-0", Decided(("gremlins",), "x", {}, "fuel"), ANNA)
    give_back(opened, "T-0")
    found = experience_of(opened, load_knowledge(None))
    assert found.cases == ()
    assert found.left_out == (
        "job T-0 is not counted: the knowledge file has no cause 'gremlins' of that kind",
    )
    assert job_findings(opened, "T-1", looks_ahead=0).not_used == found.left_out


def test_the_priors_of_the_next_job_are_the_mean_of_a_dirichlet(opened):
    """(prior x weight + found) / (weight + looked at): conjugate priors, any textbook."""
    overrule(opened, "T-0", Decision("fuel", ("blocked",), "saw it"), ANNA)
    give_back(opened, "T-0")
    known = load_knowledge(None)
    taught = experience_of(opened, known).teach(known)
    file, weight = known.causes["blocked"].prior, known.prior_weight
    assert taught.causes["blocked"].prior == pytest.approx((file * weight + 1) / (weight + 4))
    take_answers(opened, "T-1", "fuel: reads_wrong yes", ANNA)
    learned = job_findings(opened, "T-1", looks_ahead=0)
    assert learned.learned_from == 1
    undo_last(opened, "T-0", ANNA)
    plain = job_findings(opened, "T-1", looks_ahead=0)
    shares = [
        {one.cause: one.probability for one in each.card("fuel").shares}
        for each in (learned, plain)
    ]
    assert shares[0]["blocked"] > 2 * shares[1]["blocked"]


def test_the_shop_says_how_often_it_was_right(opened):
    """Interval of a share: beta quantiles, Jeffreys' prior, from scipy (an independent library)."""
    assert "is not known here" in shop_record(opened).words
    said = {"blocked": 0.95, "sound": 0.05}
    for tag, decided in (("T-0", ("blocked",)), ("T-1", ("blocked",)), ("T-2", ("dragging",))):
        give_opinion(opened, tag, Decided(decided, "seen", said, dial="fuel"), ANNA)
    give_back(opened, "T-0", "T-1", "T-2")
    record = shop_record(opened)
    assert (record.jobs, record.opinions, record.overruled) == (3, 3, 1)
    assert (record.sure.statements, record.sure.held, record.sure.said) == (3, 2, 0.95)
    low, high = beta.ppf([0.025, 0.975], 2.5, 1.5)
    assert record.sure.share_low == pytest.approx(low, abs=1e-6)
    assert record.sure.share_high == pytest.approx(high, abs=1e-6)
    assert record.words == (
        "3 decisions of returned jobs, 1 against what was most probable. What was said with 90 % "
        f"or more was so in 2 of 3; between {100 * low:.0f} and {100 * high:.0f} % are to be "
        "expected. That is too few to go by. Whoever decides sees what is said first, so this "
        "flatters."
    )
