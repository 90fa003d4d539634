"""A page on which families are drafted: small drawn photos, and taps a few pixels off."""

from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path
from threading import Event
from typing import Any

from PIL import Image

from needlewright.web.drafts_worker import DraftJob, draft_into
from readings.drafting.drawn_face import FUEL, SPEED, clicks, drawn
from web.bench_page import Browser, page

APART_MM = "54.4"
"""From hub to hub of the drawn dials: 272 px at 5 px a millimetre, to a tenth."""


def photo_of(**how: Any) -> bytes:
    """The drawn face as a PNG."""
    out = BytesIO()
    Image.fromarray(drawn(**how)[:, :, ::-1]).save(out, "PNG")
    return out.getvalue()


def here(job: DraftJob, folder: Path, stopped: Event) -> None:
    """Drafts in this process."""
    del stopped
    draft_into(job, folder)


@contextmanager
def drafting(folder: Path) -> Iterator[Browser]:
    """The page of a shop that drafts without a process of its own."""
    with page(folder) as browser:
        browser.house.drafts.run = here
        yield browser


def typed_form() -> dict[str, Any]:
    """What a hand taps and types on the drawn face: hubs and two marks of each dial."""
    dials = [
        {
            "key": f"d{number}",
            "id": dial.id,
            "quantity": "",
            "unit": dial.unit,
            "hub": list(dial.hub_px),
            "marks": [{"at": list(mark.at_px), "value": f"{mark.value:g}"} for mark in dial.marks],
        }
        for number, dial in enumerate(clicks().dials, 1)
    ]
    return {
        "name": "Drawn one",
        "bare": True,
        "size": "dials",
        "length": APART_MM,
        "between": ["d1", "d2"],
        "dials": dials,
    }


class Drafting:
    """One draft on the page, told as its scripts tell it."""

    def __init__(self, browser: Browser, *photos: bytes) -> None:
        self.browser = browser
        files = [("photos", (f"p{n}.png", one, "image/png")) for n, one in enumerate(photos)]
        answer = browser.post("/drafts", {"name": "Drawn one"}, files=files)
        assert answer.status_code == 303, answer.text
        self.at = answer.headers["location"]
        self.state: dict[str, Any] = browser.send("GET", f"{self.at}/state").json()

    def send(self, what: str, **facts: Any) -> Any:
        """Do one thing; the answer, whose state is kept where it was done."""
        body = {"serial": self.state["serial"], **facts}
        answer = self.browser.send("POST", f"{self.at}/{what}", body)
        if answer.status_code == 200:
            self.state = answer.json()
        return answer

    def look(self) -> dict[str, Any]:
        """The draft once nothing is drafted any more."""
        desk = self.browser.house.drafts
        hand = desk._in_hand.get(self.at.rpartition("/")[2])
        if hand is not None and hand.thread is not None:
            hand.thread.join()
        self.state = self.browser.send("GET", f"{self.at}/state").json()
        return self.state

    def wrongs(self) -> dict[str, str]:
        """What is wrong, by its place."""
        return {one["place"]: one["what"] for one in self.state["wrongs"]}


__all__ = ["FUEL", "SPEED", "Drafting", "drafting", "photo_of", "typed_form"]
