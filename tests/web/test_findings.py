"""The findings of a job on the page: answers in, the ranking changed, decisions and undo."""

import json
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from needlewright.composing.job_answers import take_answers
from needlewright.composing.kept_looks import keep_looks, looks_name
from needlewright.findings.lamps.looked import Looked
from needlewright.records.analyses import keep_analysis
from needlewright.records.runs import start_run
from needlewright.records.sheet import job_sheet
from web.sheet_desk import BY, TAG, Desk, desk, received, taken_run, words_of
from web.test_axe import served_unread
from web.walking import PHONE, browser, needs_chromium, watched

AT = f"/jobs/{TAG}/findings"


@pytest.fixture
def one(tmp_path: Path) -> Iterator[Desk]:
    with desk(tmp_path / "shop") as opened:
        yield opened


def first_step(page: str) -> str:
    found = re.search(r'<h3 class="step-words"[^>]*>(.*?)</h3>', page)
    assert found
    return found.group(1)


def test_without_an_answer_the_first_questions_are_asked(one: Desk) -> None:
    page = one.get(AT)
    assert "The complaint names the road speed gauge. Words are no answers: nothing" in page
    assert "Does the fuel level gauge read wrong, stand still or jump, at any time?" in page
    sheet = one.get()
    assert f'href="{AT}"' in sheet


def test_an_answer_changes_the_ranking_and_undo_brings_it_back(one: Desk) -> None:
    fields = {"form": "next", "finding": "reads_wrong", "dial": "fuel", "yes": "yes"}
    said = one.post(f"{AT}/answer", fields)
    assert (said.status_code, said.headers["location"]) == (303, f"{AT}#next")
    page = one.get(AT)
    asked = first_step(page)
    told = re.search(r'name="finding" value="(\w+)"', page)
    assert told
    assert one.script(f"{AT}/answer", {**fields, "finding": told.group(1)}).json()["saved"]
    assert first_step(one.get(AT)) != asked
    said = one.post(f"{AT}/undo")
    assert said.headers["location"] == f"{AT}#undo"
    assert first_step(one.get(AT)) == asked
    assert job_sheet(one.shop, TAG).answers[0].source == "typed"


def test_before_anything_was_seen_no_card_says_that_nothing_is_wrong(one: Desk) -> None:
    page = one.get(AT)
    card = page.split('id="card-engine"', 1)[1].split("</article>", 1)[0]
    assert '<p class="hint">Nothing was seen of it yet.</p>' in card
    assert "Most probably" not in card
    before, often = card.split('id="card-engine-often"', 1)
    assert "%" not in words_of(before)
    assert "How often each cause is met" in often
    assert "Supply: nothing was seen of it yet" in page


def test_a_card_has_its_words_its_bars_and_what_shows_it(one: Desk) -> None:
    received(one.shop)
    taken_run(one, "found", {"engine": -4.0})
    page = one.get(AT)
    card = page.split('id="card-engine"', 1)[1].split("</article>", 1)[0]
    words = words_of(card)
    assert "Most probably: needle turned on its shaft." in words
    assert "reads low by 4.0 degrees at every point" in words
    bars = [float(p) for p in re.findall(r'<rect width="([\d.]+)"', card)]
    assert bars[0] > 0.9
    assert sum(bars) <= 1.0
    assert f"/jobs/{TAG}/strips/found/engine.svg" in card
    assert one.client.get(f"/jobs/{TAG}/strips/found/engine.svg?narrow=1").status_code == 200
    chart = one.client.get(f"{AT}/charts/engine.svg")
    assert (chart.status_code, chart.headers["content-type"]) == (200, "image/svg+xml")
    assert "full line: needle turned on its shaft" in chart.text
    assert one.client.get(f"{AT}/charts/oil.svg").status_code == 404
    assert "needle, its hub and its seat on the shaft" in words
    assert "About your instrument cluster (EX-0412)." in page


def test_the_sheet_folds_the_findings_to_their_result(one: Desk) -> None:
    received(one.shop)
    sheet = one.get()
    fold = sheet.split('id="part-findings"', 1)[1].split("</details>", 1)[0]
    assert 'data-state="to_do"' in fold.split(">", 1)[0]
    assert "The complaint names the road speed gauge. Words are no answers: nothing" in fold
    taken_run(one, "found", {"engine": -4.0})
    sheet = one.get()
    fold = sheet.split('id="part-findings"', 1)[1].split("</details>", 1)[0]
    assert "engine: needle turned on its shaft (over 99 %); others sound" in words_of(
        fold.split("</summary>", 1)[0]
    )
    assert f'href="{AT}#card-engine"' in fold
    take_answers(one.shop, TAG, "fuel: reads_wrong yes, sticks yes, worse_cold yes")
    asked = first_step(one.get(AT))
    head = one.get().split('id="next-thing"', 1)[1].split("</header>", 1)[0]
    assert f'href="{AT}#next"' in head
    assert f"Test next: {asked}" in words_of(head)
    assert f"/jobs/{TAG}/parts/bench_check/finish" in one.get()  # not held up by a test


def test_what_got_worse_in_the_work_stands_in_the_final_check_and_in_its_folded_line(
    one: Desk,
) -> None:
    """Also where the findings are not worked out yet; what was mended is told beside it."""
    received(one.shop)
    runs = [start_run(one.shop, TAG, side, (), BY) for side in ("found", "left")]
    looks = {
        "found": [Looked("zone", "behind-engine", None, "dark", 0.99, 0.04, 0.03),
                  Looked("tell_tale", "stop", None, "right", 0.99)],
        "left": [Looked("zone", "behind-engine", None, "right", 0.98, 0.97, 0.06),
                 Looked("tell_tale", "stop", None, "dark", 0.97)],
    }  # fmt: skip
    assert 'id="after-work-title"' not in one.get()
    for run in runs:
        keep_looks(one.shop, run, looks[run.side], (), BY)
    sheet = one.get()
    part = sheet.split('id="part-final_check"', 1)[1].split("<footer", 1)[0]
    folded = words_of(part.split("</summary>", 1)[0])
    assert "lamps and currents: 1 wrong as left, 1 of them worse than as found" in folded
    for page in (part, one.get(AT)):
        told = page.split('class="after-list"', 1)[1].split("</ul>", 1)[0]
        assert re.findall(r'<li data-outcome="(\w+)"', told) == ["new", "mended"]
        said = words_of(told).replace("\u00a0", " ")
        assert "newly wrong Tell-tale stop: lights as found (99 %), dark as left (97 %)" in said
        assert "mended Zone behind engine: dark as found (99 %, light 4 ± 6 %), lit as it" in said
    listed = one.get(AT).split('id="analyses-list"')[1].split("<form", 1)[0]
    assert "lamps and currents of run" not in listed
    keep_analysis(one.shop, TAG, looks_name(runs[1]), [{"kind": "nothing"}], BY)
    assert "could not be held against as found: " in one.get()
    assert "could not be held against as found: " in one.get(AT)


UNSEEN = Looked("tell_tale", "stop", None, None, None, why="a reflection lies on it")
ZONE = Looked("zone", "behind-engine", None, "right", 0.98, 0.97, 0.06)
STOP = Looked("tell_tale", "stop", None, "right", 0.99)


@pytest.mark.parametrize(
    ("found", "left", "says"),
    [
        ([ZONE, STOP], [ZONE, STOP], "All 2 things looked at are right."),
        ([ZONE], [ZONE], "The 1 thing looked at is right."),
        ([ZONE, STOP], [ZONE, replace(STOP, condition="dark")],
         "1 other thing looked at is right."),
        ([ZONE, STOP], [ZONE, UNSEEN],
         "Right as found, not seen as left: tell-tale stop (a reflection lies on it). "
         "Right as left: 1 of 2."),
        ([ZONE, STOP], [ZONE],
         "Right as found, not seen as left: tell-tale stop (not looked at). "
         "Right as left: 1 of 2."),
        ([ZONE, UNSEEN], [ZONE, UNSEEN],
         "Seen neither as found nor as left: tell-tale stop (a reflection lies on it). "
         "Right as left: 1 of 2."),
    ],
)  # fmt: skip
def test_all_is_said_to_be_right_only_where_all_was_seen(
    one: Desk, found: list[Looked], left: list[Looked], says: str
) -> None:
    received(one.shop)
    for side, looks in (("found", found), ("left", left)):
        keep_looks(one.shop, start_run(one.shop, TAG, side, (), BY), looks, (), BY)
    part = one.get().split('id="part-final_check"', 1)[1].split("<footer", 1)[0]
    folded = words_of(part.split("</summary>", 1)[0])
    assert ("lamps and currents: 1 not seen as left" in folded) == ("Right as left" in says)
    for page in (part, one.get(AT)):
        section = words_of(page.split('id="after-work"', 1)[1].split("</section>", 1)[0])
        assert section.endswith(says)


@pytest.mark.parametrize(
    ("form", "fields", "says"),
    [
        ("decide", {"subject": "lamps", "cause": ["lamp_dim", "sound"], "why": "x"},
         "a cause was ticked and that nothing is wrong as well"),
        ("decide", {"subject": "lamps", "cause": "", "why": " "},
         "nothing was chosen and no reason was given"),
        ("pasted", {"text": " \n"}, "no text was pasted"),
    ],
)  # fmt: skip
def test_what_lacks_is_said_in_words_where_it_is_seen(one: Desk, form, fields, says) -> None:
    """Also in the fold of a system of which nothing is known, which is closed else."""
    name = "decide-system-lamps" if form == "decide" else "pasted"
    said = one.post(f"{AT}/{form}", {"form": name, **fields})
    assert said.status_code == 422
    assert says in said.text
    assert job_sheet(one.shop, TAG).opinions == ()
    fold = said.text.split('id="fold-lamps"', 1)[1].split(">", 1)[0]
    assert fold.endswith(" open") == (form == "decide")


def test_a_decision_stands_over_what_is_said_with_its_reason(one: Desk) -> None:
    take_answers(one.shop, TAG, "fuel: reads_wrong yes, sticks yes")
    fields = {"form": "decide-card-fuel", "subject": "fuel", "cause": "blocked"}
    wrong = one.post(f"{AT}/decide", fields)
    assert wrong.status_code == 422
    assert "no reason was given" in wrong.text
    said = one.post(f"{AT}/decide", {**fields, "why": "a screw lay in its way"})
    assert said.headers["location"] == f"{AT}#decide-card-fuel"
    words = words_of(one.get(AT))
    assert "Overruled: needle cannot go all its way Because a screw lay in its way." in words
    assert "It was said then: needle or movement rubs" in words
    lamps = {"form": "x", "subject": "lamps", "cause": "lamp_out", "why": "two are dark"}
    assert one.post(f"{AT}/decide", lamps).status_code == 303
    assert "backlight lamp dead Because two are dark." in words_of(one.get(AT))


def test_the_text_that_came_back_is_taken_in(one: Desk) -> None:
    wrong = one.post(f"{AT}/pasted", {"text": "fuel is wrong"})
    assert wrong.status_code == 422
    assert "fuel is wrong</textarea>" in wrong.text  # what was typed stays
    for text, says in (
        ("fuel is wrong", "'fuel is wrong' is no answer as the owner's sheet writes them"),
        ("fuel: it hangs", "'it hangs' is no answer as the owner's sheet writes them"),
        ("\noil: dead yes", "'oil' is no gauge of this cluster, which has engine speed gauge, "),
        ("fuel: hums yes", "'hums' is not asked there"),
        ("answers about other", "'other', this job's is 'invented-estate'"),
        ("> answers about invented-estate", "no answer stands in this text"),
    ):
        wrong = one.script(f"{AT}/pasted", {"text": text})
        said = wrong.json()["error"]
        assert (wrong.status_code, says in said["what"]) == (422, True), said
        assert "QUESTION" not in wrong.text  # the grammar is for programs
        assert said["where"] == {"f": "line 1", "\n": "line 2"}.get(text[0], "")
        assert said["do"]
    assert not job_sheet(one.shop, TAG).answers
    came = "> answers about invented-estate\n> fuel: reads_wrong yes\n> whole: all_at_once no\n"
    assert one.post(f"{AT}/pasted", {"text": came}).status_code == 303
    answers = job_sheet(one.shop, TAG).answers
    assert [(a.finding, a.yes, a.source) for a in answers] == [
        ("reads_wrong", True, "pasted"),
        ("all_at_once", False, "pasted"),
    ]


def test_the_document_of_an_analysis_is_taken_in(one: Desk) -> None:
    piece = {"finding": "lamp_check_dark", "dial": None, "ratio": 50.0, "words": "Two are dark.",
             "seen_in": "night.jpg"}  # fmt: skip
    for content, says in ((b"no", "is no JSON"), (b"[]", "holds no evidence")):
        wrong = one.post(f"{AT}/analysis", files={"file": ("light.json", content)})
        assert wrong.status_code == 422
        assert says in wrong.text.split('data-wrong-of="analysis"', 1)[1].split("</form>", 1)[0]
    assert "no document was chosen" in one.post(f"{AT}/analysis").text
    document = json.dumps({"evidence": [piece]}).encode()
    said = one.post(f"{AT}/analysis", files={"file": ("light.json", document)})
    assert said.headers["location"] == f"{AT}#analysis"
    page = one.get(AT)
    assert "Two are dark." in page.split('id="system-lamps"', 1)[1].split("</article>", 1)[0]
    assert "light.json" in page.split('id="analyses-list"', 1)[1].split("</div>", 1)[0]


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"finding": "hums", "dial": "fuel", "yes": "yes"}, "no question or test"),
        ({"finding": "dead", "dial": "oil", "yes": "yes"}, "no dial"),
        (
            {"finding": "dead", "dial": "fuel", "yes": "perhaps"},
            "an answer is yes, no or not known",
        ),
        ({}, "no question or test"),
    ],
)
def test_what_cannot_be_kept_is_said_where_it_was_asked(
    one: Desk, fields: dict[str, str], says: str
) -> None:
    said = one.post(f"{AT}/answer", {"form": "next", **fields})
    assert said.status_code == 422
    place = said.text.split('data-wrong-of="next"', 1)[1].split("</section>", 1)[0]
    assert says in place
    assert job_sheet(one.shop, TAG).answers == ()
    assert one.client.get("/jobs/NOBODY/findings").status_code == 404


def settled(page: Page) -> None:
    page.locator("#sheet[data-ready]").wait_for()


@needs_chromium
def test_a_walk_over_the_findings_by_hand_and_by_keys(tmp_path: Path) -> None:
    with desk(tmp_path / "shop") as one:
        take_answers(one.shop, TAG, "fuel: reads_wrong yes")
    with served_unread(tmp_path / "shop") as url, browser() as opened:
        page = opened.new_page(viewport=PHONE)
        troubles = watched(page)
        page.goto(f"{url}{AT[1:]}")
        settled(page)
        words = page.locator("#next .step[data-first] .step-words")
        asked = words.inner_text()
        bar = "#card-fuel .share[data-first] rect"
        wide = page.locator(bar).get_attribute("width")
        page.locator("#next .step[data-first] button", has_text="Yes").focus()
        page.keyboard.press("Enter")
        page.wait_for_function(
            "was => document.querySelector('#next .step-words').textContent !== was", arg=asked
        )
        expect(page.locator(bar)).not_to_have_attribute("width", wide)
        evidence = page.locator("#card-fuel-evidence")
        evidence.locator("summary").click()
        expect(evidence.locator(".seen")).to_have_count(2)
        page.keyboard.press("u")  # taken back
        page.wait_for_function(
            "was => document.querySelector('#next .step-words').textContent === was", arg=asked
        )
        page.locator("#card-fuel-decide summary").click()
        page.select_option("#card-fuel-cause", "dragging")
        page.fill("#card-fuel-why", "felt it")
        page.keyboard.press("Enter")
        expect(page.locator("#card-fuel .opinion-words")).to_contain_text("needle or movement rubs")
        assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
        assert troubles == []


def test_where_the_cluster_is_can_be_chosen_and_stays_chosen(one: Desk) -> None:
    take_answers(one.shop, TAG, "fuel: reads_wrong yes")
    page = one.get(f"{AT}?at=bench")
    assert "Worked out for the cluster at the bench." in page
    assert f'data-here="{AT}?at=bench"' in page
    fields = {"form": "next", "finding": "dead", "dial": "fuel", "yes": "no", "at": "bench"}
    said = one.post(f"{AT}/answer", fields)
    assert said.headers["location"] == f"{AT}?at=bench#next"
    assert "in its vehicle, its owner being asked" in one.get(AT)
    wrong = one.client.get(f"{AT}?at=home")
    assert wrong.status_code == 422
    assert "&#39;home&#39; is no place of a cluster" in wrong.text


def test_evidence_shows_its_picture(one: Desk) -> None:
    received(one.shop)
    taken_run(one, "found", {"engine": -4.0})
    card = one.get(AT).split('id="card-engine"', 1)[1].split("</article>", 1)[0]
    found = re.search(r'<img src="(/jobs/[^"]+/photos/\d+/engine\.jpg)"', card)
    assert found
    told, shows = re.search(r"Told ([\d.]+), shows ([\d.]+) ±", words_of(card)).groups()
    assert float(shows) < float(told)  # the needle stands 4 degrees low
    assert one.client.get(found.group(1)).headers["content-type"] == "image/jpeg"


def test_programs_read_answer_and_decide(one: Desk) -> None:
    def send(path: str, body: dict, status: int = 200) -> dict:
        said = one.client.post(
            f"/api/jobs/{TAG}/findings/{path}", json=body, headers={"X-Form-Token": one.token()}
        )
        assert said.status_code == status, said.text
        return said.json()

    before = one.client.get(f"/api/jobs/{TAG}/findings").json()
    assert (before["at"], before["complained"], len(before["cards"])) == ("asking", False, 9)
    asked = {"finding": "reads_wrong", "dial": "fuel", "yes": True}
    after = send("answers", asked)
    assert after["complained"]
    assert after["steps"][0]["kind"] == "test"
    opinion = {"subject": "fuel", "causes": ["blocked"], "why": "a screw lay in its way"}
    decided = send("opinions", opinion)
    fuel = next(card for card in decided["cards"] if card["id"] == "fuel")
    assert fuel["opinion"]["decided"] == ["blocked"]
    for path, body, says in (
        ("answers", {**asked, "dial": "oil"}, "there is no dial 'oil'"),
        ("answers", {**asked, "finding": "hums"}, "there is no question or test 'hums'"),
        ("opinions", {**opinion, "subject": "oil"}, "there is no dial or system 'oil'"),
        ("opinions", {**opinion, "why": " "}, "needs its reason"),
        ("opinions", {**opinion, "causes": ["hums"]}, "'hums' is no cause of 'fuel'"),
    ):
        error = send(path, body, 422)["error"]
        assert says in f"{error['where']} {error['what']}", error
    at = one.client.get(f"/api/jobs/{TAG}/findings?at=home")
    assert (at.status_code, set(at.json()["error"])) == (422, {"what", "where", "do"})
