"""Every page and state, held against axe-core's rules, in the light and in the dark."""

import json
import socket
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Thread

import pytest
import uvicorn
from playwright.sync_api import Browser, Page, expect

from composing.planned_work import SLIPS, WORN, planned
from needlewright.composing.issuing import issue
from needlewright.composing.kept_heights import SeenHeight, SeenIn, SentPhoto, keep_height
from needlewright.composing.rebuild import job_rebuild
from needlewright.readings.model import PhotoReadings
from needlewright.records.intake import receive
from needlewright.records.jobs import add_note, edit_job
from needlewright.records.plan_acceptances import accept_plan
from needlewright.records.plans import keep_plan
from needlewright.records.returning import record_return
from needlewright.records.run_photos import reject_photo
from needlewright.records.run_readings import store_outcome
from needlewright.records.stages import finish_stage
from needlewright.records.stock import receive as receive_parts
from needlewright.records.stock import use_part
from needlewright.records.stock_parts import add_part
from needlewright.web.app import create_app
from web.sheet_desk import TAG, Desk, desk, open_job, picture, received, taken_run
from web.walking import (
    AXE,
    DESK,
    NO_AXE,
    PHONE,
    browser,
    comes,
    needs_chromium,
)

pytestmark = [needs_chromium, pytest.mark.skipif(not AXE.is_file(), reason=NO_AXE)]
SERIOUS = ("serious", "critical")
EMPTY, WRONG, TAKEN, WHOLE, GONE, UNREAD = "EX-1", "EX-2", "EX-3", TAG, "EX-5", "EX-6"
REBUILT = "EX-7"


def fill(folder: Path) -> None:
    """Jobs in every part of the work."""
    with desk(folder, job=False) as at:
        for tag in (EMPTY, WRONG, TAKEN, WHOLE, GONE, UNREAD):
            open_job(at.shop, tag)
            edit_job(at.shop, tag, {"serial": f"INVENTED-{tag}"})
        add_note(at.shop, EMPTY, "a note")
        receive(at.shop, WRONG, {"sender": "A. Sample", "face_ok": False, "face_note": "mph"})
        for tag in (TAKEN, WHOLE, GONE, UNREAD):
            received(at.shop, tag)
        first, second, *_ = taken_run(at, "found", tag=UNREAD, mark=UNREAD).photos
        for photo in (first, second):
            store_outcome(at.shop, photo.id, PhotoReadings("x", False, "wrong_family", ()))
        reject_photo(at.shop, first.id, "the lamp burnt out")
        taken_run(at, "found", {"engine": -4.0}, read=6, tag=TAKEN)
        for tag in (WHOLE, GONE):
            taken_run(at, "found", {"engine": -4.0, "fuel": 1.5}, tag=tag, mark=tag)
            finish_stage(at.shop, tag, "bench_check")
        finish_stage(at.shop, GONE, "needles")
        taken_run(at, "left", {"engine": 0.03}, tag=GONE, mark=GONE)
        record_return(at.shop, GONE, {"odometer_out": 0})
        issue(at.shop, GONE, "certificate")
        finish_stage(at.shop, GONE, "final_check")
        rebuilt(at)


def rebuilt(at: Desk) -> None:
    """A job with new movements: planned, accepted, parts taken, a step done, a height kept."""
    open_job(at.shop, REBUILT)
    edit_job(at.shop, REBUILT, {"serial": "INVENTED-7"})
    received(at.shop, REBUILT)
    taken_run(at, "other", {"engine": 5.0, "temp": 8.0}, tag=REBUILT, mark=REBUILT)
    plan = planned(at.family, REBUILT, SLIPS | WORN)
    keep_plan(at.shop, REBUILT, plan)
    accept_plan(
        at.shop,
        REBUILT,
        plan["number"],
        option="recommended",
        who="A. Sample",
        when=at.shop.now().date(),
        how="on paper",
    )
    step = job_rebuild(at.shop, REBUILT).steps[0]
    assert at.post(f"/jobs/{REBUILT}/rebuild/tick", {"tick": step.key}).status_code == 303
    add_part(at.shop, {"code": "movement", "words": "movement", "reorder_point": 3})
    receive_parts(at.shop, "movement", 4, "EX-07", note="an invented supplier")
    use_part(at.shop, REBUILT, "movement", 1, why="fuel gauge")
    shots = [SentPhoto(f"{n}.jpg", picture(n)) for n in range(2)]
    seen = SeenHeight(3.0, 0.1, (SeenIn("0.jpg", 0.4), SeenIn("1.jpg", -0.4)), 1.5, 1)
    keep_height(at.shop, REBUILT, "engine", HEIGHT, seen, photos=shots)


HEIGHT = {"shaft": "6.0+-0.1", "face": "1", "hub": "6.5", "bore": "5", "blade": "0.4"}

PAGES = {
    "shelf": "",
    "families": "families",
    "family": "families/1",
    "shop": "shop",
    "phone": "phone",
    "keys": "keys",
    "new tag": "jobs/new",
    "empty sheet": f"jobs/{EMPTY}",
    "wrong unit": f"jobs/{WRONG}",
    "run under way": f"jobs/{TAKEN}",
    "photos not read": f"jobs/{UNREAD}",
    "needles": f"jobs/{WHOLE}",
    "odometer differs": f"jobs/{GONE}",
    "findings": f"jobs/{WHOLE}/findings",
    "steps": f"jobs/{WHOLE}/runs/left/steps",
    "typed steps": f"jobs/{WHOLE}/runs/left/steps?no_camera=1",
    "report": f"jobs/{WHOLE}/papers/report",
    "why a row": f"jobs/{WHOLE}/why/found/speed/3",
    "why a needle": f"jobs/{WHOLE}/why-needle/engine",
    "why the odometer": f"jobs/{GONE}/why-odometer",
    "nothing there": "jobs/NOBODY",
    "rebuilt": f"jobs/{REBUILT}",
    "plan": f"jobs/{REBUILT}/plan",
    "rebuild": f"jobs/{REBUILT}/rebuild",
    "stock": "shop/stock",
    "part": "shop/stock/movement",
    "stock of a job": f"jobs/{REBUILT}/stock",
    "needles pressed": f"jobs/{REBUILT}/needle-set",
    "needle height": f"jobs/{REBUILT}/needle-height?dial=engine",
    "burn-in": f"jobs/{REBUILT}/burn-in",
}

BY_PHONE = {
    *("needles", "odometer differs", "rebuilt", "plan", "rebuild", "stock", "part"),
    *("stock of a job", "needles pressed", "needle height", "burn-in"),
}
"""In the dark these are held against the rules on a phone."""


@pytest.fixture(scope="module")
def at(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Where it is served; nobody reads photos behind it, so that every page stays as it is."""
    folder = tmp_path_factory.mktemp("axe") / "shop"
    fill(folder)
    with served_unread(folder) as url:
        yield url


@pytest.fixture(scope="module")
def opened() -> Iterator[Browser]:
    with browser() as one:
        yield one


def broken(page: Page) -> list[str]:
    """Serious violations, with the elements they are at."""
    page.evaluate(AXE.read_text(encoding="utf-8"))
    found = page.evaluate(
        "async () => (await axe.run(document, {runOnly: ['wcag2a', 'wcag2aa', 'wcag21a',"
        " 'wcag21aa', 'wcag22aa', 'best-practice']})).violations.map(v => ({id: v.id, impact:"
        " v.impact, help: v.help, nodes: v.nodes.map(n => n.html.slice(0, 160))}))"
    )
    return [json.dumps(one) for one in found if one["impact"] in SERIOUS]


def unfold(page: Page) -> None:
    """Open every fold, those within others too."""
    page.evaluate("for (const one of document.querySelectorAll('details')) one.open = true")


@pytest.mark.parametrize("light", ["light", "dark"])
@pytest.mark.parametrize("name", PAGES)
def test_no_serious_violation(at: str, opened: Browser, name: str, light: str):
    width = PHONE if name in BY_PHONE and light == "dark" else DESK
    context = opened.new_context(viewport=width, color_scheme=light, bypass_csp=True)
    page = context.new_page()
    page.goto(at + PAGES[name])
    unfold(page)
    # As tall as the page: where a bar that stays in view covers a link, scrolling uncovers it.
    tall = page.evaluate("document.documentElement.scrollHeight")
    page.set_viewport_size({"width": width["width"], "height": max(tall, width["height"])})
    found = broken(page)
    wide = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
    context.close()
    assert found == []
    assert wide <= 0, "the page is wider than the screen"


def test_the_panel_of_a_why_has_no_serious_violation(at: str, opened: Browser):
    context = opened.new_context(viewport=DESK, bypass_csp=True)
    page = context.new_page()
    page.goto(f"{at}jobs/{WHOLE}")
    page.click("#part-bench_check > summary")
    page.click("#found-dial-speed tbody a.why >> nth=4")
    page.locator("#aside .why-answer").wait_for()
    assert broken(page) == []
    comes(page, "document.activeElement.closest('dialog') !== null")
    page.keyboard.press("Escape")
    page.locator("#aside").wait_for(state="hidden")
    comes(page, "document.activeElement.matches('a.why')")
    context.close()


@pytest.mark.parametrize("tag", [GONE, UNREAD])
def test_touch_targets_are_44_pixels(at: str, opened: Browser, tag: str):
    context = opened.new_context(viewport=PHONE, has_touch=True, is_mobile=True)
    page = context.new_page()
    page.goto(f"{at}jobs/{tag}")
    small = page.evaluate(
        """() => [...document.querySelectorAll('button, .button, summary, select, .tick, .next a')]
        .filter(one => one.checkVisibility() && !one.closest('noscript'))
        .map(one => [one.textContent.trim().slice(0, 40), one.getBoundingClientRect().height])
        .filter(([, height]) => height < 43.5)"""
    )
    context.close()
    assert small == []


@contextmanager
def served_unread(folder: Path) -> Iterator[str]:
    """The page with nobody reading photos behind it, so that a run under way stays so."""
    server = uvicorn.Server(
        uvicorn.Config(create_app(folder, read_photos=False), log_level="warning")
    )
    with socket.create_server(("127.0.0.1", 0)) as door:
        thread = Thread(target=server.run, kwargs={"sockets": [door]})
        thread.start()
        try:
            yield f"http://127.0.0.1:{door.getsockname()[1]}/"
        finally:
            server.should_exit = True
            thread.join(180)


FOCUSED = "document.activeElement.textContent.trim()"


def tab_to(page: Page, words: str) -> None:
    """Press Tab until the focus is at something that says so."""
    for _ in range(120):
        page.keyboard.press("Tab")
        if page.evaluate(FOCUSED) == words:
            return
    raise AssertionError(f"no Tab leads to {words!r}")


@pytest.mark.parametrize(("light", "size"), [("light", DESK), ("dark", PHONE)])
def test_reading_is_stopped_and_gone_on_with_by_keys(
    opened: Browser, tmp_path: Path, light: str, size: dict[str, int]
):
    with desk(tmp_path / "shop") as one:
        received(one.shop)
        taken_run(one, "found", read=5)
    with served_unread(tmp_path / "shop") as url:
        context = opened.new_context(viewport=size, color_scheme=light, bypass_csp=True)
        page = context.new_page()
        page.goto(f"{url}jobs/{TAG}")
        page.locator("#sheet[data-ready]").wait_for()
        page.focus("#part-bench_check > summary")
        for words, then in (
            ("Stop reading this run", "Read the rest"),
            ("Read the rest", "Stop reading this run"),
        ):
            tab_to(page, words)
            assert page.evaluate("document.activeElement.matches(':focus-visible')")
            assert broken(page) == []
            page.keyboard.press("Enter")
            page.locator("#found-run button", has_text=then).wait_for()
            expect(page.locator("#found-run button", has_text=words)).to_have_count(0)
            comes(page, f"{FOCUSED} === '{then}'")  # the focus stays where the hand was
            page.focus("#part-bench_check > summary")
        context.close()
