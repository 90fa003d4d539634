"""What is sent is streamed to disk, counted as it arrives, and kept under limits."""

import asyncio
import io
import tracemalloc
from collections.abc import AsyncIterator
from pathlib import Path

import pytest
from starlette.requests import Request

from needlewright.errors import UnusableInput
from needlewright.records.shop import people
from needlewright.web import posted, security_bodies
from needlewright.web.posted import SentForm, TooMuch, plain_name, read_form
from web.bench_page import SAME, page

BOUNDARY = "----boundary"
KIND = f"multipart/form-data; boundary={BOUNDARY}"


def part(name: str, content: bytes, file: str | None = None) -> bytes:
    named = f'; filename="{file}"' if file is not None else ""
    head = f'--{BOUNDARY}\r\nContent-Disposition: form-data; name="{name}"{named}\r\n\r\n'
    return head.encode() + content + b"\r\n"


END = f"--{BOUNDARY}--\r\n".encode()


def read(chunks: list[bytes] | AsyncIterator[bytes], kind: str = KIND) -> SentForm:
    """`read_form` on a request that brings these chunks."""

    async def run() -> SentForm:
        stream = chunks if not isinstance(chunks, list) else _each(chunks)

        async def receive() -> dict[str, object]:
            async for chunk in stream:
                return {"type": "http.request", "body": chunk, "more_body": True}
            return {"type": "http.request", "body": b"", "more_body": False}

        headers = [(b"content-type", kind.encode())]
        scope = {"type": "http", "method": "POST", "headers": headers, "state": {}}
        return await read_form(Request(scope, receive))

    return asyncio.run(run())


async def _each(chunks: list[bytes]) -> AsyncIterator[bytes]:
    for chunk in chunks:
        yield chunk


def test_fields_and_files_arrive_whatever_the_pieces() -> None:
    whole = part("text", "Grüße, 5 €".encode()) + part("photo", b"\xff\xd8" * 9, "a b.jpg")
    whole += part("photo", b"", "") + part("tick", b"yes") + part("tick", b"no") + END
    for size in (1, 7, 64, len(whole)):
        sent = read([whole[i : i + size] for i in range(0, len(whole), size)])
        assert sent.text("text") == "Grüße, 5 €"
        assert sent.every("tick") == ["yes", "no"]
        assert sent.ticked("tick") is False
        assert sent.maybe("none") is None
        (photo,) = sent.files("photo")  # an input left empty sends a nameless one
        assert (photo.name, photo.size, photo.content()) == ("a b.jpg", 18, b"\xff\xd8" * 9)
        sent.close()


def test_a_plain_form_is_read_as_typed() -> None:
    kind = "application/x-www-form-urlencoded"
    sent = read([b"a=1+2%2", b"B&b=%C3%A4&a=", b"last"], kind)
    assert sent.fields == [("a", "1 2+"), ("b", "ä"), ("a", "last")]
    assert sent.text("a") == "last"


def test_a_large_file_goes_to_disk_and_not_into_memory() -> None:
    chunk, count = b"x" * 256 * 1024, 160

    async def large() -> AsyncIterator[bytes]:
        yield part("photo", b"", "large.jpg")[:-2]
        for _ in range(count):
            yield chunk
        yield b"\r\n" + END

    tracemalloc.start()
    sent = read(large())
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    (photo,) = sent.files("photo")
    assert photo.size == count * len(chunk) == 40 * 1024 * 1024
    assert photo.stream._rolled  # type: ignore[attr-defined]
    assert peak < 4 * 1024 * 1024
    sent.close()


@pytest.mark.parametrize(
    ("sent", "words"),
    [
        (part("p", b"x" * 2000, "large.jpg"), "large.jpg: is larger than"),
        (b"".join(part("p", b"x", f"{n}.jpg") for n in range(4)), "more than 3 files"),
        (b"".join(part(f"f{n}", b"x") for n in range(6)), "more than 5 fields"),
        (part("f", b"x" * 500), "a field is longer than"),
    ],
)
def test_each_limit_has_its_sentence(
    monkeypatch: pytest.MonkeyPatch, sent: bytes, words: str
) -> None:
    monkeypatch.setattr(posted, "LARGEST_FILE", 1000)
    monkeypatch.setattr(posted, "MOST_FILES", 3)
    monkeypatch.setattr(posted, "MOST_FIELDS", 5)
    monkeypatch.setattr(posted, "LONGEST_FIELD", 400)
    taken = []

    async def counting() -> AsyncIterator[bytes]:
        for i in range(0, len(sent + END), 100):
            taken.append(i)
            yield (sent + END)[i : i + 100]

    with pytest.raises(TooMuch, match=words):
        read(counting())
    assert len(taken) == -(-len(sent + END) // 100)  # read to its end, or no answer is shown


@pytest.mark.parametrize(
    ("chunks", "kind", "words"),
    [
        ([part("p", b"\xff\xd8\xff", "a.jpg")[:-20]], KIND, "broke off"),
        ([part("p", b"\xff\xd8\xff", "a.jpg")], KIND, "broke off"),
        ([], KIND, "broke off"),
        ([part("p", b"x") + END], "multipart/form-data", "boundary"),
        ([b"no form at all"], KIND, "could not be understood"),
        ([f"--{BOUNDARY}\r\nno header\r\n\r\nx".encode() + END], KIND, "could not be understood"),
    ],
)
def test_a_form_that_is_none_or_broke_off_is_refused(
    chunks: list[bytes], kind: str, words: str
) -> None:
    with pytest.raises(UnusableInput, match=words):
        read(chunks, kind)


@pytest.mark.parametrize(
    ("sent", "name"),
    [
        ("IMG_1.jpg", "IMG_1.jpg"),
        ("../../etc/passwd", "passwd"),
        ("C:\\photos\\a.jpg", "a.jpg"),
        ("a\x00b\n\u202e.jpg", "a b .jpg"),
        ("x" * 300 + ".jpg", "x" * 116 + ".jpg"),
        ("", ""),
    ],
)
def test_a_files_name_is_words_and_no_path(sent: str, name: str) -> None:
    assert plain_name(sent) == name


def test_more_than_announced_is_counted_as_it_comes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with page(tmp_path) as browser:
        token = {"X-Form-Token": browser.token, "Accept": "application/json"} | SAME
        monkeypatch.setattr(security_bodies, "LARGEST_OTHER", 2000)
        announced = browser.client.post(
            "/api/people", content=b'{"name": "' + b"x" * 3000 + b'"}', headers=token
        )
        assert announced.status_code == 413

        def endless() -> object:
            yield b'{"name": "'
            for _ in range(30):
                yield b"x" * 100
            yield b'"}'

        kind = {"Content-Type": "application/json"}
        counted = browser.client.post("/api/people", content=endless(), headers=token | kind)
        assert counted.status_code == 413
        assert counted.json()["error"]["do"] == "send fewer files at a time, or smaller ones"
        assert len(people(browser.shop)) == 2


@pytest.mark.parametrize("length", ["-1", "1e9", "99999999999999999999", "no"])
def test_a_length_that_is_none_is_refused(tmp_path: Path, length: str) -> None:
    with page(tmp_path) as browser:
        headers = {"X-Form-Token": browser.token, "Content-Length": length} | SAME
        assert browser.client.post("/shop/people", headers=headers).status_code == 413


def test_too_much_is_said_on_the_page(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(posted, "LARGEST_FILE", 1000)
    with page(tmp_path) as browser:
        files = {"face": ("face.png", io.BytesIO(b"x" * 5000), "image/png")}
        answer = browser.post("/families", {}, files=files)
        assert answer.status_code == 413
        assert "face.png: is larger than" in answer.text
