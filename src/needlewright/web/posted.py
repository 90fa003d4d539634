"""Forms and files as they are sent: streamed to disk, under limits, never whole in memory."""

import re
import unicodedata
from collections.abc import AsyncIterator
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import SpooledTemporaryFile, gettempdir
from typing import IO, Annotated, Final
from urllib.parse import unquote_plus

from fastapi import Depends, Request
from python_multipart.exceptions import FormParserError
from python_multipart.multipart import (
    MultipartParser,
    QuerystringParser,
    parse_options_header,
)
from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect

from needlewright.errors import UnusableInput
from needlewright.records.trouble import said_plainly

TOKEN: Final = "form_token"
"""Field of the session's token."""
MULTIPART: Final = "multipart/form-data"
URLENCODED: Final = "application/x-www-form-urlencoded"
MOST_FILES: Final = 60
MOST_FIELDS: Final = 400
LONGEST_FIELD: Final = 64 * 1024
LARGEST_FILE: Final = 60 * 1024 * 1024
"""Bytes: a 100-megapixel photo of a phone still passes, to be refused with its own sentence."""
IN_MEMORY: Final = 256 * 1024
"""Bytes of a file kept in memory before it goes to disk."""
LONGEST_NAME: Final = 120
BROKE_OFF: Final = "the upload broke off before its end; nothing of it was kept; send it again"


class TooMuch(UnusableInput):
    """More was sent than the page takes."""


@dataclass(slots=True)
class SentFile:
    """One file of a form."""

    name: str
    """As the sender called it, without any folder; for people, never for a path."""
    stream: IO[bytes]
    size: int = 0

    def content(self) -> bytes:
        """All of it."""
        self.stream.seek(0)
        return self.stream.read()


@dataclass(slots=True)
class SentForm:
    """Fields and files of one form."""

    fields: list[tuple[str, str]] = field(default_factory=list)
    all_files: list[tuple[str, SentFile]] = field(default_factory=list)

    def maybe(self, name: str) -> str | None:
        """A field, or None where the form did not have it; the last of several."""
        return dict(self.fields).get(name)

    def text(self, name: str) -> str:
        """A field; empty where the form did not have it."""
        return self.maybe(name) or ""

    def every(self, name: str) -> list[str]:
        """Every value of a field."""
        return [value for key, value in self.fields if key == name]

    def ticked(self, name: str) -> bool:
        """Whether a box was ticked."""
        return self.text(name) not in ("", "no", "false", "0")

    def stated(self, *names: str) -> dict[str, str]:
        """Those of the named fields that the form had."""
        return {key: value for key, value in dict(self.fields).items() if key in names}

    def files(self, name: str) -> list[SentFile]:
        """The files of a field; a file input left empty sends none."""
        return [file for key, file in self.all_files if key == name and (file.name or file.size)]

    def close(self) -> None:
        """Let go of the files."""
        for _, file in self.all_files:
            file.stream.close()


async def read_form(request: Request) -> SentForm:
    """Read the form a request carries, once.

    Parameters
    ----------
    request
        Whose body has not been read by anyone else.

    Returns
    -------
    SentForm
        Its fields and files; empty where the request carries no form.

    Raises
    ------
    TooMuch
        If a limit is passed.
    UnusableInput
        If it is not a form, or broke off.
    """
    known = getattr(request.state, "sent", None)
    if isinstance(known, SentForm):
        return known
    kind, options = parse_options_header(request.headers.get("content-type"))
    match kind.decode("latin-1"):
        case "multipart/form-data":
            sent = await _feed(request.stream(), _Parts(options.get(b"boundary", b"")))
        case "application/x-www-form-urlencoded":
            sent = await _feed(request.stream(), _Pairs())
        case _:
            sent = SentForm()
    request.state.sent = sent
    return sent


Sent = Annotated[SentForm, Depends(read_form)]


async def _feed(stream: AsyncIterator[bytes], reader: "_Parts | _Pairs") -> SentForm:
    try:
        with said_plainly("taking in what was sent", Path(gettempdir())):
            async for chunk in stream:
                await run_in_threadpool(reader.write, chunk)
            reader.finish()
    except (FormParserError, UnusableInput) as error:
        reader.sent.close()
        async for _ in stream:  # a browser shows no answer while it is still sending
            pass
        if isinstance(error, UnusableInput):
            raise
        raise UnusableInput(
            "the form could not be understood; load the page again and send it again"
        ) from error
    except ClientDisconnect as error:
        reader.sent.close()
        raise UnusableInput(BROKE_OFF) from error  # nobody is there to read it, and no accident
    except BaseException:
        reader.sent.close()
        raise
    return reader.sent


class _Pairs:
    """A form without files."""

    def __init__(self) -> None:
        self.sent = SentForm()
        self._name, self._value = bytearray(), bytearray()
        self._parser = QuerystringParser(
            {
                "on_field_start": self._start,
                "on_field_name": lambda data, a, b: _grow(self._name, data[a:b]),
                "on_field_data": lambda data, a, b: _grow(self._value, data[a:b]),
                "on_field_end": self._end,
            }
        )

    def write(self, chunk: bytes) -> None:
        self._parser.write(chunk)

    def finish(self) -> None:
        self._parser.finalize()

    def _start(self) -> None:
        self._name, self._value = bytearray(), bytearray()

    def _end(self) -> None:
        _keep_field(self.sent, *(_unquoted(part) for part in (self._name, self._value)))


class _Parts:
    """A form with files."""

    def __init__(self, boundary: bytes) -> None:
        if not boundary:
            raise UnusableInput("the form says no boundary; load the page again and send it again")
        self.sent = SentForm()
        self._headers: dict[str, bytes] = {}
        self._header, self._said = bytearray(), bytearray()
        self._field, self._value = "", bytearray()
        self._file: SentFile | None = None
        self._whole = False
        self._parser = MultipartParser(
            boundary,
            {
                "on_part_begin": self._begin,
                "on_header_field": lambda data, a, b: _grow(self._header, data[a:b]),
                "on_header_value": lambda data, a, b: _grow(self._said, data[a:b]),
                "on_header_end": self._header_end,
                "on_headers_finished": self._headers_finished,
                "on_part_data": self._data,
                "on_part_end": self._part_end,
                "on_end": self._end,
            },
        )

    def write(self, chunk: bytes) -> None:
        self._parser.write(chunk)

    def finish(self) -> None:
        self._parser.finalize()
        if not self._whole:
            raise UnusableInput(BROKE_OFF)

    def _begin(self) -> None:
        self._headers, self._file = {}, None
        self._value = bytearray()

    def _header_end(self) -> None:
        self._headers[self._header.decode("latin-1").lower()] = bytes(self._said)
        self._header, self._said = bytearray(), bytearray()

    def _headers_finished(self) -> None:
        _, options = parse_options_header(self._headers.get("content-disposition"))
        self._field = _decoded(options.get(b"name", b""))
        if b"filename" not in options:
            return
        if len(self.sent.all_files) >= MOST_FILES:
            raise TooMuch(f"more than {MOST_FILES} files were sent at once; send them in parts")
        name = plain_name(_decoded(options[b"filename"]))
        stream = SpooledTemporaryFile(IN_MEMORY)  # noqa: SIM115 - lives until the answer is given
        self._file = SentFile(name, stream)
        self.sent.all_files.append((self._field, self._file))

    def _data(self, data: bytes, start: int, end: int) -> None:
        if self._file is None:
            _grow(self._value, data[start:end])
            return
        self._file.size += end - start
        if self._file.size > LARGEST_FILE:
            raise TooMuch(
                f"{self._file.name or 'a file'}: is larger than {LARGEST_FILE // 1024**2} MB; "
                "make it smaller, as by taking it in a smaller size"
            )
        self._file.stream.write(data[start:end])

    def _part_end(self) -> None:
        if self._file is None:
            _keep_field(self.sent, self._field, _decoded(bytes(self._value)))

    def _end(self) -> None:
        self._whole = True


def plain_name(name: str) -> str:
    """A file's name as people read it: no folders, nothing unprintable, not endless."""
    last = re.split(r"[/\\]", unicodedata.normalize("NFC", name))[-1]
    printable = "".join(c if c.isprintable() else " " for c in last)
    return " ".join(printable.split())[-LONGEST_NAME:]


def _grow(buffer: bytearray, more: bytes) -> None:
    buffer += more
    if len(buffer) > LONGEST_FIELD:
        raise TooMuch(f"a field is longer than {LONGEST_FIELD // 1024} kB; shorten it")


def _keep_field(sent: SentForm, name: str, value: str) -> None:
    if len(sent.fields) >= MOST_FIELDS:
        raise TooMuch(f"more than {MOST_FIELDS} fields were sent at once; send them in parts")
    sent.fields.append((name, value))


def _decoded(raw: bytes) -> str:
    return raw.decode("utf-8", "replace")


def _unquoted(raw: bytearray) -> str:
    return unquote_plus(raw.decode("latin-1"), "utf-8", "replace")
