"""The live place in Chromium, before a made-up camera that plays a drawn sweep."""

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from importlib.resources import as_file
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from needlewright.families.folder import load_family
from needlewright.families.model import Family
from needlewright.records.opening import open_shop
from needlewright.records.runs import run_sheet
from needlewright.records.views import RunSheet
from web.live_bench import Drawn, clip, drawn_of, live_run, served_live, stands_at
from web.sheet_desk import DEMO, TAG
from web.test_axe import broken
from web.walking import (
    AXE,
    DESK,
    NO_AXE,
    PHONE,
    TABLET,
    WAIT_MS,
    needs_chromium,
    watched,
)
from web.walking import browser as chromium

pytestmark = needs_chromium
OTHER_FAMILY = Path(__file__).parents[1] / "data" / "families" / "fam-c"
FAKE = "--use-fake-device-for-media-stream"
ALLOW = "--use-fake-ui-for-media-stream"
KEEP_STREAM = """
const ask = navigator.mediaDevices.getUserMedia.bind(navigator.mediaDevices);
navigator.mediaDevices.getUserMedia = async (what) => (window.stream = await ask(what));
"""


@contextmanager
def before(video: Path) -> Iterator[Browser]:
    with chromium(FAKE, ALLOW, f"--use-file-for-fake-video-capture={video}") as opened:
        yield opened


@dataclass(frozen=True)
class At:
    """A served shop with a run that waits for its readings."""

    url: str
    place: str
    folder: Path
    run_id: int

    def run(self) -> RunSheet:
        with open_shop(self.folder) as shop:
            return run_sheet(shop, self.run_id)


@pytest.fixture
def at(tmp_path: Path) -> Iterator[At]:
    with live_run(tmp_path / "shop") as live:
        place, run_id = live.place, live.run_id
    with served_live(tmp_path / "shop") as url:
        yield At(url, place, tmp_path / "shop", run_id)


def family() -> Family:
    with as_file(DEMO / "family") as folder:
        return load_family(folder)


@pytest.fixture(scope="module")
def video(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return clip(tmp_path_factory.mktemp("clips") / "own.mjpeg", drawn_of(family()))


@pytest.fixture(scope="module")
def other_video(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("clips")
    return clip(folder / "other.mjpeg", Drawn(load_family(OTHER_FAMILY)))


def opened(context: BrowserContext, at: At, step: str = "") -> Page:
    page = context.new_page()
    page.goto(f"{at.url}{at.place}{step}")
    page.locator("#live[data-ready]").wait_for()
    return page


def steady(page: Page) -> None:
    page.locator("#live-take[aria-disabled=false]").wait_for(timeout=WAIT_MS)


def says(page: Page, words: str | re.Pattern[str]) -> None:
    expect(page.locator("#live-state")).to_contain_text(words, timeout=WAIT_MS)


def steady_values(page: Page) -> dict[str, str]:
    """What stands by each dial in one moment in which all stand; the clip moves on meanwhile."""
    found = page.wait_for_function(
        """() => document.querySelector("#live-take").ariaDisabled === "false" &&
        Object.fromEntries([...document.querySelectorAll("[data-dial]")].map(
          (one) => [one.dataset.dial, one.querySelector(".live-value").textContent]))""",
        timeout=WAIT_MS,
    )
    return dict(found.json_value())


def take(page: Page, by: Callable[[Page], None]) -> None:
    """Take what stands, again where the clip's needles began to move that very moment.

    A busy machine may have had too few frames of it, too; the page says to take again.
    """
    again = ("has not stood still", "too few frames", "not pressed")
    for _ in range(20):
        steady(page)
        by(page)  # does nothing where they began to move before it arrived
        said = page.wait_for_function(
            """() => document.querySelector(".live-took, #live-wrong .wrong")?.textContent ??
            (document.querySelector("#live-take").ariaDisabled === "false" && "not pressed")""",
            timeout=WAIT_MS,
        ).json_value()
        if not any(words in said for words in again):
            return
    raise AssertionError("the needles never stood long enough")


def write_down(page: Page) -> None:
    """Press until the needle is written down, for what `take` takes again for."""
    for _ in range(20):
        page.locator("#set-write[aria-disabled=false]").wait_for(timeout=WAIT_MS)
        page.click("#set-write")
        page.wait_for_function(
            """() => document.querySelector("#set-said").dataset.good === "true" ||
            document.querySelector("#set-write").ariaDisabled === "false" """,
            timeout=WAIT_MS,
        )
        if page.get_attribute("#set-said", "data-good") == "true":
            return
    raise AssertionError(f"not written down: {page.inner_text('#set-said')}")


def no_number(page: Page, why: str) -> None:
    """Wait for a moment in which it says why there is none, and none stands or can be taken."""
    page.wait_for_function(
        """(why) => new RegExp(why).test(document.querySelector("#live-state").textContent.trim())
        && [...document.querySelectorAll(".live-value")].map((one) => one.textContent.trim()).join()
           === "–,–,–,–" && document.querySelector("#live-take").ariaDisabled === "true" """,
        arg=why,
        timeout=WAIT_MS,
    )


def test_numbers_come_near_the_truth_and_take_makes_a_row(at: At, video: Path):
    with before(video) as browser:
        page = opened(browser.new_context(viewport=DESK), at)
        troubles = watched(page)
        no_number(page, "")
        page.keyboard.press("x")
        shown = steady_values(page)
        truth = stands_at(family())
        for dial in family().dials:
            words = shown[dial.id].replace("−", "-")
            value, expanded = (float(part) for part in words.split(" ± "))
            away = abs(value - dial.scale.value_at(truth[dial.id]))
            assert away < 1.5 * expanded, f"{dial.id}: further than three standard uncertainties"
        take(page, lambda page: page.keyboard.press("x"))
        expect(page.locator("[data-step][aria-current]")).to_have_attribute("data-step", "1")
        expect(page.locator('[data-step="0"] .live-step-state')).to_have_text("taken")
        expect(page.locator("#live-start:visible, #live-take:visible")).to_have_count(1)
        page.keyboard.press("s")
        no_number(page, r"^The picture is stopped\.")
        page.click(".back a")
        page.locator("#sheet[data-ready]").wait_for()
        expect(page.locator("#found-step-0 .step-state")).to_contain_text("read")
        assert troubles == []
    [photo] = at.run().photos
    assert (photo.step, photo.found, photo.name) == (0, True, "live-found-step-00.jpg")
    for reading in photo.readings:
        assert reading.angle_deg is not None
        assert reading.u_angle_deg is not None
        assert abs(reading.angle_deg - truth[reading.dial]) < 3 * reading.u_angle_deg + 0.05


def test_the_sheet_leads_to_the_live_place_of_a_step(at: At, video: Path):
    with before(video) as browser:
        page = browser.new_page()
        page.goto(f"{at.url}/jobs/{TAG}")
        page.locator("#sheet[data-ready]").wait_for()
        page.click("#found-step-2 a:has-text('Take it live')")
        page.locator("#live[data-ready]").wait_for()
        expect(page.locator("[data-step][aria-current]")).to_have_attribute("data-step", "2")


def test_a_camera_that_goes_or_stands_still_leaves_no_number(at: At, video: Path):
    with before(video) as browser:
        context = browser.new_context()
        context.add_init_script(KEEP_STREAM)
        page = opened(context, at)
        page.click("#live-start")
        steady(page)
        page.evaluate("stream.getVideoTracks()[0].stop()")  # no event: the picture just stays
        no_number(page, r"^No number: no picture came for \d+ s")
        page.click("#live-stop")
        page.click("#live-start")
        steady(page)
        page.evaluate("stream.getVideoTracks()[0].dispatchEvent(new Event('ended'))")
        no_number(page, r"The camera has gone\. Look at its cable")
        expect(page.locator("#live-start")).to_be_visible()
    assert at.run().photos == ()


def test_another_cluster_in_view_is_said_and_cannot_be_taken(at: At, other_video: Path):
    with before(other_video) as browser:
        page = opened(browser.new_context(), at)
        page.click("#live-start")
        why = r"^No number: (the face of this family|another face)"
        no_number(page, why)
        page.focus("#live-take")
        page.keyboard.press("Enter")
        no_number(page, why)
    assert at.run().photos == ()


def test_two_windows_do_not_take_the_same_step_twice(at: At, video: Path):
    with before(video) as browser:
        context = browser.new_context()
        first, second = opened(context, at), opened(context, at)
        for page in (first, second):
            page.bring_to_front()
            page.click("#live-start")
            take(page, lambda page: page.click("#live-take"))
        expect(first.locator(".live-took")).to_contain_text("Step 0 is taken")
        expect(second.locator("#live-wrong .wrong")).to_contain_text(
            "was taken in another window meanwhile; nothing was stored here"
        )
    assert [photo.step for photo in at.run().photos] == [0]


@pytest.mark.parametrize(
    ("flags", "words"),
    [
        ((ALLOW,), "There is no camera at this device."),
        ((FAKE,), "The browser was not allowed to use the camera."),
    ],
)
def test_no_camera_and_no_permission_are_said(at: At, flags: tuple[str, ...], words: str):
    with chromium(*flags) as browser:
        page = opened(browser.new_context(), at)
        page.click("#live-start")
        says(page, words)
        expect(page.locator("#live-start")).to_be_visible()
        no_number(page, "")


@pytest.mark.skipif(not AXE.is_file(), reason=NO_AXE)
def test_the_live_place_has_no_serious_violation_and_fits_every_screen(at: At, video: Path):
    with before(video) as browser:
        for light, size in (("light", DESK), ("dark", PHONE), ("light", TABLET)):
            context = browser.new_context(viewport=size, color_scheme=light, bypass_csp=True)
            page = opened(context, at)
            assert broken(page) == []
            page.click("#live-start")
            steady(page)
            assert broken(page) == []
            wide = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
            assert wide <= 0, f"wider than {size['width']} pixels"
            low = page.evaluate(
                """[...document.querySelectorAll('.live button, .live select')]
                .filter((one) => one.checkVisibility())
                .map((one) => one.getBoundingClientRect().height).filter((h) => h < 43.5)"""
            )
            assert low == []
            context.close()


def test_a_workbench_that_ends_leaves_no_number(tmp_path: Path, video: Path):
    with live_run(tmp_path / "shop") as live:
        place = live.place
    with before(video) as browser:
        with served_live(tmp_path / "shop") as url:
            at = At(url, place, tmp_path / "shop", live.run_id)
            page = opened(browser.new_context(), at)
            page.click("#live-start")
            steady(page)
        no_number(page, "^No number: the (line to the workbench broke off|workbench refused)")
