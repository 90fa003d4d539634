"""A job from its findings to its pressed needles by the forms of the page, and its sheet after."""

import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import pytest

from needlewright.composing.job_press import job_press
from needlewright.composing.rebuild import job_rebuild
from needlewright.records.plans import plan_of_job
from needlewright.records.stock import parts_of_job, stock_part
from web.sheet_desk import TAG, Desk, desk, next_words, part_of, taken_run, to_needles, words_of

AT = f"/jobs/{TAG}"
TERMS = {"built": "2012", "warranty": "24", "horizon": "6"}


@pytest.fixture
def one(tmp_path: Path) -> Iterator[Desk]:
    with desk(tmp_path / "shop") as opened:
        to_needles(opened, {"speed": -6.0})
        yield opened


def sent(one: Desk, address: str, fields: dict[str, str], where: str) -> None:
    """A form that is saved leads on to a place of the page."""
    answer = one.post(address, fields)
    wrong = [words_of(w) for w in re.findall(r'class="what">(.*?)</p>', answer.text, re.DOTALL)]
    assert (answer.status_code, answer.headers.get("location")) == (303, where), wrong


def carried(page: str, form: str) -> dict[str, str]:
    """What a form of the page sends along unseen."""
    inside = part_of(page, f'action="{form}"', "</form>")
    found = re.findall(r'type="hidden" name="([^"]+)" value="([^"]*)"', inside)
    return {name: value for name, value in found if name != "form_token"}


def result(page: str, part: str) -> str:
    return unescape(words_of(part_of(page, f'id="result-{part}">', "</summary>")))


def agreed(one: Desk) -> str:
    """Decided, planned, accepted; what the sheet says of the plan."""
    decided = {"form": "decide-card-speed", "subject": "speed", "cause": "lost_steps"}
    why = {"why": "seen slipping", "part": "movement"}
    sent(one, f"{AT}/findings/decide", decided | why, f"{AT}/findings#decide-card-speed")
    assert next_words(one.get()) == "Make the plan"
    sent(one, f"{AT}/plan", TERMS, f"{AT}/plan#stands")
    plan = plan_of_job(one.shop, TAG)
    assert plan is not None
    option = next(o for o in plan.document["options"] if o["id"] == "recommended")
    day = one.shop.now().astimezone().date()
    yes = {"option": "recommended", "who": "A. Sample", "when": f"{day}", "how": "by message"}
    sent(one, f"{AT}/plan/accept", yes | {"number": plan.number}, f"{AT}/plan#stands")
    return f"{option['price']} EUR, accepted by A. Sample, {day.day} {day:%B %Y}"


def part_used(one: Desk, replaced: int) -> None:
    """A delivery taken in, and of it what the plan needs."""
    part = {"code": "movement", "words": "movement", "reorder_point": "1", "place": "A3"}
    sent(one, "/shop/stock", part, "/shop/stock/movement#part")
    came = carried(one.get("/shop/stock/movement"), "/shop/stock/movement/receive")
    came |= {"count": "5", "mark": "B7"}
    assert one.post("/shop/stock/movement/receive", came).status_code == 303
    assert stock_part(one.shop, "movement").on_hand == 5
    use = carried(one.get(f"{AT}/rebuild"), f"{AT}/rebuild/use")
    assert (use["part"], use["count"]) == ("movement", str(replaced))
    sent(one, f"{AT}/rebuild/use", use, f"{AT}/rebuild#parts")
    fitted = [(u.part, u.count, u.batch) for u in parts_of_job(one.shop, TAG)]
    assert fitted == [("movement", replaced, "B7")]
    assert stock_part(one.shop, "movement").on_hand == 5 - replaced


def test_from_findings_to_pressed_needles(one: Desk) -> None:
    accepted = agreed(one)
    work = job_rebuild(one.shop, TAG)
    assert work is not None
    replaced = sum(step.key.startswith("work:replace_movement:") for step in work.steps)
    assert replaced >= 1
    part_used(one, replaced)
    for step in work.steps:
        sent(one, f"{AT}/rebuild/tick", {"tick": step.key}, f"{AT}/rebuild#steps")

    taken_run(one, "other", {"speed": 9.0})  # any needle, pushed onto the new movement lightly
    press = job_press(one.shop, TAG)
    speed = next(d for d in press.dials if d.dial.id == "speed")
    assert speed.planned.press is not None
    assert press.chance is not None
    shown, chance = words_of(one.get(f"{AT}/needle-set")), f"{100 * press.chance:.0f} %"
    assert f"{speed.planned.press.reference.press_deg:.2f}°".replace("-", "−") in shown
    assert f"Expected pass of all 4 dials: {chance}" in shown

    page, count = one.get(), len(work.steps)
    assert result(page, "plan") == f"done: recommended, {accepted}"
    assert result(page, "rebuild") == f"done: all {count} steps done"
    assert f"expected pass {chance}" in words_of(part_of(page, 'id="press"', "</section>"))
    for place in ("Plan", "Rebuild"):
        entry = re.search(
            rf'<li data-state="(\w+)"><a [^>]*>{place}<span class="state">(\w+)</span></a></li>',
            page,
        )
        assert entry
        assert entry.groups() == ("finished", "done")
