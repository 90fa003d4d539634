"""How much may be sent at all, counted as it arrives."""

from typing import Final

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.types import Message, Receive

from needlewright.web.posted import MULTIPART

LARGEST_UPLOAD: Final = 1024**3
"""Bytes of one request with files."""
LARGEST_OTHER: Final = 1024**2
"""Bytes of any other request."""
TOO_LARGE: Final = 413


def most_bytes(request: Request) -> int:
    """How much this request may bring."""
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    return LARGEST_UPLOAD if kind == MULTIPART else LARGEST_OTHER


def is_too_long(request: Request) -> bool:
    """Whether a request announces more than it may bring, or no number."""
    stated = request.headers.get("content-length")
    if stated is None:
        return False
    return not stated.isascii() or not stated.isdigit() or int(stated) > most_bytes(request)


def counted(receive: Receive, most: int) -> Receive:
    """Receive no more than `most` bytes of a body; more raises HTTPException 413."""
    so_far = 0

    async def receive_counted() -> Message:
        nonlocal so_far
        message = await receive()
        so_far += len(message.get("body", b""))
        if so_far > most:
            raise HTTPException(TOO_LARGE)
        return message

    return receive_counted
