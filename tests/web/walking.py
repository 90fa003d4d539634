"""A workbench that is served, and a browser in front of it."""

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from importlib.resources import as_file, files
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect, sync_playwright

from needlewright.records.families import keep_family
from needlewright.records.opening import open_shop
from needlewright.records.shop import add_instrument, add_person, change_settings

CHROMIUM = (
    os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
)
DEMO = Path(str(files("needlewright") / "demo_data"))
AXE = Path(__file__).parent / "node_modules" / "axe-core" / "axe.min.js"
NO_CHROMIUM = "there is no chromium here; make test installs it, or name one in CHROMIUM"
NO_AXE = "axe-core is not installed: npm is absent; make test installs it where npm is there"
PHONE = {"width": 390, "height": 844}
TABLET = {"width": 820, "height": 1180}
DESK = {"width": 1400, "height": 900}
WAIT_MS = 180_000
"""For reading photos on a slow machine; nothing is judged by the clock."""
expect.set_options(timeout=WAIT_MS)  # its own five seconds are short where all cores are taken

needs_chromium = pytest.mark.skipif(CHROMIUM is None, reason=NO_CHROMIUM)


@dataclass(frozen=True)
class Served:
    """Where the page is, and the code a phone types."""

    url: str
    code: str | None
    folder: Path


def make_shop(folder: Path) -> None:
    """A shop with the demonstration's family, one person and one instrument."""
    with open_shop(folder) as shop, as_file(files("needlewright") / "demo_data") as data:
        add_person(shop, "R. Example")
        add_instrument(shop, "thermometer", "EX-T1")
        change_settings(
            shop,
            {
                "name": "Example Instrument Bench",
                "place": "1 Example Yard, Nowhere",
                "authorised_by": "R. Example, bench lead",
                "invented": True,
            },
        )
        keep_family(shop, data / "family")


@contextmanager
def served(folder: Path, *options: str) -> Iterator[Served]:
    """The page served by the command, as a technician starts it."""
    command = Path(sys.executable).with_name("needlewright")
    words = [str(command), "serve", "--shop", str(folder), "--port", "0", "--json", *options]
    environment = {**os.environ, "PYTHONUNBUFFERED": "1"}
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True, env=environment) as process:
        try:
            yield Served(*_announced(process), folder)
        finally:
            process.terminate()
            process.wait(WAIT_MS / 1000)


def _announced(process: "subprocess.Popen[str]") -> tuple[str, str | None]:
    said = ""
    assert process.stdout is not None
    for line in process.stdout:
        said += line
        try:
            document = json.loads(said)
        except ValueError:
            continue
        return document["url"], document["pass_code"]
    raise AssertionError(f"the page was not served: {said}")


@contextmanager
def browser(*flags: str) -> Iterator[Browser]:
    """Chromium without a window, which is waited for as long as a slow machine takes."""
    with sync_playwright() as play:
        opened = play.chromium.launch(
            executable_path=CHROMIUM, args=["--no-sandbox", *flags], timeout=WAIT_MS
        )
        opened.on("context", lambda one: one.set_default_timeout(WAIT_MS))
        try:
            yield opened
        finally:
            opened.close()


def comes(page: Page, holds: str) -> None:
    """Wait until something holds on the page: what it does by itself may come a moment later."""
    page.wait_for_function(f"() => {holds}", timeout=WAIT_MS)


def watched(page: Page) -> list[str]:
    """What goes wrong in a page's scripts and requests, as it happens."""
    troubles: list[str] = []
    page.on("pageerror", lambda error: troubles.append(f"script: {error}"))
    page.on(
        "console",
        lambda said: troubles.append(f"console: {said.text}") if said.type == "error" else None,
    )
    return troubles


def next_is(page: Page, words: str) -> None:
    """Wait until the one next thing says so."""
    page.locator("#sheet[data-ready] #next-thing", has_text=words).wait_for(timeout=WAIT_MS)


def typed(page: Page, field: str, text: str) -> None:
    """Type and leave the field, as a hand does."""
    page.fill(field, text)
    page.press(field, "Tab")


def photos_of(run: str) -> list[str]:
    """The demonstration's photos of a run."""
    return [str(photo) for photo in sorted((DEMO / run).glob("*.jpg"))]


def table_of(run: str) -> str:
    """The demonstration's table of commands of a run."""
    return str(DEMO / run / "commands.csv")
