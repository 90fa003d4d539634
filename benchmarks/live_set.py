"""How often a needle's target is renewed: `python benchmarks/live_set.py`, printed as a table.

The page in Chromium before its made-up camera, which plays a drawn sweep round and round; a
needle is being set, its target is drawn over the picture and the sound is on. Counted is what the
panel was told in the browser, so picture, line, reading, drawing and sound are all in it. Browser,
workbench and camera share this machine.
"""

import os
import shutil
import sys
from pathlib import Path
from tempfile import TemporaryDirectory
from time import monotonic
from typing import Final

sys.path.insert(0, str(Path(__file__).parents[1]))

import cv2
from playwright.sync_api import Page, sync_playwright
from rich.console import Console
from rich.table import Table

from benchmarks.live import LEAST_RATE, QUALITY, SECONDS, TAG, drawn, served, shop_with_run
from needlewright.families.model import Family

SIZES: Final = ((640, 360), (1280, 720))
WAIT_MS: Final = 60_000
FLAGS: Final = (
    "--no-sandbox",
    "--use-fake-device-for-media-stream",
    "--use-fake-ui-for-media-stream",
)


def clip(folder: Path, family: Family, size: tuple[int, int]) -> Path:
    """What the made-up camera plays."""
    options = [cv2.IMWRITE_JPEG_QUALITY, QUALITY]
    frames = [cv2.imencode(".jpg", frame, options)[1].tobytes() for frame in drawn(family, size)]
    path = folder / f"{size[0]}.mjpeg"
    path.write_bytes(b"".join(frames))
    return path


def updates_a_second(page: Page, url: str, run_id: int) -> float:
    """While one needle is being set, its sound on."""
    page.goto(f"{url.rstrip('/')}/jobs/{TAG}/run/{run_id}/live?step=2")
    page.locator("#live[data-ready]").wait_for()
    page.click("#set-mode")
    page.click("#set-sound")
    page.click("#live-start")
    page.wait_for_function(
        "() => document.getElementById('set-panel').dataset.updates > 20", timeout=WAIT_MS
    )
    begun, first = monotonic(), _count(page)
    page.wait_for_timeout(1000 * SECONDS)
    return (_count(page) - first) / (monotonic() - begun)


def _count(page: Page) -> int:
    return int(page.get_attribute("#set-panel", "data-updates") or 0)


def main() -> None:
    """Measure and print; the exit code says whether the figure holds."""
    browser = os.environ.get("CHROMIUM") or shutil.which("chromium")
    table = Table(title="a needle being set, in Chromium", title_justify="left")
    table.add_column("picture")
    table.add_column("updates a second", justify="right")
    rates = []
    with shop_with_run() as (folder, run_id, family), TemporaryDirectory() as clips:
        for size in SIZES:
            video = clip(Path(clips), family, size)
            flags = [*FLAGS, f"--use-file-for-fake-video-capture={video}"]
            with served(folder) as url, sync_playwright() as play:
                opened = play.chromium.launch(executable_path=browser, args=flags)
                rates.append(updates_a_second(opened.new_page(), url, run_id))
                opened.close()
            table.add_row(f"{size[0]} x {size[1]}", f"{rates[-1]:.1f}")
    console = Console(width=100)
    console.print(table)
    console.print(f"required: {LEAST_RATE:.0f} updates a second")
    sys.exit(1 if min(rates) < LEAST_RATE else 0)


if __name__ == "__main__":
    main()
