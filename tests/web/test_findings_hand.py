"""A hand on the findings: a tap too many, an empty choice, what goes wrong said where it is."""

import json
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from needlewright.composing.job_answers import Decision, overrule, take_answers
from needlewright.records.jobs import add_note
from needlewright.records.sheet import job_sheet
from web.sheet_desk import TAG, Desk, desk, received, taken_run, words_of
from web.test_axe import served_unread
from web.walking import PHONE, browser, needs_chromium, watched

AT = f"/jobs/{TAG}/findings"
QUESTION = "#next-question"
YES = "#next .step[data-first] button[value='yes']"


@pytest.fixture
def one(tmp_path: Path) -> Iterator[Desk]:
    with desk(tmp_path / "shop") as opened:
        yield opened


def test_an_answer_to_another_question_than_the_one_shown_is_refused(one: Desk) -> None:
    fields = {"form": "next", "finding": "dead", "dial": "fuel", "yes": "yes"}
    said = one.post(f"{AT}/answer", {**fields, "shown": "sticks fuel"})
    assert said.status_code == 409
    place = said.text.split('data-wrong-of="next"', 1)[1].split("</section>", 1)[0]
    assert "another question is shown now, and nothing was kept" in place
    assert job_sheet(one.shop, TAG).answers == ()
    assert 'name="shown" value="reads_wrong fuel"' in one.get(AT)
    assert one.post(f"{AT}/answer", {**fields, "shown": "dead fuel"}).status_code == 303
    assert [a.finding for a in job_sheet(one.shop, TAG).answers] == ["dead"]


def test_what_it_has_is_chosen_and_an_empty_choice_decides_nothing(one: Desk) -> None:
    page = one.get(AT)
    choice = re.search(r'<select id="card-fuel-cause".*?</select>', page, re.DOTALL).group(0)
    assert choice.split("<option", 2)[1] == ' value="">choose</option>'
    assert '<option value="sound">nothing wrong</option>' in choice
    lamps = page.split('id="system-lamps-decide"', 1)[1].split("</details>", 1)[0]
    assert 'type="checkbox" name="cause" value="sound"' in lamps
    for subject, place in (("fuel", "card-fuel"), ("lamps", "system-lamps")):
        fields = {"form": f"decide-{place}", "subject": subject, "cause": "", "why": "looked"}
        said = one.post(f"{AT}/decide", fields)
        assert said.status_code == 422
        fold = said.text.split(f'id="{place}-decide" open', 1)[1].split("</details>", 1)[0]
        assert "nothing was chosen" in fold.split('data-wrong-of="decide-', 1)[1]
        assert 'value="looked"' in fold
    assert job_sheet(one.shop, TAG).opinions == ()
    fields = {"form": "x", "subject": "lamps", "cause": "sound", "why": "all lit"}
    assert one.post(f"{AT}/decide", fields).status_code == 303
    (opinion,) = job_sheet(one.shop, TAG).opinions
    assert (opinion.system, opinion.decided) == ("lamps", ())


def test_an_agreement_says_its_reason_before_and_its_claim_once_after(one: Desk) -> None:
    take_answers(one.shop, TAG, "engine: reads_wrong yes")
    assert "It was:" not in one.get(AT)  # the owner is asked; nobody has confirmed anything
    received(one.shop)
    taken_run(one, "found", {"engine": -4.0})
    card = one.get(AT).split('id="card-engine"', 1)[1].split("</article>", 1)[0]
    words = words_of(card)
    assert "It was: needle turned on its shaft" in words
    assert "Kept as decided, with the reason “confirmed at the bench”." in words
    form = card.split('data-wrong="agree-card-engine"', 1)[1].split("</form>", 1)[0]
    fields = dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)"', form))
    fields.pop("form_token")
    assert one.post(f"{AT}/decide", fields).status_code == 303
    assert job_sheet(one.shop, TAG).opinions[0].why == "confirmed at the bench"
    card = one.get(AT).split('id="card-engine"', 1)[1].split("</article>", 1)[0]
    before_folds = words_of(card.split("<details", 1)[0])
    assert before_folds.count("needle turned on its shaft") == 1
    assert "Most probably: needle turned" not in words_of(card)


def test_undo_here_takes_back_only_what_was_done_here(one: Desk) -> None:
    overrule(one.shop, TAG, Decision("lamps", ("lamp_out",), "two are dark"))
    line = one.get(AT).split('id="saved-line"', 1)[1]
    assert f'action="{AT}/undo"' in line
    add_note(one.shop, TAG, "The parcel was wet.")
    line = one.get(AT).split('id="saved-line"', 1)[1]
    assert f'action="{AT}/undo"' not in line
    assert f'href="/jobs/{TAG}#history"' in line
    said = one.post(f"{AT}/undo")
    assert said.status_code == 409
    assert "which is not of the findings" in said.text
    assert len(job_sheet(one.shop, TAG).notes) == 1
    assert len(job_sheet(one.shop, TAG).opinions) == 1


def test_what_says_nothing_folds_away_and_times_are_short(one: Desk) -> None:
    take_answers(one.shop, TAG, "engine: reads_wrong yes")
    pieces = [
        {"finding": "port_is_right", "dial": "engine", "ratio": 1.1, "words": "Hardly differ.",
         "seen_in": "port.csv"},
        {"finding": "worse_cold", "dial": "engine", "ratio": 8.0, "words": "Slips below 3 degC.",
         "seen_in": "cold.json"},
    ]  # fmt: skip
    document = json.dumps({"evidence": pieces}).encode()
    assert one.post(f"{AT}/analysis", files={"file": ("a.json", document)}).status_code == 303
    page = one.get(AT)
    card = page.split('id="card-engine"', 1)[1].split("</article>", 1)[0]
    shown, silent = card.split('id="card-engine-silent"', 1)
    assert "Slips below 3 °C." in shown
    assert "What shows it (2)" in shown
    assert "Hardly differ." not in shown
    assert "Hardly differ." in silent
    assert "Looked at, says nothing (1)" in silent
    step = page.split("data-first>", 1)[1].split("<form", 1)[0]
    head, why = words_of(step).split("Why?", 1)
    assert re.search(r"\d+ min now, saves about (\d+ h )?(\d+ min )?of search\.$", head.strip())
    assert "Yes makes" in why
    assert 'loading="lazy"' not in page  # paper does not wait for pictures


def settled(page: Page) -> None:
    page.locator("#sheet[data-ready]").wait_for()


def read(page: Page) -> None:
    """A person reads the question: the page's own clock, which stands still else, goes on."""
    page.clock.run_for(1100)
    page.wait_for_function(
        "() => !document.querySelector('#sheet').matches('[data-held], [data-sending]')"
    )


@needs_chromium
def test_a_second_tap_or_key_answers_no_other_question(tmp_path: Path) -> None:
    with desk(tmp_path / "shop") as one:
        take_answers(one.shop, TAG, "fuel: reads_wrong yes")
    with served_unread(tmp_path / "shop") as url, browser() as opened:
        page = opened.new_page(viewport=PHONE)
        troubles = watched(page)
        sent: list[str] = []
        page.on("request", lambda r: sent.append(r.url) if r.url.endswith("/answer") else None)
        page.clock.install(time=0)
        page.goto(f"{url}{AT[1:]}")
        settled(page)
        page.clock.pause_at(3_600)
        asked = page.inner_text(QUESTION)
        changed = "was => document.querySelector('#next-question').textContent !== was"
        at = page.locator(YES).bounding_box()
        page.mouse.click(at["x"] + 20, at["y"] + 20)
        page.mouse.click(at["x"] + 20, at["y"] + 20)  # while it is being sent
        page.wait_for_function(changed, arg=asked)
        second = page.inner_text(QUESTION)
        page.wait_for_function("() => document.activeElement.id === 'next-question'")
        page.keyboard.press("Enter")
        page.locator(YES).click(force=True)  # the card has just been swapped under the finger
        box = page.locator(YES).bounding_box()
        page.mouse.move(box["x"] + 20, box["y"] + 20)
        page.mouse.down()  # held since before the question could be read
        read(page)
        page.mouse.up()
        assert len(sent) == 1
        assert page.inner_text(QUESTION) == second
        page.locator(YES).focus()
        page.keyboard.press("Enter")
        page.keyboard.press("Enter")
        page.wait_for_function(changed, arg=second)
        page.wait_for_function("() => document.activeElement.id === 'next-question'")
        read(page)
        assert len(sent) == 2
        third = page.inner_text(QUESTION)
        page.locator(YES).click()
        page.wait_for_function(changed, arg=third)
        assert len(sent) == 3
        assert troubles == []


@needs_chromium
def test_what_is_wrong_with_a_decision_stands_at_its_field_and_goes_with_the_next(
    tmp_path: Path,
) -> None:
    with desk(tmp_path / "shop") as one:
        take_answers(one.shop, TAG, "fuel: reads_wrong yes")
    with served_unread(tmp_path / "shop") as url, browser() as opened:
        page = opened.new_page(viewport=PHONE)
        page.goto(f"{url}{AT[1:]}")
        settled(page)
        page.locator("#card-fuel-decide summary").click()
        page.locator("#card-fuel-decide .decides button").click()
        wrong = page.locator("#card-fuel-decide .field:has(#card-fuel-cause) .wrong")
        expect(wrong).to_contain_text("nothing was chosen")
        page.select_option("#card-fuel-cause", "dragging")
        page.locator("#card-fuel-decide .decides button").click()
        why = page.locator("#card-fuel-decide .field:has(#card-fuel-why) .wrong")
        expect(why).to_contain_text("no reason was given")
        expect(wrong).to_have_count(0)
        page.locator(YES).click()
        why.wait_for(state="detached")
        # WCAG 2.2, success criterion 2.5.5: a target is at least 44 by 44 CSS pixels
        low = page.evaluate(
            "[...document.querySelectorAll('main a, main button, main summary')]"
            ".filter(one => one.offsetParent && one.getBoundingClientRect().height < 44)"
            ".map(one => one.textContent)"
        )
        assert low == []
