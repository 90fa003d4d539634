"""A desk with a job whose new movements were run, for tests of pressing: made once, then copied."""

import atexit
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path

from fastapi.testclient import TestClient

from needlewright.web.app import create_app
from web.sheet_desk import Desk, desk, received, taken_run

SEATS = {"engine": 5.0, "speed": -12.0, "temp": 8.0, "fuel": -4.0}
"""How far off the needles of that run sit, degrees: they were pushed on at any angle."""


@contextmanager
def moved_desk(folder: Path) -> Iterator[Desk]:
    """That job in a shop of its own, and a browser in front of it."""
    shutil.copytree(_made(), folder)
    app = create_app(folder, read_photos=False)
    with TestClient(app, base_url="http://127.0.0.1") as client:
        yield Desk(app.state.house.shop, client, folder)


@cache
def _made() -> Path:
    made = Path(tempfile.mkdtemp(prefix="needlewright-tests-"))
    atexit.register(shutil.rmtree, made, ignore_errors=True)
    with desk(made / "shop") as one:
        received(one.shop)
        taken_run(one, "other", SEATS)
    return made / "shop"
