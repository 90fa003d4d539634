"""The findings of a job: what is collected, what is believed, what a person may overrule."""

import pytest

from needlewright.composing import job_evidence
from needlewright.composing.evidence_piece import Piece, Place
from needlewright.composing.finding_model import sureness_of
from needlewright.composing.job_answers import (
    Decision,
    answer_question,
    overrule,
    question_named,
    take_answers,
)
from needlewright.composing.job_findings import job_findings
from needlewright.composing.job_for_plan import complaint_of, job_for_plan
from needlewright.errors import KnowledgeError, PlanError, RecordError
from needlewright.findings.evidence import Evidence
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.records.answers import Given
from needlewright.records.board import board_of
from needlewright.records.sheet import job_sheet
from needlewright.records.undo import undo_last
from needlewright.web.findings_view import FindingsView
from needlewright.web.texts import texts_in
from records.benches import ANNA, bench, measured_side, new, received


@pytest.fixture
def opened(tmp_path):
    with bench(tmp_path) as (one, _):
        new(one)
        yield one


@pytest.fixture(scope="module")
def measured(tmp_path_factory):
    """A job that was received and measured as found; tests leave it as it is."""
    with bench(tmp_path_factory.mktemp("shop")) as (one, _):
        received(one)
        measured_side(one, "T-77", "found")
        yield one


def found(opened, looks_ahead=0, **more):
    return job_findings(opened, "T-77", looks_ahead=looks_ahead, **more)


def test_without_an_answer_nothing_is_complained_of(opened):
    findings = found(opened)
    assert (findings.complained, findings.steps, findings.at) == (False, (), "asking")
    assert [card.id for card in findings.cards] == [
        *("engine", "speed", "temp", "fuel"),
        *("lamps", "display", "supply", "board", "vehicle"),
    ]
    assert all(card.top.cause == "sound" for card in findings.cards)
    for card in findings.cards[:4]:
        assert sum(one.probability for one in card.shares) == pytest.approx(1.0)


def test_what_nothing_was_seen_of_is_not_called_sound(opened):
    """How often a cause is met is no finding: neither a verdict nor a text goes by it."""
    findings = found(opened, at="bench")
    assert {card.verdict for card in findings.cards} == {"Nothing was seen of it yet."}
    assert all(card.is_unseen and card.sureness == "not certain" for card in findings.cards)
    assert findings.outcome == "undecided"
    assert "What we think of:\n- nothing yet" in findings.texts[0].text
    answer_question(opened, "T-77", Given("reads_wrong", True, "fuel"), ANNA)
    told = found(opened, at="bench")
    assert not told.card("fuel").is_unseen
    assert told.card("engine").verdict == "Nothing was seen of it yet."


def test_a_complaint_in_words_names_its_gauge_and_is_no_answer(opened):
    """The invented owner says that the speedometer sticks at 60."""
    findings = found(opened)
    assert (findings.named, findings.complained) == (("speed",), False)
    view = FindingsView(findings, texts_in("en"), board_of(opened, "T-77"))
    assert [one.dial for one in view.opening()] == ["speed", "engine", "temp", "fuel"]
    assert view.named() == "the road speed gauge"
    with pytest.raises(PlanError) as refused:
        job_for_plan(opened, "T-77", load_knowledge(None))
    assert str(refused.value) == (
        "job T-77 has no findings: the complaint in words names the road speed gauge, but words "
        "are no answers, and nothing was found wrong; answer the questions first (needlewright "
        "jobs answer T-77 'speed: reads_wrong yes'), take the run as found, or say what it has "
        "(needlewright jobs overrule)"
    )


def test_the_run_as_found_says_what_the_dials_of_the_drawn_job_have(measured):
    """The drawn job: speed lost 3 cycles, engine is off by -3.4 degrees, fuel has 2.8 of play."""
    findings = found(measured)
    tops = {card.id: card.top.cause for card in findings.cards}
    assert (tops["speed"], tops["engine"], tops["temp"]) == ("lost_steps", "needle_offset", "sound")
    assert tops["fuel"] == "backlash"
    speed = findings.card("speed")
    assert speed.verdict == "Most probably: movement slips."
    assert speed.parts[0].part == "movement"
    (seen,) = speed.evidence
    assert (seen.kind, seen.speaks, seen.at) == ("run", "for", Place("run", 1, "found"))
    assert "slipped 3 cycles" in seen.words
    assert (findings.at, findings.outcome, findings.complained) == ("bench", "faulty", True)
    assert findings.steps[0].kind == "open"
    assert findings.steps[0].then[0] == "pull the engine speed gauge's needle and set it anew"


def test_what_stops_short_of_certain_is_said_as_it_was_measured():
    assert [sureness_of(p) for p in (0.9, 0.899, 0.6, 0.599)] == [
        *("most probably", "probably", "probably", "not certain")
    ]


def test_an_answer_changes_the_ranking_and_undo_brings_it_back(opened):
    take_answers(opened, "T-77", "> speed: reads_wrong yes", ANNA, source="pasted")
    first = found(opened, 1)
    asked = first.steps[0]
    assert asked.kind == "test"
    assert asked.reason.startswith("Yes makes “")
    assert asked.spares_minutes > 0
    answer_question(opened, "T-77", Given(asked.finding, True, asked.dial), ANNA)
    after = found(opened, 1)
    assert (asked.finding, asked.dial) not in [(s.finding, s.dial) for s in after.steps]
    assert after.card("speed").shares != first.card("speed").shares
    undo_last(opened, "T-77", ANNA)
    again = found(opened, 1)
    assert again.steps == first.steps
    answer_question(opened, "T-77", Given("reads_wrong", None, "speed"), ANNA)
    assert not found(opened).complained


def test_what_is_not_known_is_not_asked_again_and_changes_nothing(opened):
    take_answers(opened, "T-77", "speed: reads_wrong yes", ANNA)
    first = found(opened, 1)
    asked = first.steps[0]
    answer_question(opened, "T-77", Given(asked.finding, None, asked.dial), ANNA)
    after = found(opened, 1)
    assert after.cards == first.cards
    assert after.steps == first.steps[1:]
    (question,) = [q for q in after.questions if (q.finding, q.dial) == (asked.finding, asked.dial)]
    assert (question.answer, question.not_known) == (None, True)


def test_the_shares_of_a_dial_are_those_of_troubleshooting_by_hand(opened):
    """Noisy or by Bayes' rule over one dial, written out: any textbook of probability."""
    take_answers(opened, "T-77", "fuel: stops_short yes", ANNA)
    file = load_knowledge(None)
    shown = file.findings["stops_short"]
    states = {"sound": 1.0 - sum(c.prior for c in file.of_scope("dial"))}
    states |= {c.code: c.prior for c in file.of_scope("dial")}
    # causes of the whole show nothing here, but corrosion brings two causes of a dial
    brings = file.causes["corrosion"].brings
    there = file.causes["corrosion"].prior
    weights = dict.fromkeys(states, 0.0)
    for corroded, share in ((False, 1.0 - there), (True, there)):
        odds = dict(states)
        for code, link in brings.items() if corroded else ():
            if code in odds:
                p = 1.0 - (1.0 - states[code]) * (1.0 - link)
                odds[code] = p * (1.0 - states[code]) / (1.0 - p)
        total = sum(odds.values())
        for code, one in odds.items():
            yes = 1.0 - (1.0 - shown.otherwise) * (1.0 - shown.shown_by.get(code, 0.0))
            weights[code] += share * one / total * yes
    whole = sum(weights.values())
    for share in found(opened).card("fuel").shares:
        assert share.probability == pytest.approx(weights[share.cause] / whole, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("fuel reads wrong", "line 1: expected 'DIAL: QUESTION yes, QUESTION no'"),
        ("fuel: sweeps yes", "'sweeps' is not asked of a dial"),
        ("oil: dead yes", "there is no dial 'oil'"),
        ("answers about another", "they are about 'another', and this is 'fam-job'"),
        ("fuel: dead yes\nfuel: dead no", "'dead' of dial 'fuel' is answered twice"),
        ("", "no answer was given"),
    ],
)
def test_a_text_that_cannot_be_taken_in_is_one_sentence(opened, text, says):
    with pytest.raises((KnowledgeError, RecordError)) as said:
        take_answers(opened, "T-77", text, ANNA)
    assert says in str(said.value)
    assert "\n" not in str(said.value)
    assert job_sheet(opened, "T-77").answers == ()


@pytest.mark.parametrize(
    ("given", "says"),
    [
        (Given("hums", True, "fuel"), "there is no question or test 'hums'"),
        (Given("dead", True), "'dead' is of one dial"),
        (Given("dead", True, "oil"), "there is no dial 'oil'"),
        (Given("got_wet", True, "fuel"), "'got_wet' is of the whole cluster"),
    ],
)
def test_an_answer_to_what_is_not_asked_is_refused(opened, given, says):
    with pytest.raises(KnowledgeError, match=says):
        answer_question(opened, "T-77", given, ANNA)


def test_a_question_is_named_with_its_dial():
    assert question_named("fuel: dead") == ("dead", "fuel")
    assert question_named("whole: got_wet") == ("got_wet", None)
    with pytest.raises(KnowledgeError, match="write it as 'DIAL: QUESTION'"):
        question_named("dead")


def test_a_person_overrules_and_what_was_said_stays(measured):
    decision = Decision("speed", ("dragging",), "the needle touches the glass")
    try:
        sheet = overrule(measured, "T-77", decision, ANNA)
        (opinion,) = sheet.opinions
        assert (opinion.dial, opinion.decided) == ("speed", ("dragging",))
        assert opinion.said["lost_steps"] > 0.9
        findings = found(measured)
        speed = findings.card("speed")
        assert speed.top.cause == "lost_steps"  # what the tool says is shown as it was
        assert speed.overruled
        assert speed.opinion == opinion
        # and what is to be done next goes by the person
        assert "replace the road speed gauge's movement" in findings.steps[0].then
        text = findings.texts[0].text
        assert "Road speed gauge: needle or movement rubs." in text
        overrule(measured, "T-77", Decision("speed", ("lost_steps",), "seen again"), ANNA)
        again = found(measured).card("speed")
        assert not again.overruled
        assert [one.why for one in again.older_opinions] == ["the needle touches the glass"]
    finally:
        while job_sheet(measured, "T-77").opinions:
            undo_last(measured, "T-77", ANNA)


def test_a_decision_may_name_the_part(opened):
    overrule(opened, "T-77", Decision("fuel", ("dragging",), "rubs", "needle"), ANNA)
    assert found(opened).card("fuel").opinion.part == "needle"


def test_a_system_is_decided_by_its_causes(opened):
    overrule(opened, "T-77", Decision("whole", ("lamp_out",), "two dark at the bench"), ANNA)
    overrule(opened, "T-77", Decision("supply", ("sound",), "knocked, nothing"), ANNA)
    assert [(o.system, o.decided) for o in job_sheet(opened, "T-77").opinions] == [
        ("lamps", ("lamp_out",)),
        ("supply", ()),
    ]
    findings = found(opened)
    assert findings.card("lamps").opinion is not None
    assert findings.outcome == "faulty"


@pytest.mark.parametrize(
    ("decision", "says"),
    [
        (Decision("oil", ("dragging",), "x"), "there is no dial or system 'oil'"),
        (Decision("fuel", ("lamp_out",), "x"), "'lamp_out' is no cause of 'fuel'"),
        (Decision("fuel", ("sound", "dragging"), "x"), "cannot be sound and have dragging"),
        (Decision("whole", ("sound",), "x"), "name the system that is meant"),
        (Decision("fuel", ("dragging",), " "), "needs its reason"),
        (Decision("fuel", ("dragging",), "x", "wheel"), "'wheel' is no part of 'fuel'; known: "),
        (Decision("fuel", (), "x", "needle"), "'needle' is no part of 'fuel'; none is told apart"),
        (Decision("lamps", ("lamp_out",), "x", "needle"), "'needle' is no part of 'lamps'"),
    ],
)
def test_a_decision_that_cannot_stand_is_one_sentence(opened, decision, says):
    with pytest.raises((KnowledgeError, RecordError), match=says):
        overrule(opened, "T-77", decision, ANNA)
    assert job_sheet(opened, "T-77").opinions == ()


def looks(*ratios, **more):
    pieces = [
        Piece(
            Evidence("sweep_uneven", "fuel", ratio, f"look {ratio:g}.", "x", **more),
            f"look {ratio:g}.",
            f"sweep {number}",
        )
        for number, ratio in enumerate(ratios, start=1)
    ]
    return (("sweeps", lambda _material: pieces),)


def test_looks_that_differ_are_said_to(opened, monkeypatch):
    monkeypatch.setattr(job_evidence, "COLLECTORS", looks(50.0, 0.05, analysis="sweep"))
    (said,) = found(opened).contradictions
    assert said.startswith("Fuel level gauge: sweep 1 and sweep 2 speak against each other")


def test_an_answer_against_what_was_measured_counts_and_is_named(opened, monkeypatch):
    monkeypatch.setattr(job_evidence, "COLLECTORS", looks(50.0))
    take_answers(opened, "T-77", "fuel: sweep_uneven no", ANNA, source="bench")
    findings = found(opened)
    assert "and what was measured says otherwise" in findings.contradictions[0]
    measured, answered = sorted(findings.card("fuel").evidence, key=lambda one: one.kind)[::-1]
    assert (measured.kind, measured.counts, measured.strength) == ("seen", False, "strongly")
    assert (answered.kind, answered.yes, answered.speaks) == ("answer", False, "against")
    assert not findings.complained


def test_evidence_speaks_without_an_answer(opened, monkeypatch):
    monkeypatch.setattr(job_evidence, "COLLECTORS", looks(50.0))
    findings = found(opened)
    assert findings.complained
    assert findings.card("fuel").faulty > 0.2


def test_what_does_not_fit_is_left_out_with_a_sentence(opened, monkeypatch):
    def broken(_material):
        raise KnowledgeError("the sweep is of another cluster")

    (kept,) = looks(2.0)
    stray = Piece(Evidence("dead", "oil", 2.0, "w", "x"), "w", "sweep 9")
    unknown = Piece(Evidence("hums", "fuel", 2.0, "w", "x"), "w", "sweep 8")
    others = ("others", lambda _material: [stray, unknown])
    monkeypatch.setattr(job_evidence, "COLLECTORS", (("a sweep", broken), kept, others))
    findings = found(opened)
    assert findings.not_used == (
        "a sweep could not be taken in: the sweep is of another cluster",
        "sweep 9: the family the job goes by has no dial 'oil'",
        "sweep 8: the knowledge file does not know 'hums' of it",
    )
    assert len(findings.card("fuel").evidence) == 1


def test_a_run_says_more_than_an_answer_about_it(measured):
    take_answers(measured, "T-77", "speed: bench_wrong no", ANNA)
    try:
        findings = found(measured)
        assert findings.not_used[0].startswith("the answer to “On the bench, with a good supply")
        assert "is kept and not counted: run as-found says more" in findings.not_used[0]
        assert findings.card("speed").top.cause == "lost_steps"
    finally:
        undo_last(measured, "T-77", ANNA)


def test_a_sound_cluster_is_said_to_be_sound_and_the_vehicle_named(tmp_path):
    with bench(tmp_path) as (opened, _):
        received(opened)
        measured_side(opened, "T-77", "left")
        take_answers(opened, "T-77", "fuel: reads_wrong yes\nfuel: bench_wrong no", ANNA)
        findings = found(opened, at="bench")
    assert findings.outcome == "sound"
    text = findings.texts[0].text
    assert "We found it sound" in text
    assert "test the fuel level gauge's sender in the vehicle" in text
    assert "ten minutes' wait" in text


def test_a_needle_that_creeps_home_is_called_relief(opened):
    take_answers(opened, "T-77", "speed: reads_wrong yes, key_helps yes, rests_off yes", ANNA)
    findings = found(opened)
    assert findings.card("speed").top.cause == "lost_steps"
    for one in findings.texts:
        assert "relief for days, not a repair" in one.text


def texts_of_job(opened):
    return {one.outcome: one.text for one in found(opened).texts}


def test_no_text_promises_anything_of_what_was_not_tested(opened, measured):
    untested = texts_of_job(opened)
    assert "this is not a test result" in untested["sound"]
    assert "Not tested: engine speed gauge, road speed gauge" in untested["sound"]
    assert "more likely in the vehicle" not in untested["sound"]
    tested = texts_of_job(measured)
    for outcome in ("sound", "faulty"):
        assert "We have not tested the vehicle, and promise nothing about it." in tested[outcome]
        assert "We tested the cluster by itself." in tested[outcome]
        assert "We tested the cluster by itself." not in untested[outcome]
    for outcome in ("faulty", "undecided"):
        assert "That is relief for days, not a repair" in tested[outcome]


def test_a_text_that_it_is_sound_calls_a_key_that_helps_a_relief(opened):
    assert "relief" not in texts_of_job(opened)["sound"]
    take_answers(opened, "T-77", "speed: key_helps yes", ANNA)
    overrule(opened, "T-77", Decision("speed", ("sound",), "ten sweeps without a slip"), ANNA)
    assert "is relief for days, not a repair." in texts_of_job(opened)["sound"]


def test_before_a_run_as_found_the_next_step_is_that_run_and_the_complaint_is_named(opened):
    take_answers(opened, "T-77", "fuel: sticks yes", ANNA)
    findings = found(opened, at="bench")
    step = next(one for one in findings.steps if one.kind == "run_as_found")
    assert not [one for one in findings.steps if one.kind == "open"]
    assert step.words.startswith("Take the run as found; if it bears this out: ")
    assert step.reason == "What is believed rests on answers alone: there is no run as found."
    said = complaint_of(job_sheet(opened, "T-77"), findings, load_knowledge(None))
    assert (dict(said.places), said.has_run) == ({"fuel": ()}, False)
    texts = {one.outcome: one.text for one in findings.texts}
    assert "We have not measured the cluster yet. We do that first" in texts["faulty"]
    take_answers(opened, "T-77", "fuel: key_helps yes", ANNA)
    asking = next(one for one in found(opened, at="asking").steps if one.kind == "run_as_found")
    assert asking.words.startswith("Bring it to the bench, take the run as found; if it bears ")


def test_after_a_run_as_found_it_may_be_opened(measured):
    step = next(one for one in found(measured).steps if one.kind == "open")
    assert step.words.startswith("Stop testing, open it: ")
    texts = {one.outcome: one.text for one in found(measured).texts}
    assert "not measured the cluster yet" not in texts["faulty"]
    said = complaint_of(job_sheet(measured, "T-77"), found(measured), load_knowledge(None))
    assert (dict(said.places), said.has_run) == ({}, True)
