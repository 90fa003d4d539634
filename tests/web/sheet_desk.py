"""A desk for tests of the job sheet: a shop with the demonstration's family, and a browser."""

import atexit
import re
import shutil
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from importlib.resources import as_file, files
from io import BytesIO
from pathlib import Path

import numpy as np
from fastapi.testclient import TestClient
from httpx2 import Response
from PIL import Image

from needlewright.composing.steps import proposed_steps
from needlewright.families.model import Dial, Family
from needlewright.readings.batch import PictureProblem
from needlewright.readings.model import PhotoReadings, Reading
from needlewright.readings.projection import Projection
from needlewright.records.families import families, keep_family, load_version
from needlewright.records.intake import receive
from needlewright.records.jobs import new_job
from needlewright.records.opening import Shop, open_shop
from needlewright.records.run_photos import add_run_photo
from needlewright.records.run_readings import store_outcome
from needlewright.records.runs import run_sheet, start_run
from needlewright.records.shop import add_instrument, add_person, change_settings
from needlewright.records.stages import finish_stage
from needlewright.records.views import RunPhotoView, RunSheet
from needlewright.records.words import RunSide
from needlewright.web.app import create_app
from needlewright.web.live_desk import LiveDesk

TAG = "EX-0412"
BY = "R. Example"
DEMO = files("needlewright") / "demo_data"
RIGHT_UNIT = {f"{what}_ok": True for what in ("family", "variant", "face", "connector")}


@dataclass
class Desk:
    """A shop, and a browser in front of it."""

    shop: Shop
    client: TestClient
    folder: Path

    def get(self, address: str = f"/jobs/{TAG}") -> str:
        """A page that can be shown."""
        answer = self.client.get(address)
        assert answer.status_code == 200, answer.text[:400]
        return answer.text

    def token(self) -> str:
        """The form token of this browser."""
        found = re.search(r'name="form-token" content="([^"]+)"', self.get("/keys"))
        assert found
        return found.group(1)

    def post(self, address: str, fields: dict | None = None, **more: object) -> Response:
        """Send a form as a browser without scripts does; redirections are not followed."""
        return self.client.post(
            address,
            data={"form_token": self.token(), **(fields or {})},
            follow_redirects=False,
            headers={"accept": "text/html"},
            **more,
        )

    def script(self, address: str, fields: dict | None = None, **more: object) -> Response:
        """Send a form as the page's scripts do."""
        headers = {"accept": "application/json", "x-form-token": self.token()}
        return self.client.post(address, data=fields or {}, headers=headers, **more)

    @property
    def family(self) -> Family:
        """The demonstration's."""
        return load_version(self.shop, families(self.shop)[0].version_id)


@contextmanager
def desk(folder: Path, *, job: bool = True, live_desk: LiveDesk | None = None) -> Iterator[Desk]:
    """A shop with a person, an instrument and, unless told otherwise, one new job."""
    shutil.copytree(_furnished(), folder, dirs_exist_ok=True)
    app = create_app(folder, read_photos=False, live_desk=live_desk)
    with TestClient(app, base_url="http://127.0.0.1") as client:
        shop = app.state.house.shop
        if job:
            open_job(shop)
        yield Desk(shop, client, folder)


@cache
def _furnished() -> Path:
    """The shop as it is before any job, made once: making one takes longer than most tests."""
    made = Path(tempfile.mkdtemp(prefix="needlewright-tests-"))
    atexit.register(shutil.rmtree, made, ignore_errors=True)
    with open_shop(made / "shop") as shop, as_file(DEMO / "family") as family:
        add_person(shop, BY)
        change_settings(
            shop,
            {
                "name": "Example Instrument Bench",
                "place": "1 Example Yard, Nowhere",
                "authorised_by": "R. Example, bench lead",
                "invented": True,
            },
        )
        add_instrument(shop, "thermometer", "EX-T1")
        keep_family(shop, family)
    return made / "shop"


def open_job(shop: Shop, tag: str = TAG) -> None:
    """A new tag."""
    new_job(
        shop,
        {
            "tag": tag,
            "family": "invented-estate",
            "serial": "INVENTED-771",
            "variant": "kmh-220",
            "owner": "A. Sample",
            "vehicle": "an invented estate car",
            "complaint": "speedometer reads low",
        },
    )


def received(shop: Shop, tag: str = TAG, **changes: object) -> None:
    """Received and finished."""
    receive(
        shop,
        tag,
        {
            "sender": "A. Sample",
            "condition": "lens scratched",
            "contents": [{"what": "cluster", "ticked": True}],
            "odometer_in": 771627,
            **RIGHT_UNIT,
            **changes,
        },
    )
    finish_stage(shop, tag, "received")


def picture(number: int) -> bytes:
    """A small JPEG that no other number gives."""
    pixels = np.full((96, 128, 3), 40 + number % 200, np.uint8)
    pixels[:, number % 128] = 255 - number // 128
    stream = BytesIO()
    Image.fromarray(pixels).save(stream, "JPEG")
    return stream.getvalue()


def taken_run(
    desk: Desk,
    side: RunSide = "found",
    offsets_deg: dict[str, float] | None = None,
    *,
    read: int | None = None,
    tag: str = TAG,
    mark: str = "",
) -> RunSheet:
    """A run with a photo for every step; the first `read` show a sound unit plus offsets."""
    rows = proposed_steps(desk.family)
    run = start_run(desk.shop, tag, side, rows)
    steps = list(dict.fromkeys(row.step for row in rows))
    base = {"found": 0, "left": 1000}.get(side, 2000) + sum(mark.encode())
    for count, step in enumerate(steps):
        photo = add_run_photo(desk.shop, run.id, picture(base + step), f"{step:02}.jpg", step=step)
        if read is None or count < read:
            told = {row.dial: row.commanded for row in rows if row.step == step}
            store_outcome(desk.shop, photo.id, outcome(desk.family, told, offsets_deg or {}))
    return run_sheet(desk.shop, run.id)


def outcome(
    family: Family, told: dict[str, float | None], offsets_deg: dict[str, float]
) -> PhotoReadings:
    """What a reader says of a photo in which every needle stands off its programme by an offset."""
    readings = tuple(
        _reading(dial, told[dial.id], offsets_deg.get(dial.id, 0.0), family)
        for dial in family.dials
    )
    projection = Projection(np.eye(3), 0.0, (64.0, 48.0), 80.0)
    return PhotoReadings("photo.jpg", True, None, readings, projection)


def _reading(dial: Dial, told: float | None, offset_deg: float, family: Family) -> Reading:
    angle = dial.rest_angle_deg if told is None else dial.programme_angle_deg(told)
    angle += offset_deg
    slope = abs(dial.scale.slope_at(angle))
    u_value = slope * np.hypot(0.05, np.degrees(family.eccentricity_mm / dial.needle.length_mm))
    return Reading(
        dial.id,
        "read",
        dial.unit,
        angle_deg=angle,
        u_angle_deg=0.05,
        value=dial.scale.value_at(angle),
        u_value=float(u_value),
        offset_mm=0.0,
        components_deg=(("fit", 0.03), ("registration", 0.04)),
        line_px=((10.0, 10.0), (50.0, 50.0)),
    )


def unusable(desk: Desk, photo: RunPhotoView) -> None:
    """The reader could not open the photo."""
    store_outcome(desk.shop, photo.id, PictureProblem("x", "x: is no picture; take it again"))


def to_needles(desk: Desk, offsets_deg: dict[str, float] | None = None) -> None:
    """A job whose bench check is finished."""
    received(desk.shop)
    taken_run(desk, "found", offsets_deg)
    finish_stage(desk.shop, TAG, "bench_check")


def next_words(page: str) -> str:
    """What the one filled button says, or the words in its place."""
    found = re.search(r'id="next-thing">(.*?)</div>', page, re.DOTALL)
    assert found
    return " ".join(re.sub(r"<[^>]+>", " ", found.group(1)).split())


def part_of(page: str, start: str, end: str = "</details>") -> str:
    """A piece of a page."""
    return page.split(start, 1)[1].split(end, 1)[0]


def words_of(html: str) -> str:
    """What a person reads of some HTML."""
    return " ".join(re.sub(r"<[^>]+>", " ", html).split())


def sound_run_left(desk: Desk) -> None:
    """The run as left of a sound unit, and the odometer as it came."""
    taken_run(desk, "left", {"engine": 0.02})


def typed_lines(rows: Sequence[dict[str, str]]) -> dict[str, str]:
    """A table of steps as the form sends it."""
    fields: dict[str, str] = {}
    for number, row in enumerate(rows):
        for name, value in row.items():
            fields[f"step-{number}-{name}"] = value
    return fields
