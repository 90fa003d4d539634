"""Sweep videos in the records: kept as they came, followed once, taken back by undo."""

import hashlib
from collections.abc import Iterator
from pathlib import Path

import pytest

from needlewright.errors import ConflictError, NotThereError, PictureError, RecordError
from needlewright.records.families import keep_family
from needlewright.records.jobs import new_job
from needlewright.records.opening import Shop, open_shop
from needlewright.records.shop import add_person, check_shop
from needlewright.records.sweeps import (
    MAX_BYTES,
    add_sweep,
    followed_sweep,
    store_sweep,
    sweeps_of,
    sweeps_to_follow,
)
from needlewright.records.undo import undo_last

DATA = Path(__file__).parents[1] / "data"
CLIP = DATA / "videos" / "dev-lost-steps.mp4"
OTHER_CLIP = DATA / "videos" / "dev-healthy.mp4"
DOCUMENT = {
    "frames": [{"t_s": 0.0, "dials": {"speed": {"angle_deg": 1.5, "u_angle_deg": 0.1}}}],
    "events": [
        {"t_s": 0.0, "dial": "speed", "fault": "lost_steps", "size_deg": 2.0, "u_size_deg": 0.1}
    ],
    "summary": {},
}


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    with open_shop(tmp_path / "shop") as opened:
        add_person(opened, "R. Example")
        keep_family(opened, DATA / "families" / "fam-a")
        for tag in ("EX-1", "EX-2"):
            new_job(opened, {"tag": tag, "family": "fam-a"})
        yield opened


def test_a_video_is_kept_unchanged_and_waits(shop: Shop):
    content = CLIP.read_bytes()
    sweep = add_sweep(shop, "ex-1", content, "sweep.mp4")
    assert sweep.sha256 == hashlib.sha256(content).hexdigest()
    assert shop.originals.read(sweep.sha256) == content
    assert shop.originals.path(sweep.sha256).suffix == ".mp4"
    assert (sweep.tag, sweep.name, sweep.by) == ("EX-1", "sweep.mp4", "R. Example")
    assert sweep.followed_at is None
    (waits,) = sweeps_to_follow(shop)
    assert (waits.sweep_id, waits.tag, waits.name) == (sweep.id, "EX-1", "sweep.mp4")
    assert waits.path == shop.originals.path(sweep.sha256)
    assert followed_sweep(shop, "EX-1", sweep.id).document is None
    assert check_shop(shop).problems == ()


def test_what_was_followed_is_kept_whole(shop: Shop):
    sweep = add_sweep(shop, "EX-1", CLIP.read_bytes(), "sweep.mp4")
    store_sweep(shop, sweep.id, DOCUMENT, damaged="sweep.mp4: cannot be decoded after 0.00 s")
    found = followed_sweep(shop, "EX-1", sweep.id)
    assert found.document == DOCUMENT
    assert found.view.events == 1
    assert found.view.problem is None
    assert found.view.damaged == "sweep.mp4: cannot be decoded after 0.00 s"
    assert sweeps_of(shop, "EX-1") == (found.view,)
    assert sweeps_to_follow(shop) == ()


def test_what_was_followed_first_stands(shop: Shop):
    sweep = add_sweep(shop, "EX-1", CLIP.read_bytes(), "sweep.mp4")
    store_sweep(shop, sweep.id, DOCUMENT)
    with pytest.raises(ConflictError, match="was followed meanwhile"):
        store_sweep(shop, sweep.id, None, problem="sweep.mp4: the face is in none of its frames")
    assert followed_sweep(shop, "EX-1", sweep.id).document == DOCUMENT


def test_why_nothing_was_followed_is_kept(shop: Shop):
    sweep = add_sweep(shop, "EX-1", CLIP.read_bytes(), "sweep.mp4")
    store_sweep(shop, sweep.id, None, problem="sweep.mp4: the face is in none of its frames")
    (found,) = sweeps_of(shop, "EX-1")
    assert found.problem == "sweep.mp4: the face is in none of its frames"
    assert (found.events, found.followed_at is not None) == (None, True)
    assert sweeps_to_follow(shop) == ()


def test_the_database_refuses_a_result_without_either(shop: Shop):
    sweep = add_sweep(shop, "EX-1", CLIP.read_bytes(), "sweep.mp4")
    with pytest.raises(RecordError):
        store_sweep(shop, sweep.id, None)
    assert sweeps_of(shop, "EX-1") == (sweep,)


def test_what_is_no_video_is_refused_and_nothing_is_kept(shop: Shop):
    with pytest.raises(PictureError) as said:
        add_sweep(shop, "EX-1", b"no video at all" * 100, "holiday.mp4")
    assert str(said.value) == (
        "holiday.mp4: is not a video that can be opened; save it as MP4, MOV, MKV or WebM"
    )
    with pytest.raises(PictureError, match=r"^big\.mp4: has 60 MB; at most 60 MB are taken in"):
        add_sweep(shop, "EX-1", b"\0" * (MAX_BYTES + 1), "big.mp4")
    assert sweeps_of(shop, "EX-1") == ()


def test_one_job_has_a_video_once_and_another_job_may_have_it_too(shop: Shop):
    sweep = add_sweep(shop, "EX-1", CLIP.read_bytes(), "a.mp4")
    with pytest.raises(RecordError, match=r"job EX-1: b\.mp4 is the same video as a\.mp4"):
        add_sweep(shop, "EX-1", CLIP.read_bytes(), "b.mp4")
    other = add_sweep(shop, "EX-2", CLIP.read_bytes(), "c.mp4")
    assert other.sha256 == sweep.sha256
    with pytest.raises(NotThereError):
        followed_sweep(shop, "EX-2", sweep.id)
    for number in (0, -1, 10**30):
        with pytest.raises(NotThereError):
            followed_sweep(shop, "EX-1", number)


def test_undo_takes_a_video_back_and_its_file_stays(shop: Shop):
    first = add_sweep(shop, "EX-1", CLIP.read_bytes(), "a.mp4")
    second = add_sweep(shop, "EX-1", OTHER_CLIP.read_bytes(), "b.mp4")
    assert undo_last(shop, "EX-1").what == "sweep video b.mp4"
    assert sweeps_of(shop, "EX-1") == (first,)
    assert [one.sweep_id for one in sweeps_to_follow(shop)] == [first.id]
    with pytest.raises(NotThereError):
        followed_sweep(shop, "EX-1", second.id)
    assert shop.originals.read(second.sha256) == OTHER_CLIP.read_bytes()
    again = add_sweep(shop, "EX-1", OTHER_CLIP.read_bytes(), "b.mp4")
    assert [one.id for one in sweeps_of(shop, "EX-1")] == [first.id, again.id]
