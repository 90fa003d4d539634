"""The sheet of the work and the quote."""

import json
import re
from datetime import date
from decimal import Decimal
from functools import cache
from html import escape
from pathlib import Path
from typing import Any

import pypdfium2
import pytest

from needlewright.errors import PaperError, PlanError
from needlewright.families.folder import load_family
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.papers.blocks import Facts, Heading, Listing, Paragraph, Sheet, Table, Together
from needlewright.papers.customer_side import part_lines, who_pays
from needlewright.papers.document import ending_of, fitted_pdf, sheet_pdf
from needlewright.papers.minutes_words import minutes_words
from needlewright.papers.plain_words import plain_beside
from needlewright.papers.plan_bars import PIECES, bar_svg, pieces_of, used_pieces
from needlewright.papers.plan_sheet import plan_sheet, plan_sheet_pdf
from needlewright.papers.quote import done_of, quote_html
from needlewright.papers.quote_text import quote_text
from needlewright.plans.catalogue.load import load_catalogue
from needlewright.plans.rebuild.acceptance import of_plan, parse_acceptance, refuse_other_plan
from needlewright.plans.rebuild.findings import findings_from
from needlewright.plans.rebuild.plan import plan_of
from needlewright.plans.rebuild.plan_json import plan_document
from needlewright.plans.rebuild.risks import Life
from web.walking import browser, needs_chromium

FAMILY = load_family(Path(__file__).parents[2] / "src/needlewright/demo_data/family")
DAY = date(2026, 3, 2)

BOXES = """part => [...document.querySelectorAll(part)].map(one => {
    const {left, right, top} = one.getBoundingClientRect();
    return {left, right, top};
})"""


@cache
def document() -> dict[str, Any]:
    known = load_knowledge(None)
    catalogue = load_catalogue(known, FAMILY)
    shares = {("speed", "lost_steps"): 0.9, ("whole", "lamp_dim"): 0.6, ("fuel", "sender"): 0.1}
    found = findings_from(shares, known, FAMILY)
    plan = plan_of(found, catalogue, FAMILY, known, Life(14, 190_000))
    return plan_document(plan, catalogue, invented=True, variant=None, tag="EX-1")


def test_the_sheet_has_a_box_for_every_part_and_step():
    made, sheet = document(), plan_sheet(document(), "recommended", DAY)
    tables = [one for one in sheet.blocks if isinstance(one, Table)]
    steps = made["options"][0]["steps"]
    assert len(tables[0].rows) == len(steps) == 23
    assert all(row[0].sign == "box" for row in tables[0].rows)
    assert [column.head for column in tables[0].columns][-2:] == ["who", "when"]
    seen: dict[str, int] = {}
    for number, (row, step) in enumerate(zip(tables[0].rows, steps, strict=True), start=1):
        for one in step["cautions"]:
            first = seen.setdefault(one, number)
            words = one if first == number else f"as in step {first}: "
            assert f"CAUTION: {words}" in row[2].under
    assert len(seen) < sum(len(step["cautions"]) for step in steps)
    assert len(tables[1].rows) == len(made["options"][0]["left"]) == 8
    assert sheet.banner == "INVENTED DEMONSTRATION"


def test_what_would_change_a_plan_is_for_the_shop_and_not_for_the_customer():
    made = document()
    words = [one["words"] for one in made["switches"]]
    assert words
    assert not set(words) & set(made["notes"])
    sections = [
        one.blocks
        for one in plan_sheet(made, "recommended", DAY).blocks
        if isinstance(one, Together)
    ]
    assert (Heading("What would change the recommendation"), Listing(tuple(words))) in sections
    quote = quote_html(made)
    assert not [one for one in words if escape(one) in quote]
    assert "would change the recommendation" not in quote


def test_work_without_a_guide_says_so_and_how_long_it_may_take():
    made = document()
    steps = [dict(step) for step in made["options"][0]["steps"]]
    work = next(place for place, step in enumerate(steps) if step["guide"])
    steps[work]["guide"] = None
    changed = {**made, "options": [{**made["options"][0], "steps": steps}, *made["options"][1:]]}
    for document_of, says in ((made, False), (changed, True)):
        sheet = plan_sheet(document_of, "recommended", DAY)
        row = next(one for one in sheet.blocks if isinstance(one, Table)).rows[work]
        assert ("There is no guide for this step." in row[2].under) is says
        assert row[3].text == "16 ± 4"  # of 8, 14 and 30: 94/6 and 22/6


def test_the_sheet_as_a_file():
    pdf = pypdfium2.PdfDocument(plan_sheet_pdf(document(), "only_failed", DAY))
    words = " ".join(page.get_textpage().get_text_range() for page in pdf)
    plain = " ".join(words.split())
    assert f"plan {document()['number']}" in plain
    assert "A speedometer is left in doubt" in plain
    assert "Leaded solder: extraction, wash hands" in plain
    assert "replace speed's movement" in plain
    assert "Mileage is recorded and never altered" in plain
    pdf.close()


def test_an_option_there_is_not():
    with pytest.raises(PaperError, match="no option 'half'; it has: recommended, only_failed"):
        plan_sheet(document(), "half", DAY)


def test_what_is_in_a_quote_cannot_break_it():
    odd = json.loads(json.dumps(document()))
    odd["tag"] = "<b>&</script><!--options-->"
    odd["number"] = "</script>"
    page = quote_html(odd, "Bench & <Sons>")
    assert "<b>" not in page
    assert page.count("</script>") == 1
    assert "Bench &amp; &lt;Sons&gt;" in page
    assert page.count('<section class="option') == 3


@needs_chromium
def test_a_quote_is_accepted_with_who_when_and_how(tmp_path: Path):
    (tmp_path / "quote.html").write_text(quote_html(document()), "utf-8")
    with browser() as opened:
        page = opened.new_page(viewport={"width": 390, "height": 800})
        asked: list[str] = []
        page.on("request", lambda request: asked.append(request.url))
        page.goto((tmp_path / "quote.html").as_uri())
        text = page.locator("#text")
        assert text.input_value() == "not accepted yet: missing an option, who, when, how\n"
        page.get_by_label("recommended,").check()
        page.get_by_label("Who accepts").fill("An invented owner")
        page.get_by_label("When").fill("2026-03-02")
        page.get_by_label("How").select_option("by message")
        assert text.input_value().splitlines() == [
            f"acceptance of plan {document()['number']}",
            "option: recommended",
            "price: 153.77 EUR",
            "who: An invented owner",
            "when: 2026-03-02",
            "how: by message",
        ]
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
        # nothing is behind an edge of its own either: rows are stacked, each option is a block
        for part in (".option", ".cost", ".parts td", ".sides dd"):
            boxes = page.evaluate(BOXES, part)
            assert boxes
            assert all(box["left"] >= 0 and box["right"] <= 390 for box in boxes), part
        cells = page.evaluate(BOXES, ".parts tbody tr:first-child td")
        assert [one["top"] for one in cells] == sorted({one["top"] for one in cells})
        assert page.get_by_role("row").count() == 1 + len(part_lines(document()))
        assert page.get_by_role("cell").count() == 4 * len(part_lines(document()))
        assert page.evaluate("document.documentElement.scrollHeight") < 8000
        assert len(asked) == 1
        printed = pypdfium2.PdfDocument(page.pdf(prefer_css_page_size=True))
        first = " ".join(printed[0].get_textpage().get_text_range().split())
        # what is agreed to, and the line to sign, lie on one page
        assert first.count("come back under warranty") == 3
        assert first.index("Acceptance") < first.index("signature")
        assert len(printed) <= 2
        printed.close()


def test_the_pieces_of_a_bar_are_the_expected_cost_on_one_scale():
    made = document()
    totals = {one["id"]: Decimal(one["total"]) for one in made["options"]}
    for option in made["options"]:
        pieces = pieces_of(made, option)
        assert [one.name for one in pieces] == [name for name, _ in PIECES]
        ends = [0.0, *(one.start + one.width for one in pieces)]
        assert [one.start for one in pieces] == pytest.approx(ends[:-1], abs=1e-9)
        # every figure is rounded by itself: six of them may be off by three cents together
        share = float(100 * totals[option["id"]] / max(totals.values()))
        assert ends[-1] == pytest.approx(share, abs=100 * 0.06 / float(max(totals.values())))
    assert max(p.start + p.width for o in made["options"] for p in pieces_of(made, o)) == 100.0
    assert "watching" not in used_pieces(made)


def test_a_bar_of_nothing_is_empty():
    made = document()
    none = {**made["options"][0], **{key: "0.00" for _, key in PIECES}}
    assert bar_svg(pieces_of({**made, "options": [none]}, none)).count("<rect") == 0


def test_the_quote_has_the_customers_money_and_none_of_the_shops():
    made = document()
    page, text = quote_html(made, "A bench"), quote_text(made)
    assert page.count('class="cost-bar"') == 3
    assert page.count('id="piece-slanted"') == 1
    for option in made["options"]:
        both = Decimal(option["price"]) + Decimal(option["later"])
        assert page.count(f'<dd class="number">{both} EUR</dd>') >= 1
        assert f"you may have to pay later, on average: {option['later']} EUR" in text
        # what the shop bears decides what it recommends, and is nobody's bill
        for key in ("total", "after", "returns", "rework", "spoiling"):
            if Decimal(option[key]) not in (0, Decimal(option["price"]), Decimal(option["later"])):
                assert f"{option[key]} EUR" not in page + text
    for of in ("You pay now", "You may have to pay later", "We bear", "We recommend"):
        assert f"<dt>{of}</dt>" in page
        assert f"\n{of}: " in text
    assert "expected to cost" in page
    assert not re.search(r"expected to cost [\d.]+ EUR", page)


def test_what_the_shop_looks_at_before_it_quotes_is_not_in_the_quote():
    look = "before the quote, look: Does it flicker? It takes 1 min, is expected to save 1.40 EUR"
    made = {**document(), "notes": [look, "what else was assumed"]}
    page = quote_html(made)
    assert "Does it flicker" not in page
    assert "<li>what else was assumed</li>" in page


def test_a_final_check_is_promised_only_where_the_work_can_be_finished():
    made = document()
    assert made["options"][0]["id"] == "recommended"
    assert made["options"][0]["unfinished"] == []
    promised = "after which a speedometer can pass its final check"
    assert promised in dict(who_pays(made))["we recommend"]
    advised = {**made["options"][0], "unfinished": ["speed"]}
    left = {**made, "options": [advised, *made["options"][1:]]}
    said = dict(who_pays(left))["we recommend"]
    assert promised not in said
    assert "one that fails its final check gets no passing certificate: see the caution" in said
    assert "with it. For you alone" in said
    for paper in (quote_html(left, "A bench"), quote_text(left)):
        assert promised not in " ".join(paper.split())


def test_nothing_is_looked_at_beyond_a_warranty_that_is_longer():
    made = {**document(), "warranty_months": 72, "horizon_years": 6}
    assert dict(who_pays(made))["you may have to pay later"].startswith("nothing is looked at")
    made = {**document(), "warranty_months": 71, "horizon_years": 6}
    assert "until 6 years from now" in dict(who_pays(made))["you may have to pay later"]


def test_a_word_of_the_trade_is_told_once_where_it_is_first_read():
    page = quote_html(document())
    assert page.count("the small motor that turns a needle") == 1
    first = page.split('<section class="option', 2)[1]
    assert "movement: the small motor that turns a needle" in first
    assert plain_beside(["set the needle", "mend the movements", "its movement, the driver"]) == (
        (),
        ("movement: the small motor that turns a needle",),
        ("driver: the circuit that feeds a motor or a lamp",),
    )
    assert plain_beside(["restoppable interface"]) == ((),)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("replace the lamps",), "replace the lamps"),
        (("mend",), "mend"),
        (
            ("set the fuel gauge's needle anew", "set the road speed gauge's needle anew"),
            "set the fuel and road speed gauge's needle anew",
        ),
        (
            ("mend speed's stop", "mend fuel's stop", "mend temp's stop"),
            "mend speed's, fuel's and temp's stop",
        ),
        (("mend a", "mend a"), "mend a and a"),
        (("clean", "clean it well"), "clean and clean it well"),
    ],
)
def test_what_is_done_to_several_dials_is_one_line(words: tuple[str, ...], said: str):
    assert done_of({"operations": [{"id": "x", "words": one} for one in words]}) == [said]


def test_a_part_says_its_chances_in_words_and_what_is_alike_is_one_line():
    lines = part_lines(document())
    (speed,) = [one for one in lines if one.of == ("speed",) and one.words == "movement"]
    assert speed.choice == "replace now"
    assert "At fault now: about 81 in 100." in speed.why
    assert "Leaving it is expected to cost more than the work." in speed.why
    (left,) = [one for one in lines if one.words == "movement" and len(one.of) > 1]
    assert (left.of, left.choice) == (("engine", "temp", "fuel"), "leave as it is")
    assert "Work on it now costs more than it is expected to save." in left.why
    assert len(lines) < len(document()["decisions"])


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"chance_now": 1.0}, "Found to be at fault."),
        ({"chance_now": 0.004}, "At fault now: fewer than 1 in 100."),
        ({"chance_now": 0.9999, "chance_horizon": 0.9999}, "At fault now: about 99 in 100."),
        ({"along_with": "set_needle:speed"}, "Comes along with other work."),
        ({"choice": "watch", "reason": "x; look for: it slips"}, "Look for: it slips."),
        ({"choice": "leave", "totals": {"leave": "9.00"}}, "No work of ours treats it."),
        ({"choice": "leave", "due": "due for its age at 12 years"}, "Due for its age at 12 years."),
        ({"choice": "leave", "caution": "reads {low}"}, "Reads {low}."),
        ({"reason": "not looked at yet; at fault now with 6 %"}, "Not looked at yet. At fault"),
    ],
)
def test_what_is_said_of_a_part(changed: dict[str, Any], said: str):
    one = next(o for o in document()["decisions"] if o["id"] == "speed:movement")
    (line,) = part_lines({**document(), "decisions": [{**one, **changed}]})
    assert said in line.why


def test_where_money_did_not_decide_it_is_not_given_as_the_reason():
    one = next(o for o in document()["decisions"] if o["id"] == "speed:movement")
    dear = {**one, "totals": {**one["totals"], "replace now": "9999.00"}}
    (line,) = part_lines({**document(), "decisions": [dear]})
    assert "expected to cost" not in line.why


@pytest.mark.parametrize(
    ("minutes", "u", "said"),
    [
        (134.2, 8.4, "134 ± 8"),
        (2.5, 0.8333, "2.5 ± 0.8"),
        (2.0, 0.3333, "2.0 ± 0.3"),
        (2.0, 0.02, "2.0 ± 0.02"),
        (5.0, 0.0, "5"),
        (1234.5, 30.0, "1\u202f234 ± 30"),
        (7.4, None, "7"),
    ],
)
def test_minutes_never_vary_by_nothing(minutes: float, u: float | None, said: str):
    assert minutes_words(minutes, u) == said


def test_the_quote_as_text_is_accepted_by_its_own_lines():
    made = document()
    text = quote_text(made, "An invented bench")
    assert text.startswith("INVENTED DEMONSTRATION\nQuote for job EX-1, invented-estate, plan ")
    assert "   minutes of work: 134 ± 8" in text
    blocks = text.split("\nacceptance of plan ")[1:]
    assert len(blocks) == 3
    for option, block in zip(made["options"], blocks, strict=True):
        filled = block.replace("who: ", "who: An owner").replace("when: ", "when: 2026-03-02")
        one = parse_acceptance(f"> acceptance of plan {filled}")
        assert (one.number, one.option) == (made["number"], option["id"])
        assert one.price == f"{option['price']} EUR"
        refuse_other_plan(one, made, DAY)
    answered = text.replace(
        blocks[1], blocks[1].replace("who: ", "who: B.").replace("when: ", "when: 2026-03-02")
    )
    one = parse_acceptance(f"Yes, the second.\n{answered}")  # all of it came back
    assert (one.option, one.who) == ("only_failed", "B.")
    twice = answered.replace(
        blocks[0], blocks[0].replace("who: ", "who: B.").replace("when: ", "when: 2026-03-02")
    )
    with pytest.raises(PlanError, match="expected one line 'acceptance of plan NUMBER', found 3"):
        parse_acceptance(twice)
    with pytest.raises(PlanError, match="'who' is missing"):
        parse_acceptance("acceptance of plan " + blocks[0])


def test_a_caution_of_every_option_is_said_once_above_them_and_of_one_with_it():
    made = json.loads(json.dumps(document()))
    for option in made["options"]:
        option["cautions"] = ["the speedometer is left in doubt"]
    made["options"][1]["cautions"].append("nothing is done about the lamps")
    page = quote_html(made)
    above, cards = page.split('<div class="options">')[0], page.split('<section class="option')
    assert "In every option: the speedometer is left in doubt." in above
    assert page.count("the speedometer is left in doubt") == 1
    assert ["nothing is done about the lamps." in card for card in cards[1:4]] == [0, 1, 0]


def test_the_sheet_says_what_was_accepted():
    said = plan_sheet(document(), "recommended", DAY, accepted="recommended, 124.77 EUR, by A. S.")
    words = [one.text for one in said.blocks if isinstance(one, Paragraph)]
    assert "Accepted: recommended, 124.77 EUR, by A. S." in words
    bare = plan_sheet(document(), "recommended", DAY)
    assert not [o for o in bare.blocks if isinstance(o, Paragraph) and "Accepted" in o.text]


@pytest.mark.parametrize("count", [7, 12, 17, 22, 27, 33, 39])
def test_a_sheet_of_any_length_breaks_well(count: int):
    made, option = document(), document()["options"][0]
    steps = [
        {**option["steps"][place % 23], "words": f"step {place + 1:02d} of many", "minutes": 5}
        for place in range(count)
    ]
    for step in steps:  # a caution of its own, last in its row, to be found again
        step["cautions"] = [*step["cautions"], f"mind {step['words'][5:7]} well."]
    changed = {**made, "options": [{**option, "steps": steps}, *made["options"][1:]]}
    pdf = pypdfium2.PdfDocument(plan_sheet_pdf(changed, "recommended", DAY))
    pages = [" ".join(page.get_textpage().get_text_range().split()) for page in pdf]
    last = pdf[len(pdf) - 1].get_textpage()
    boxes = (last.get_charbox(place) for place in range(last.count_chars()))
    lowest = min(box[1] for box in boxes if box[1] > 25 / 25.4 * 72)  # above the foot line
    pdf.close()
    for number in range(1, count + 1):
        (own,) = [page for page in pages if f"step {number:02d} of many" in page]
        assert f"mind {number:02d} well." in own
    (done,) = [page for page in pages if "all steps ticked, by" in page]
    assert "has another number and needs a new acceptance" in done
    # text runs from 24 mm below the upper edge to 21 mm above the lower
    assert len(pages) == 1 or (273 - lowest / 72 * 25.4) / 252 > 0.3


def test_of_settings_that_all_end_badly_the_fullest_is_taken():
    def lines(count: int, room: float = 1.0) -> Sheet:
        blocks = tuple(Paragraph(f"line {place}") for place in range(count))
        return Sheet("T", "U", "L", "R", "F", "", "end", blocks, room=room)

    # a page holds some fifty lines: three that end just over the edge of the second
    some = [lines(count) for count in (50, 54, 52)]
    endings = [ending_of(one) for one in some]
    assert [one.pages for one in endings] == [2, 2, 2]
    assert not any(one.is_good for one in endings)
    fullest = max(range(3), key=lambda place: endings[place].filled)
    assert fitted_pdf(some, DAY) == sheet_pdf(some[fullest], DAY)
    good = lines(30)
    assert fitted_pdf([*some, good, lines(20)], DAY) == sheet_pdf(good, DAY)
    with pytest.raises(PaperError, match="there is nothing on it"):
        fitted_pdf([], DAY)


def test_thousands_stand_apart_and_every_column_adds_up():
    made = json.loads(json.dumps(document()))
    for option in made["options"]:
        shown = {key: Decimal(option[key]) for key in (*(key for _, key in PIECES), "after")}
        assert sum((shown[key] for _, key in PIECES[1:]), Decimal(0)) == shown["after"]
        assert shown["price"] + shown["after"] == Decimal(option["total"])
        pieces = (Decimal(option[key]) for key in ("opening", "labour", "parts_price"))
        assert sum(pieces) == shown["price"]
        assert sum(Decimal(part["price"]) for part in option["parts"]) == Decimal(
            option["parts_price"]
        )
        for key in ("price", "after", "total"):
            option[key] = f"1{option[key].rjust(7, '0')}"
    made["options"][0].update(price="1234567.50", total="2234567.50")
    shown_price, raw = "1\u202f234\u202f567.50 EUR", "1234567.50 EUR"
    page, text = quote_html(made), quote_text(made)
    assert f'<p class="price"><small>you pay now</small> {shown_price}</p>' in page
    assert f"   you pay now: {shown_price}\n" in text
    assert f"\nprice: {raw}\n" in text  # what is sent back is for a program
    assert f'"recommended": "{raw}"' in page
    sheet = plan_sheet(made, "recommended", DAY)
    (facts,) = [one for one in sheet.blocks if isinstance(one, Facts)]
    assert ("Price", shown_price) in facts.rows
    # and however it is typed back, it is the same price
    said = parse_acceptance(
        f"acceptance of plan {made['number']}\noption: recommended\nprice: {shown_price}\n"
        "who: B.\nwhen: 2026-03-02\nhow: by message"
    )
    refuse_other_plan(of_plan(said, made), made, DAY)
