"""The plan of a job on the page: what it is made for, the options, the quote, the owner's yes."""

import atexit
import json
import re
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime
from functools import cache
from html import unescape
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
from fastapi.testclient import TestClient

from needlewright.composing.job_answers import Decision, overrule
from needlewright.composing.shop_catalogue import take_catalogue, text_in_use
from needlewright.records.jobs import edit_job, wait_for
from needlewright.records.opening import open_shop
from needlewright.records.plans import plan_of_job
from needlewright.records.sheet import job_sheet
from needlewright.records.undo import history
from needlewright.web.app import create_app
from web.sheet_desk import TAG, Desk, desk, open_job, part_of
from web.sheet_desk import words_of as escaped_words

AT = f"/jobs/{TAG}/plan"
SOUND = "EX-2"
TERMS = {"built": "2012", "mileage": "190 000", "warranty": "24", "horizon": "6"}
OPENED = datetime(2026, 3, 2, 12, tzinfo=UTC)


YES = {"option": "only_failed", "who": "A. Sample", "how": "by message"}


def yes() -> dict[str, str]:
    """An acceptance of today, asked for after the plan was made: a suite may run past midnight."""
    return {**YES, "when": f"{date.today()}"}


def words_of(html: str) -> str:
    """What a person reads of some HTML, apostrophes and all."""
    return unescape(escaped_words(html))


def decided(one: Desk) -> None:
    """A job of which somebody said what it has."""
    overrule(one.shop, TAG, Decision("speed", ("lost_steps",), "seen slipping", "movement"))
    overrule(one.shop, TAG, Decision("lamps", ("lamp_dim",), "dim on the bench"))


@contextmanager
def opened(folder: Path) -> Iterator[Desk]:
    """A shop as it is, and a browser in front of it."""
    app = create_app(folder, read_photos=False)
    with TestClient(app, base_url="http://127.0.0.1") as client:
        yield Desk(app.state.house.shop, client, folder)


@cache
def planned() -> Path:
    """A shop with one job that has a plan, and one of which nothing is known; made once."""
    folder = Path(tempfile.mkdtemp(prefix="needlewright-tests-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    with desk(folder / "shop", job=False) as one:
        with open_shop(folder / "shop", now=lambda: OPENED) as earlier:
            open_job(earlier)  # the age of what was built in 2012 is that of this day
        open_job(one.shop, SOUND)
        edit_job(one.shop, SOUND, {"serial": "INVENTED-2"})
        decided(one)
        said = one.post(AT, TERMS)
        assert (said.status_code, said.headers["location"]) == (303, f"{AT}#stands")
        plan = plan_of_job(one.shop, TAG)
        assert plan is not None
        (folder / "made.json").write_text(json.dumps(plan.document), encoding="utf-8")
    return folder / "shop"


def made_document(**changes: Any) -> dict[str, Any]:
    """The plan of that shop's job, as it was made once."""
    text = (planned().parent / "made.json").read_text(encoding="utf-8")
    return {**json.loads(text), **changes}


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    """The shop for tests that change nothing in it."""
    folder = tmp_path_factory.mktemp("plan") / "shop"
    shutil.copytree(planned(), folder)
    with opened(folder) as desk_of_it:
        yield desk_of_it


@pytest.fixture
def one(tmp_path: Path) -> Iterator[Desk]:
    """The same shop anew for every test."""
    shutil.copytree(planned(), tmp_path / "shop")
    with opened(tmp_path / "shop") as desk_of_it:
        yield desk_of_it


def number(one: Desk) -> str:
    plan = plan_of_job(one.shop, TAG)
    assert plan is not None
    return plan.number


def accepted(one: Desk, **other: str) -> None:
    said = one.post(f"{AT}/accept", {**yes(), "number": number(one), **other})
    assert (said.status_code, said.headers["location"]) == (303, f"{AT}#stands")


def main_of(page: str) -> tuple[str, str]:
    """The one filled button of a page, and where it leads; a form's has no place of its own."""
    (main,) = re.findall(r'<(?:a|button) class="button main"([^>]*)>([^<]*)<', page)
    place = re.search(r'href="([^"]*)"', main[0])
    assert 'data-key="x"' in main[0]
    assert page.count('data-key="x"') == 1
    return unescape(main[1]), "" if place is None else place[1]


def stands(page: str) -> str:
    return words_of(part_of(page, 'id="stands"', "</section>").split(">", 1)[1])


def test_without_findings_there_is_no_plan_and_a_sentence_says_so(one: Desk) -> None:
    at = f"/jobs/{SOUND}/plan"
    page = one.get(at)
    assert stands(page) == "No plan yet A plan is made of findings. Open the findings"
    assert main_of(page) == ("Open the findings", f"/jobs/{SOUND}/findings")
    wrong = one.post(at, TERMS)
    assert wrong.status_code == 422
    assert f"job {SOUND} has no findings" in words_of(wrong.text)
    assert 'value="190 000"' in wrong.text  # what was typed stays
    assert plan_of_job(one.shop, SOUND) is None
    assert job_sheet(one.shop, SOUND).built is None  # nothing of it is half saved
    for place in ("quote", "sheet.pdf", "fresh"):
        assert one.client.get(f"{at}/{place}").status_code == 404


def test_the_options_stand_with_what_they_cost(kept: Desk) -> None:
    page, plan = kept.get(AT), plan_of_job(kept.shop, TAG)
    assert plan is not None
    for option in plan.document["options"]:
        card = words_of(part_of(page, f'id="option-{option["id"]}"', "</article>"))
        assert f"{option['price']} EUR now" in card
        assert f"expected in all {option['total']} EUR" in card
        assert f"{option['minutes']:.0f} ± {option['u_minutes']:.0f} min" in card
        assert ("least expected cost" in card) == (option["id"] == "recommended")
        for one_left in plan.document["decisions"]:
            if one_left["id"] in option["left"]:
                assert one_left["reason"] in card
    table = part_of(page, 'class="cost-table"', "</table>")
    assert table.count("<tr") == 2 + len(re.findall(r'class="swatch"', table))
    assert page.count('class="cost-bar"') == 3
    assert stands(page).startswith("Not accepted yet")
    assert kept.client.get(f"{AT}/fresh").json() == {"same": True}


def test_a_thing_is_asked_why(kept: Desk) -> None:
    page, plan = kept.get(AT), plan_of_job(kept.shop, TAG)
    assert plan is not None
    card = words_of(part_of(page, 'id="thing-speed-movement"', "</li>\n<li class"))
    thing = next(d for d in plan.document["decisions"] if d["id"] == "speed:movement")
    assert thing["reason"][1:] in card
    assert f"Replace now {thing['totals']['replace now']} EUR least" in card
    assert f"Leave {thing['totals']['leave']} EUR" in card
    assert "Movement of the road speed gauge: Weibull's law, shape 2.5, scale 60 years" in card
    assert "common practice, no source" in card
    assert f'href="/jobs/{TAG}/findings#card-speed"' in page


def test_the_terms_say_where_they_are_from(kept: Desk) -> None:
    words = words_of(part_of(kept.get(AT), 'id="terms"', "</section>"))
    assert "190 000 km, 24 months of warranty, 6 years ahead, 14 000 km a year" in words
    assert "As the cluster's record has it: built 2012." in words
    assert "As the catalogue catalogue.toml has it." in words
    assert job_sheet(kept.shop, TAG).built == "2012"
    assert job_sheet(kept.shop, TAG).odometer_in is None  # typed for the plan, not recorded


WRONG = {
    "mileage": ("-1", "expected a mileage from 0 to 5 000 000 km, found '-1'"),
    "warranty": ("nan", "expected 0 to 120 months, found 'nan'"),
    "horizon": ("0", "expected 0.1 to 50 years, found '0'"),
    "km_per_year": ("many", "expected 1 to 500 000 km, found 'many'"),
}


@pytest.mark.parametrize(
    ("built", "says"),
    [
        ("1850", "expected a year such as 2012"),
        ("2012-13", "expected a year such as 2012"),
        ("9999", "9999 is yet to come"),
        ("old", "or an age from 0 to 150, found 'old'"),
    ],
)
def test_every_term_that_cannot_be_is_said_beside_it(kept: Desk, built: str, says: str) -> None:
    fields = {"built": (built, says), **WRONG}
    wrong = kept.post(AT, {name: given for name, (given, _) in fields.items()})
    assert wrong.status_code == 422
    for name, (given, said) in fields.items():
        place = wrong.text.split(f'id="term-{name}"', 1)[1].split("<details", 1)[0]
        assert 'aria-invalid="true"' in place
        assert said in words_of(place)
        assert f'value="{given}"' in place
    assert wrong.text.count('class="wrong"') == 5
    plan = plan_of_job(kept.shop, TAG)
    assert plan is not None
    assert plan.superseded == ()  # nothing was kept


def test_a_mileage_that_can_be_read_in_two_ways_is_asked_for_again(kept: Desk) -> None:
    wrong = kept.post(AT, {"mileage": "184,213", "km_per_year": "15,000", "horizon": "5,5"})
    assert wrong.status_code == 422
    words = words_of(wrong.text)
    assert "Mileage: 184,213 can be read in two ways; write 184213 or 184.213" in words
    assert "15,000 can be read in two ways; write 15000 or 15.0" in words
    assert wrong.text.count('class="wrong"') == 2
    plan = plan_of_job(kept.shop, TAG)
    assert plan is not None
    assert plan.superseded == ()


def test_a_year_is_kept_with_the_plan_in_one_step_and_cleared_only_where_it_was_sent(
    one: Desk,
) -> None:
    steps = len(history(one.shop, TAG, 200))
    assert one.post(AT, {**TERMS, "built": "2013"}).status_code == 303
    assert job_sheet(one.shop, TAG).built == "2013"
    assert len(history(one.shop, TAG, 200)) == steps + 1
    unsent = {name: text for name, text in TERMS.items() if name != "built"}
    assert one.post(AT, {**unsent, "horizon": "7"}).status_code == 303
    assert job_sheet(one.shop, TAG).built == "2013"
    assert one.post(AT, {**TERMS, "built": ""}).status_code == 303
    assert job_sheet(one.shop, TAG).built is None


def test_an_age_goes_with_the_plan_alone_and_changes_it(one: Desk) -> None:
    accepted(one)
    before = number(one)
    assert "Accepted only what failed, 153.77 EUR by A. Sample" in stands(one.get(AT))
    assert one.post(AT, {**TERMS, "built": "30", "horizon": "12"}).status_code == 303
    assert job_sheet(one.shop, TAG).built == "2012"
    plan = plan_of_job(one.shop, TAG)
    assert plan is not None
    assert (plan.document["age_years"], plan.needs_new_acceptance) == (30.0, True)
    said = stands(one.get(AT))
    assert said.startswith("Changed since it was accepted")
    assert f"accepted “only what failed” for 153.77 EUR of plan {before}" in said
    assert "Age in years: 13.7 before, 30 now" in said
    assert "Years looked ahead: 6 before, 12 now" in said
    assert re.search(r"Recommended: [\d.]+ EUR before, [\d.]+ EUR now", said)
    shown = one.post(f"{AT}/accept", {**yes(), "number": before})
    assert shown.status_code == 409
    assert f"plan {before} was shown here and the plan is {plan.number} now" in shown.text
    assert plan_of_job(one.shop, TAG) == plan
    accepted(one, option="recommended")
    assert stands(one.get(AT)).startswith("Accepted recommended")
    older = words_of(part_of(one.get(AT), 'id="older"'))
    assert f"Plan {before}" in older
    assert "accepted: only what failed, 153.77 EUR, A. Sample" in older
    for _ in ("the yes", "the plan"):
        assert one.post(f"{AT}/undo").status_code == 303
    assert number(one) == before  # and what was accepted of it counts again
    assert stands(one.get(AT)).startswith("Accepted only what failed")


@pytest.mark.parametrize(
    ("field", "given", "says"),
    [
        ("option", "", "No option was chosen"),
        ("who", " ", "Who accepted is missing"),
        ("when", "", "The day is missing"),
        ("when", "2.3.26", "Expected a day such as 2026-03-02 or 2.3.2026, found '2.3.26'."),
        ("how", "", "How the yes was said is missing"),
    ],
)
def test_what_is_missing_in_a_yes_is_said_at_its_field(
    kept: Desk, field: str, given: str, says: str
) -> None:
    wrong = kept.post(f"{AT}/accept", {**yes(), "number": number(kept), field: given})
    assert wrong.status_code == 422
    form = part_of(wrong.text, 'id="accept"', "</form>")
    assert says in words_of(form)
    stays = "only_failed" if field != "option" else "A. Sample"
    assert re.search(rf'value="{stays}"( checked)?', form)
    assert stands(wrong.text).startswith("Not accepted yet")


def test_all_that_is_missing_in_a_yes_is_said_at_once(kept: Desk) -> None:
    sent = {"number": number(kept), "option": "", "who": "", "when": "3/2/2026", "how": ""}
    form = part_of(kept.post(f"{AT}/accept", sent).text, 'id="accept"', "</form>")
    assert form.count('role="alert"') == 4
    for name in ("who", "when", "how"):
        assert f'id="accept-{name}-wrong"' in form
        assert f'aria-describedby="accept-{name}-wrong"' in form


def test_a_day_to_come_or_before_the_plan_and_an_option_there_is_not(kept: Desk) -> None:
    for changed, says in (
        ({"when": "2999-01-01"}, "yet to come"),
        ({"when": "2026-03-02"}, "2026-03-02 is before plan"),
        ({"option": "x"}, "no option"),
    ):
        wrong = kept.post(f"{AT}/accept", {**yes(), "number": number(kept), **changed})
        assert wrong.status_code == 422
        assert says in part_of(wrong.text, 'id="accept"', "</form>")


def test_what_the_owner_sent_back_is_pasted(one: Desk) -> None:
    options = made_document()["options"]
    price = next(option["price"] for option in options if option["id"] == "only_failed")
    today = date.today()
    text = (
        f"Hello,\n> acceptance of plan {number(one)}\n> option: only_failed\n"
        f"> price: {price} EUR\n> who: A. Sample\n> when: {today}\n> how: by message\n"
    )
    text = text.replace(price, price.replace(".", ",")).replace(f"{today}", f"{today:%d.%m.%Y}")
    text = text.replace("only_failed", "Only what failed")
    wrong = one.post(f"{AT}/pasted", {"text": text.replace(price.replace(".", ","), "100.00")})
    assert wrong.status_code == 422
    form = part_of(wrong.text, 'id="pasted"', "</form>")
    assert "100.00 EUR was accepted" in form
    assert "price: 100.00 EUR" in form  # the text stays
    assert one.post(f"{AT}/pasted", {"text": text}).status_code == 303
    said = stands(one.get(AT))
    day = f"{today:%a} {today.day} {today:%b} {today.year}"
    assert said.startswith(f"Accepted only what failed, {price} EUR by A. Sample, {day}")
    assert one.post(f"{AT}/pasted", {"text": "yes"}).status_code == 422


def test_a_yes_is_undone_or_taken_back_with_its_reason(one: Desk) -> None:
    accepted(one)
    assert one.post(f"{AT}/undo").status_code == 303
    assert stands(one.get(AT)).startswith("Not accepted yet")
    accepted(one)
    wrong = one.post(f"{AT}/take-back", {"why": " "})
    assert wrong.status_code == 422
    assert "the reason is missing" in part_of(wrong.text, 'id="take-back"')
    assert one.post(f"{AT}/take-back", {"why": "sold the car"}).status_code == 303
    said = stands(one.get(AT))
    assert said.startswith("No longer accepted")
    assert "sold the car" in said
    accepted(one)  # a new yes counts
    wait_for(one.shop, TAG, "parts")
    wrong = one.post(f"{AT}/undo")
    assert wrong.status_code == 409
    assert "which is not of the plan" in wrong.text


def test_what_leaves_the_house_asks_once(one: Desk) -> None:
    look = one.get(f"{AT}/quote")
    assert "This leaves the house" in look
    plan = plan_of_job(one.shop, TAG)
    assert plan is not None
    assert plan.document["looks"]
    for step in plan.document["looks"]:  # what is worth a minute before it is quoted
        said = f"is expected to save {step['saves']} EUR"
        assert f"{' '.join(step['words'])} It takes {step['minutes']:.0f} min and {said}" in (
            words_of(look)
        )
    assert "Example Instrument Bench, 1 Example Yard, Nowhere" in look
    assert f"acceptance of plan {number(one)}" in look  # the same as a message
    said = one.post(f"{AT}/quote", {"waits": "yes"})
    assert said.headers["content-disposition"] == (
        f'attachment; filename="quote-{number(one)}.html"'
    )
    assert "<!doctype html>" in said.text
    assert not re.search(r'(?:src|href)="(?!#)', said.text)  # everything is in it
    assert job_sheet(one.shop, TAG).waits_for == "owner"
    accepted(one)
    assert "On the shelf the job still waits for the owner." in stands(one.get(AT))
    assert one.post(f"{AT}/bench").status_code == 303
    assert job_sheet(one.shop, TAG).waits_for == "bench"
    assert one.post(f"{AT}/quote").status_code == 200
    assert job_sheet(one.shop, TAG).waits_for == "bench"  # it was not ticked


def test_a_plan_is_held_against_what_is_known_now(
    one: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    made: list[str] = []

    def make(*_: object) -> dict[str, Any]:
        made.append(TAG)
        return made_document(number="0A1B2C3D")

    monkeypatch.setattr("needlewright.web.plan.make_job_plan", make)
    accepted(one)
    assert one.client.get(f"{AT}/fresh").json() == {"same": True}
    assert made == []  # nothing was saved that a plan could rest on: it is not worked out anew
    overrule(one.shop, TAG, Decision("fuel", ("stalled",), "does not move"))
    assert one.client.get(f"{AT}/fresh").json() == {"same": False}
    assert made == [TAG]


def test_the_sheet_of_the_work_follows_what_was_accepted(one: Desk) -> None:
    accepted(one)
    got = one.client.get(f"{AT}/sheet.pdf")
    assert got.headers["content-type"] == "application/pdf"
    pdf = pypdfium2.PdfDocument(got.content)
    words = " ".join(" ".join(page.get_textpage().get_text_range() for page in pdf).split())
    pdf.close()
    assert f"plan {number(one)}" in words
    assert "Option: only what failed" in words
    assert "Accepted: only what failed, 153.77 EUR, by A. Sample" in words


def test_the_steps_follow_the_option_that_is_looked_at(kept: Desk) -> None:
    plan = plan_of_job(kept.shop, TAG)
    assert plan is not None
    for option in plan.document["options"]:
        work = part_of(kept.get(f"{AT}?option={option['id']}"), 'id="steps"', "</section>")
        assert work.count('<li class="work-step"') == len(option["steps"])
        said = [one for step in option["steps"] for one in step["cautions"]]
        whole = len(set(said)) + len(option["cautions"])  # where it begins; then by its short name
        assert work.count('<p class="caution">') == whole
        assert work.count("As from step ") == len(said) - len(set(said))
        guides = [step["guide"] for step in option["steps"] if step["guide"]]
        assert len(re.findall(rf'href="/guides/[\w-]+\?job={TAG}["&]', work)) == len(guides)
    assert "Steps of: recommended" in kept.get(f"{AT}?option=none-such")


def test_one_button_is_the_next_thing_in_every_state(one: Desk) -> None:
    quote, rebuild, yes = f"{AT}/quote", f"/jobs/{TAG}/rebuild", "Enter the owner's yes"
    assert main_of(one.get(AT)) == ("Look the quote over", quote)
    assert one.post(quote, {"waits": "yes"}).status_code == 200
    assert main_of(one.get(AT)) == (yes, "#acceptance")
    assert "The owner has the quote: enter the yes when it comes." in stands(one.get(AT))
    accepted(one)
    assert main_of(one.get(AT)) == ("It waits for the bench now", "")
    assert one.post(f"{AT}/bench", {}).status_code == 303
    assert main_of(one.get(AT)) == ("Tick the steps off", rebuild)
    assert one.post(AT, {**TERMS, "horizon": "3"}).status_code == 303  # changed since
    assert stands(one.get(AT)).startswith("Changed since it was accepted")
    assert main_of(one.get(AT)) == ("Look the quote over", quote)
    one.post(quote, {"waits": "yes"})
    assert main_of(one.get(AT)) == (yes, "#acceptance")
    assert one.post(f"{AT}/take-back", {"why": "too dear"}).status_code == 303
    # no longer accepted: what was sent before that was answered by it
    assert main_of(one.get(AT)) == ("Look the quote over", quote)


def test_a_job_that_waits_for_its_owner_since_before_its_plan_was_sent_no_quote(one: Desk) -> None:
    wait_for(one.shop, TAG, "owner")
    assert main_of(one.get(AT))[0] == "Enter the owner's yes"
    assert one.post(AT, {**TERMS, "horizon": "3"}).status_code == 303
    assert main_of(one.get(AT))[0] == "Look the quote over"
    assert one.post(f"{AT}/undo", {}).status_code == 303
    assert main_of(one.get(AT))[0] == "Enter the owner's yes"
    assert one.post(f"/jobs/{TAG}/undo", {}).status_code in (200, 303)
    assert main_of(one.get(AT))[0] == "Look the quote over"


def test_a_quote_that_goes_out_again_while_the_owner_is_waited_for_is_on_record(one: Desk) -> None:
    quote = f"{AT}/quote"
    one.post(quote, {"waits": "yes"})
    assert one.post(AT, {**TERMS, "horizon": "3"}).status_code == 303  # another plan, not sent yet
    assert main_of(one.get(AT)) == ("Look the quote over", quote)
    assert one.post(quote, {"waits": "yes"}).status_code == 200
    newest, made, first, *_ = history(one.shop, TAG)
    assert newest.what == f"quote of plan {number(one)} sent"
    assert made.what == f"plan {number(one)}"
    assert first.what.startswith("quote of plan ")
    assert first.what != newest.what
    assert [note.text for note in job_sheet(one.shop, TAG).notes] == [
        f"quote of plan {number(one)} sent, while the job waited for its owner"
    ]
    assert main_of(one.get(AT)) == ("Enter the owner's yes", "#acceptance")
    assert one.post(f"{AT}/undo", {}).status_code == 303
    assert main_of(one.get(AT)) == ("Look the quote over", quote)
    assert job_sheet(one.shop, TAG).notes == ()


def test_a_plan_that_can_be_made_has_that_for_its_next_thing(one: Desk) -> None:
    overrule(one.shop, SOUND, Decision("speed", ("lost_steps",), "seen slipping", "movement"))
    assert main_of(one.get(f"/jobs/{SOUND}/plan")) == ("Make the plan", "")


def test_what_a_return_was_reckoned_with_is_said_while_the_catalogue_is_that_one(one: Desk) -> None:
    why = words_of(part_of(one.get(AT), 'id="costs-why"', "</details>"))
    assert "A return: 36.00 EUR for both ways and 45.00 EUR of goodwill, 40 % less of that" in why
    assert (
        "The final check finds 90 % of the repairs that did not take; telling takes 4 min." in why
    )
    dearer = one.folder / "dearer.toml"
    text = bytes(text_in_use(one.shop).content).decode()
    dearer.write_text(text.replace("goodwill = 45.00", "goodwill = 55.00"), encoding="utf-8")
    take_catalogue(one.shop, dearer)
    assert "A return:" not in one.get(AT)
