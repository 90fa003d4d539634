"""Finished jobs as cases: what moves the priors of the next one."""

import pytest

from needlewright.composing.job_answers import Decision, overrule, take_answers
from needlewright.composing.job_findings import job_findings
from needlewright.composing.shop_priors import experience_of
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
