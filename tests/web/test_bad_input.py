"""What cannot be used, sent to the page and to programs' door: said where it happened, all kept."""

import html
import re
import shutil
import signal
import socket
from io import BytesIO
from tempfile import SpooledTemporaryFile

import httpx2
import pytest
from PIL import Image

from needlewright.composing.run_reading import read_stored_photos
from needlewright.records.opening import Shop, open_shop
from needlewright.records.runs import run_sheet
from needlewright.records.sheet import job_sheet
from needlewright.records.shop import check_shop
from needlewright.web import posted, sheet_measured
from proofs.drawn_job import DATA
from records.small_disk import Full, small_disk
from web.bench_page import SAME
from web.serving_process import WITHIN_S, served
from web.sheet_desk import DEMO, TAG, Desk, desk, part_of, picture, received, words_of

__all__ = ["small_disk"]  # a fixture, found by its name

HEIC = b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + bytes(64)


def bitmap(side_px: int, kind: str = "PNG") -> bytes:
    """A blank picture of very many pixels in few bytes."""
    stream = BytesIO()
    Image.new("1" if kind == "PNG" else "L", (side_px, side_px)).save(stream, kind)
    return stream.getvalue()


BAD = {
    "a text": ("letter.jpg", b"Dear Sir, here is the photo", "is not a picture"),
    "HEIC": ("IMG_1.heic", HEIC, "is a HEIC picture, which cannot be read here"),
    "too many pixels": ("huge.png", bitmap(12_000), "12000 x 12000 px; at most 120 megapixels"),
    "nothing in it": ("empty.jpg", b"", "is empty"),
}


@pytest.fixture
def at(tmp_path):
    with desk(tmp_path) as one:
        yield one


def kept(shop: Shop) -> tuple[object, ...]:
    """Everything of the job, and every file there is."""
    files = sorted(path.name for path in (shop.folder / "originals").glob("??/*"))
    return job_sheet(shop, TAG), [run_sheet(shop, r.id) for r in job_sheet(shop, TAG).runs], files


@pytest.mark.parametrize("bad", BAD.values(), ids=BAD)
def test_a_file_that_is_no_photo_is_said_on_the_page_and_to_programs(at: Desk, bad):
    name, content, says = bad
    received(at.shop)
    run = at.client.post(
        f"/api/jobs/{TAG}/runs", json={"side": "found"}, headers={"x-form-token": at.token()}
    ).json()
    before = kept(at.shop)
    photo = {"photo": (name, BytesIO(content), "image/jpeg")}
    shown = at.post(f"/jobs/{TAG}/photos", {"stage": "received", "kind": "damage"}, files=photo)
    place = words_of(part_of(shown.text, 'data-wrong-of="photos-received-damage"', "</ul>"))
    assert shown.status_code == 422
    assert says in place
    assert name in place
    for answer in (
        at.script(f"/jobs/{TAG}/photos", {"stage": "received", "kind": "damage"}, files=photo),
        at.script(f"/api/runs/{run['id']}/photos", files=photo),
    ):
        assert answer.status_code == 422
        error = answer.json()["error"]
        assert error["where"] == name
        assert says in f"{error['what']}; {error['do']}"
        assert "\n" not in "".join(error.values())
    assert kept(at.shop) == before


def test_a_photo_of_a_hundred_megapixels_is_taken(at: Desk):
    photo = {"photo": ("large.jpg", BytesIO(bitmap(10_000, "JPEG")), "image/jpeg")}
    assert at.script(
        f"/jobs/{TAG}/photos", {"stage": "received", "kind": "damage"}, files=photo
    ).is_success
    assert [one.name for one in job_sheet(at.shop, TAG).photos] == ["large.jpg"]


def test_half_a_photo_and_another_familys_are_kept_and_said_where_they_stand(at: Desk):
    received(at.shop)
    table = b"photo,step,dial,commanded,unit,approach\n" + b"".join(
        f"{n}.jpg,{n},speed,{40 + n},km/h,up\n".encode() for n in (1, 2)
    )
    whole = sorted((DEMO / "as-found").glob("*.jpg"), key=str)[3].read_bytes()
    half = whole[: len(whole) // 2]
    other = (DATA / "photos" / "fam-a" / "bare.jpg").read_bytes()
    files = [
        ("files", ("commands.csv", BytesIO(table), "text/csv")),
        ("files", ("1.jpg", BytesIO(half), "image/jpeg")),
        ("files", ("2.jpg", BytesIO(other), "image/jpeg")),
    ]
    assert at.script(f"/jobs/{TAG}/runs/found/files", {}, files=files).status_code == 200
    (run,) = job_sheet(at.shop, TAG).runs
    read_stored_photos(at.shop, run.id, workers=1)
    first, second = run_sheet(at.shop, run.id).photos
    assert first.problem is not None
    assert "1.jpg" in first.problem
    assert "cut short" in first.problem
    assert second.found is False
    assert second.reason
    assert second.readings == ()
    assert at.shop.originals.read(first.sha256) == half
    assert at.shop.originals.read(second.sha256) == other
    page = words_of(at.get())
    assert "cut short" in page
    refused = at.post(f"/jobs/{TAG}/parts/bench_check/finish")
    assert refused.status_code == 422
    (to_do,) = [one for one in missing(at) if "2.jpg (step 2)" in one]
    assert "nothing was read in 2.jpg (step 2): " in to_do
    for what in ("family and variant", "the whole face", "reject the photo and say why"):
        assert what in to_do
        assert what in (at.client.get(f"/api/runs/{run.id}").json()["photos"][1]["advice"])
        assert what in words_of(part_of(at.get(), 'id="found-step-2"', "</ol>"))
    photo = {"photo": ("again.jpg", BytesIO(whole), "image/jpeg")}
    answer = at.script(f"/api/photos/{first.id}/retake", files=photo)
    assert answer.is_success, answer.text
    read_stored_photos(at.shop, run.id, workers=1)
    again = next(one for one in run_sheet(at.shop, run.id).photos if one.step == 1)
    assert (again.found, again.problem) == (True, None)
    reject = f"/jobs/{TAG}/run/{run.id}/photos/{second.id}/reject"
    shown = at.post(reject, {"why": " "})
    place = part_of(shown.text, 'data-wrong-of="found-photo-2-reject"', "</form>")
    assert shown.status_code == 422
    assert "say why the photo 2.jpg is rejected" in words_of(place)
    told = at.client.post(
        f"/api/photos/{again.id}/reject",
        json={"why": "glare"},
        headers={"x-form-token": at.token()},
    )
    assert told.status_code == 422
    assert "the photo again.jpg was read" in told.json()["error"]["what"]
    assert at.post(reject, {"why": "not this cluster"}).status_code == 303
    assert missing(at) == []
    step = words_of(part_of(at.get(), 'id="found-step-2"', "</ol>"))
    assert "photo rejected: not this cluster" in step
    assert "Why nothing is to be read here" not in step
    assert at.post(f"/jobs/{TAG}/parts/bench_check/finish").status_code == 303


def missing(at: Desk) -> list[str]:
    """What keeps Bench check open, as programs are told."""
    answer: list[str] = at.client.get(f"/api/jobs/{TAG}/stages/bench_check/missing").json()
    return answer


def test_a_full_disk_is_said_where_it_was_typed_and_the_text_stays(small_disk):
    full = Full(small_disk, small_disk / "filler")
    with desk(small_disk / "shop") as at:
        at.get()  # as whoever types it has the page before them
        before = kept(at.shop)
        full.fill()
        long = "the owner calls on Friday " * 40
        shown = at.post(f"/jobs/{TAG}/notes", {"text": long, "form": "note"})
        told = at.client.patch(
            f"/api/jobs/{TAG}", json={"owner": long}, headers={"x-form-token": at.token()}
        )
        photo = {"photo": ("dent.jpg", BytesIO(picture(1)), "image/jpeg")}
        sent = at.script(
            f"/jobs/{TAG}/photos", {"stage": "received", "kind": "damage"}, files=photo
        )
        assert [one.status_code for one in (shown, told, sent)] == [507] * 3
        place = part_of(shown.text, 'data-wrong-of="note"', "</form>")
        assert "the disk is full" in place
        assert long.strip() in place
        for one in (told, sent):
            assert "the disk is full" in one.json()["error"]["what"]
            assert "make room" in one.json()["error"]["do"]
        full.free()
        assert kept(at.shop) == before
        assert at.post(f"/jobs/{TAG}/notes", {"text": long, "form": "note"}).status_code == 303
        assert check_shop(at.shop).problems == ()


def test_a_full_disk_without_the_familys_folder_keeps_the_typed_text_too(small_disk):
    full = Full(small_disk, small_disk / "filler")
    with desk(small_disk / "shop") as at:
        token = at.token()
        shutil.rmtree(at.shop.folder / "families", ignore_errors=True)
        sheet_measured._family.cache_clear()
        full.fill()
        long = "the owner <calls> on Friday " * 40
        fields = {"text": long, "form": "note", "seen": "1", "form_token": token}
        shown = at.client.post(
            f"/jobs/{TAG}/notes", data=fields, headers={"accept": "text/html", **SAME}
        )
        assert shown.status_code == 507
        said = html.unescape(words_of(shown.text))
        assert "the disk is full" in said
        assert f"'note' on job {TAG} was not saved" in said
        assert "What you typed is kept here and is not saved" in said
        form = part_of(shown.text, f'<form method="post" action="/jobs/{TAG}/notes"', "</form>")
        sent = dict(re.findall(r'name="([^"]+)" value="([^"]*)"', form))
        assert html.unescape(sent["text"]) == long
        assert (sent["form"], sent["seen"]) == ("note", "1")
        assert html.escape(long.strip()) in part_of(shown.text, '<dl class="facts">', "</dl>")
        full.free()
        assert job_sheet(at.shop, TAG).notes == ()
        again = {name: html.unescape(value) for name, value in sent.items()}
        answer = at.client.post(f"/jobs/{TAG}/notes", data=again, follow_redirects=False)
        assert answer.status_code == 303
        assert [note.text for note in job_sheet(at.shop, TAG).notes] == [long.strip()]


def test_an_error_page_keeps_nothing_of_a_form_that_is_not_its_own(at: Desk):
    typed = {"text": "x" * 70_000, "form_token": "another"}
    shown = at.client.post(f"/jobs/{TAG}/notes", data=typed, headers={"accept": "text/html"})
    assert shown.status_code in (403, 413)
    assert "What you typed is kept here" not in shown.text


def test_no_room_for_what_is_being_sent_is_said(at: Desk, small_disk, monkeypatch):
    def on_small_disk(limit: int) -> object:
        return SpooledTemporaryFile(limit, dir=small_disk)

    monkeypatch.setattr(posted, "SpooledTemporaryFile", on_small_disk)
    before = kept(at.shop)
    photo = {"photo": ("large.jpg", BytesIO(picture(1) + bytes(9_000_000)), "image/jpeg")}
    sent = at.script(f"/jobs/{TAG}/photos", {"stage": "received", "kind": "damage"}, files=photo)
    assert sent.status_code == 507
    assert "the disk is full" in sent.json()["error"]["what"]
    assert kept(at.shop) == before


def test_a_connection_that_breaks_off_saves_nothing_and_is_no_accident(tmp_path):
    with desk(tmp_path / "shop"):
        pass
    with served(tmp_path / "shop") as one:
        url = httpx2.URL(one.said["url"])
        client = httpx2.Client(base_url=one.said["url"], timeout=WITHIN_S)
        token = re.search(r'name="form-token" content="([^"]+)"', client.get("/keys").text)
        assert token
        cookies = "; ".join(f"{name}={value}" for name, value in client.cookies.items())
        body = (
            b'--b\r\nContent-Disposition: form-data; name="stage"\r\n\r\nreceived\r\n'
            b'--b\r\nContent-Disposition: form-data; name="kind"\r\n\r\ndamage\r\n'
            b'--b\r\nContent-Disposition: form-data; name="photo"; filename="a.jpg"\r\n\r\n'
        ) + picture(1)[:500]
        head = (
            f"POST /jobs/{TAG}/photos HTTP/1.1\r\nHost: {url.host}:{url.port}\r\n"
            f"Cookie: {cookies}\r\nX-Form-Token: {token.group(1)}\r\n"
            "Sec-Fetch-Site: same-origin\r\n"
            "Content-Type: multipart/form-data; boundary=b\r\nContent-Length: 100000\r\n\r\n"
        ).encode()
        with socket.create_connection((url.host, url.port)) as line:
            line.sendall(head + body)
        assert client.get(f"/jobs/{TAG}").status_code == 200  # it goes on working
        one.process.send_signal(signal.SIGINT)
        _, said = one.process.communicate(timeout=WITHIN_S)
    assert "Traceback" not in said, said
    with open_shop(tmp_path / "shop") as shop:
        assert job_sheet(shop, TAG).photos == ()
        assert check_shop(shop).problems == ()
