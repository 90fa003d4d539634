"""No address below a job shows or changes what is another job's."""

import hashlib
from collections.abc import Iterator
from typing import Any

import pytest
from fastapi.routing import APIRoute, APIWebSocketRoute
from sqlalchemy import text

from needlewright.records import burn_ins
from needlewright.records.board import add_board_photo
from needlewright.records.intake import add_job_photo
from needlewright.records.sweeps import add_sweep
from needlewright.records.tick_lines import SheetLine
from needlewright.records.ticks import write_note
from needlewright.web.app import every_address
from needlewright.web.own_job import Named, named_in
from web.live_lines import LINES, OWN
from web.sheet_desk import TAG, Desk, desk, open_job, picture, received, taken_run
from web.test_sweeps import CLIP

OTHER = "EX-9"


def addresses() -> list[tuple[str, str]]:
    """Every method and address below a job that names something of it by a number."""
    found = []

    def walk(routes: Any) -> None:
        for route in routes:
            if isinstance(route, APIRoute | APIWebSocketRoute) and "_id}" in route.path:
                methods = sorted(route.methods) if isinstance(route, APIRoute) else ["LINE"]
                found.extend((method, route.path) for method in methods)
            inner = getattr(route, "original_router", None) or getattr(route, "router", None)
            if inner is not None:
                walk(inner.routes)

    walk(every_address())
    return sorted(one for one in found if one[1].startswith("/jobs/{tag}/"))


@pytest.fixture(scope="module")
def two(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Desk, dict[str, int]]]:
    """A job that has one of everything, another that has nothing, and the numbers of the first."""
    with desk(tmp_path_factory.mktemp("own") / "shop") as one:
        shop = one.shop
        received(shop)
        open_job(shop, OTHER)
        received(shop, OTHER)
        run = taken_run(one)
        photo = run.photos[0]
        before = add_board_photo(shop, TAG, picture(3000), "b.jpg", side="front", moment="before")
        after = add_board_photo(shop, TAG, picture(3001), "a.jpg", side="front", moment="after")
        kept = add_job_photo(shop, TAG, picture(3002), "c.jpg", stage="received", kind="damage")
        note = write_note(shop, TAG, SheetLine("refit", "airbag", "wait"), "noted")
        sweep = add_sweep(shop, TAG, CLIP.read_bytes(), "s.mp4")
        new = burn_ins.NewBurnIn("INVENTED-771", "rehearsed, sound", {"hours": 1.0}, {})
        yield (
            one,
            {
                "run_id": run.id,
                "photo_id": photo.id,
                "reading_id": photo.readings[0].id,
                "before_id": before.id,
                "after_id": after.id,
                "job_photo": kept.id,
                "note_id": note.id,
                "sweep_id": sweep.id,
                "burn_in_id": burn_ins.begin(shop, TAG, new).id,
            },
        )


def place(route: str, tag: str, ids: dict[str, int]) -> str:
    own = dict(ids)
    if route.startswith("/jobs/{tag}/photos/"):
        own["photo_id"] = ids["job_photo"]
    elif route.startswith("/jobs/{tag}/board/"):
        own["photo_id"] = ids["before_id"]
    at = route.replace("{tag}", tag).replace("{dial}", "speed")
    for name, number in own.items():
        at = at.replace(f"{{{name}}}", str(number))
    assert "{" not in at, f"{route}: say in this test which number is meant"
    return at


def stored(one: Desk) -> str:
    """Everything that is written down, in one number."""
    with one.shop.reading() as session:
        names = session.scalars(text("SELECT name FROM sqlite_master WHERE type = 'table'")).all()
        rows = [session.execute(text(f'SELECT * FROM "{name}"')).all() for name in names]
    return hashlib.sha256(repr(rows).encode()).hexdigest()


@pytest.mark.parametrize(("method", "route"), addresses(), ids=lambda one: one.strip("/"))
def test_another_jobs_number_is_not_there(
    two: tuple[Desk, dict[str, int]], method: str, route: str
):
    one, ids = two
    at, before = place(route, OTHER, ids), stored(one)
    if method == "LINE":
        with one.client.websocket_connect(f"{LINES}{at}", headers=OWN) as opened:
            opened.send_json({"token": one.token(), "source": "browser"})
            said = opened.receive_json()
        assert f"has no run {ids['run_id']}" in said["wrong"]["what"]
        return
    headers = {"accept": "application/json", "x-form-token": one.token()}
    answer = one.client.request(method, at, headers=headers, follow_redirects=False)
    assert answer.status_code == 404, answer.text[:300]
    error = answer.json()["error"]
    assert error["what"]
    assert TAG not in str(error)  # nor is it said whose it is
    assert stored(one) == before


def test_a_photo_is_opened_at_the_run_it_is_of(two: tuple[Desk, dict[str, int]]):
    one, ids = two
    second = taken_run(one, "left", read=0)
    at = f"/jobs/{TAG}/run/{second.id}/photos/{ids['photo_id']}/speed.jpg"
    said = one.client.get(at, headers={"accept": "application/json"})
    assert said.status_code == 404
    assert f"has no photo {ids['photo_id']}" in said.json()["error"]["what"]


def test_what_is_asked_for_is_taken_out_of_the_address():
    given = {"tag": "T", "run_id": "7", "photo_id": "8"}
    assert named_in("/jobs/{tag}/run/{run_id}/photos/{photo_id}", given) == Named(7, 8)
    assert named_in("/jobs/{tag}/photos/{photo_id}/off", given | {"run_id": ""}) == Named(
        run_photo=8, job_photo=8
    )
    assert named_in("/jobs/{tag}/run/{run_id}", {"tag": "T", "run_id": "x"}) is None
    assert named_in("/papers/{name}/{part}", {"name": "T"}) is None
