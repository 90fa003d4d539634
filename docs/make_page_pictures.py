"""Make the pictures of the page in README.md: `python docs/make_page_pictures.py`.

The invented shop is made, its photos are read, its jobs are led on by the records' own functions,
and Chromium without a window takes the pictures of the page as the command serves it. With
`--all FOLDER` every page is taken, at three widths, in the light and in the dark, to be looked at.
"""

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser, Page, sync_playwright

from needlewright.composing.demo_shop import make_demo_shop
from needlewright.composing.issuing import issue
from needlewright.composing.run_reading import read_stored_photos
from needlewright.records.jobs import edit_job
from needlewright.records.opening import Shop, open_shop
from needlewright.records.returning import record_return
from needlewright.records.stages import finish_stage

PICTURES = Path(__file__).parent / "pictures"
BY = "R. Example"
FOUND, WHOLE, EARLY, COLD = "EX-0412", "EX-0405", "EX-0415", "EX-0398"
"""Jobs of the invented shop: found out of order; with both runs; just come in; without a run."""
WIDTHS_PX = {390: 844, 820: 1180, 1400: 900}
WORK_DONE = [
    "engine: needle turned 3.4° clockwise",
    "speed: movement replaced",
    "fuel: movement replaced",
]
OPTIONS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


def nothing(_page: Page) -> None:
    """Take the page as it comes."""


def why(page: Page) -> None:
    """Ask for the reason of a number of the speedometer."""
    page.click("#found-dial-speed tbody tr >> nth=3 >> .shown a.why")
    page.locator("#aside .evidence img").evaluate("image => image.decode()")


def to(place: str) -> Callable[[Page], None]:
    """Scroll to a place of a sheet, under its head."""
    return lambda page: page.locator(place).evaluate("place => place.scrollIntoView()")


def steps(page: Page) -> None:
    """Open the photos of the run as found."""
    page.click("#found-steps > summary")
    to("#found-steps")(page)


def at_bench(page: Page) -> None:
    """Begin a run on the rehearsal cluster, or look on where it is begun, and hold it."""
    if page.locator("#found-at-bench").count():
        page.click("#found-at-bench a")
    else:
        page.get_by_role("link", name="Run at the bench").first.click()
        page.fill("#bench-key_ons", "0")
        page.click(".rehearsal-only > summary")
        page.fill("#bench-faults", "speed:backlash=1.5")
        page.get_by_role("button", name="Start the run").click()
        page.locator("#bench-rows tr[data-state=seen] >> nth=3").wait_for(timeout=120_000)
        page.click("#bench-pause")
    page.locator("#bench[data-phase=paused]").wait_for()
    page.locator(".bench-dial[data-dial=speed][data-state=steady]").wait_for()


@dataclass(frozen=True)
class Shot:
    """One picture: of which page, and what is done on it first."""

    name: str
    path: str
    do: Callable[[Page], None] = nothing


@dataclass(frozen=True)
class Shown:
    """A picture of the README."""

    shot: Shot
    width_px: int
    light: str = "light"


BEFORE = (
    Shot("shelf", ""),
    Shot("new-tag", "jobs/new"),
    Shot("families", "families"),
    Shot("family", "families/1"),
    Shot("shop", "shop"),
    Shot("phone", "phone"),
    Shot("keys", "keys"),
    Shot("received", f"jobs/{EARLY}", to("#part-received")),
    Shot("bench-check", f"jobs/{FOUND}"),
    Shot("steps-photos", f"jobs/{FOUND}", steps),
    Shot("why", f"jobs/{FOUND}", why),
    Shot("steps", f"jobs/{EARLY}/runs/found/steps"),
    Shot("report", f"jobs/{FOUND}/papers/report"),
    Shot("needles", f"jobs/{WHOLE}"),
)
"""While a job waits for its needles."""
AFTER = (
    Shot("final-check", f"jobs/{WHOLE}"),
    Shot("certificate", f"jobs/{WHOLE}/papers/certificate"),
)
"""When they are set."""
LAST = (
    Shot("returned", f"jobs/{WHOLE}", to("#part-returned")),
    Shot("bench-plan", f"jobs/{COLD}/bench/found"),
    Shot("bench", f"jobs/{COLD}", at_bench),
)
"""When the certificate is issued."""
README = (
    Shown(Shot("page-shelf", ""), 1400),
    Shown(Shot("page-why", f"jobs/{FOUND}", why), 1400),
    Shown(Shot("page-phone-needle", f"jobs/{WHOLE}", to("#needle-engine")), 390),
    Shown(Shot("page-phone-bench", f"jobs/{FOUND}", to("#found-dial-speed")), 390),
    Shown(Shot("page-phone-dark", f"jobs/{FOUND}", steps), 390, "dark"),
    Shown(Shot("page-bench", f"jobs/{COLD}", at_bench), 1400),
)


def main() -> None:
    """Do what the command line asks for."""
    asked = argparse.ArgumentParser(description="Take pictures of the page.")
    asked.add_argument("--all", type=Path, metavar="FOLDER", help="every page, to be looked at")
    take(asked.parse_args().all)


def take(folder: Path | None = None) -> None:
    """Take the README's pictures, or all of them into a folder."""
    with tempfile.TemporaryDirectory() as place:
        shop_folder = Path(place) / "shop"
        make_demo_shop(shop_folder)
        with open_shop(shop_folder) as shop:
            read_stored_photos(shop)
            finish_stage(shop, WHOLE, "bench_check", BY)
            with _served(shop_folder) as url, _browser() as browser:
                if folder is None:
                    _for_readme(browser, url)
                else:
                    folder.mkdir(parents=True, exist_ok=True)
                    _all(browser, url, shop, folder)


def _for_readme(browser: Browser, url: str) -> None:
    PICTURES.mkdir(exist_ok=True)
    for shown in README:
        png = _taken(browser, url, shown.shot, shown.width_px, shown.light, whole=False)
        picture = Image.open(BytesIO(png)).convert("RGB")
        path = PICTURES / f"{shown.shot.name}.webp"
        picture.save(path, quality=84, method=6)
        print(f"{path.name}  {path.stat().st_size / 1024:.0f} kB")


def _all(browser: Browser, url: str, shop: Shop, folder: Path) -> None:
    def take(shots: tuple[Shot, ...]) -> None:
        for shot in shots:
            for width_px in WIDTHS_PX:
                for light in ("light", "dark"):
                    png = _taken(browser, url, shot, width_px, light, whole=shot.do is nothing)
                    (folder / f"{shot.name}-{width_px}-{light}.png").write_bytes(png)

    take(BEFORE)
    edit_job(shop, WHOLE, {"work_done": WORK_DONE}, BY)
    finish_stage(shop, WHOLE, "needles", BY)
    record_return(shop, WHOLE, {"odometer_out": 184_213}, BY)
    take(AFTER)
    issue(shop, WHOLE, "certificate", by=BY)
    finish_stage(shop, WHOLE, "final_check", BY)
    take(LAST)


def _taken(
    browser: Browser, url: str, shot: Shot, width_px: int, light: str, *, whole: bool
) -> bytes:
    """One page as it looks at a width, in a light; `whole`: down to its foot."""
    size = {"width": width_px, "height": WIDTHS_PX[width_px]}
    is_phone = width_px < 500
    context = browser.new_context(
        viewport=size, color_scheme=light, has_touch=is_phone, is_mobile=is_phone
    )
    page = context.new_page()
    page.goto(url)
    with page.expect_navigation():
        page.select_option("#person", BY)
    page.goto(url + shot.path)
    if page.locator("#sheet").count():
        page.locator("#sheet[data-ready]").wait_for()
    shot.do(page)
    page.evaluate(
        "() => Promise.all([...document.images].filter(i => i.checkVisibility()).map(i => {"
        " i.loading = 'eager'; return i.decode().catch(() => null); }))"
    )
    shot_png = page.screenshot(full_page=whole)
    wider = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
    context.close()
    if wider > 0:
        raise RuntimeError(f"{shot.name}: {wider} px wider than a screen of {width_px}")
    return shot_png


@contextmanager
def _served(folder: Path) -> Iterator[str]:
    """The page served by the command; gives its address."""
    command = str(Path(sys.executable).with_name("needlewright"))
    words = [command, "serve", "--shop", str(folder), "--port", "0", "--json"]
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True) as process:
        try:
            yield _address(process)
        finally:
            process.terminate()
            process.wait(30)


def _address(process: "subprocess.Popen[str]") -> str:
    said = ""
    for line in process.stdout or ():
        said += line
        try:
            return str(json.loads(said)["url"])
        except ValueError:
            continue  # the document goes on
    raise RuntimeError(f"the page was not served: {said}")


@contextmanager
def _browser() -> Iterator[Browser]:
    named = os.environ.get("CHROMIUM")
    chromium = named or shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        raise SystemExit("there is no chromium here; install it, or name one in CHROMIUM")
    with sync_playwright() as play:
        opened = play.chromium.launch(executable_path=chromium, args=list(OPTIONS))
        try:
            yield opened
        finally:
            opened.close()


if __name__ == "__main__":
    main()
