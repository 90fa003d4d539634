"""Pictures and papers by the SHA-256 of their content, and by nothing else."""

from functools import lru_cache
from io import BytesIO
from pathlib import Path
from threading import BoundedSemaphore
from typing import Annotated, Final

from fastapi import APIRouter, HTTPException
from fastapi import Path as InPath
from PIL import Image, ImageOps
from starlette.responses import FileResponse, Response

from needlewright.errors import RecordError
from needlewright.web.pages import Asked

PATTERN: Final = r"^[0-9a-f]{64}$"
FOREVER: Final = "private, max-age=31536000, immutable"
KINDS: Final = {
    "jpg": "image/jpeg",
    "jpeg": "image/jpeg",
    "png": "image/png",
    "webp": "image/webp",
    "tif": "image/tiff",
    "tiff": "image/tiff",
    "bmp": "image/bmp",
    "heic": "image/heic",
    "pdf": "application/pdf",
    "json": "application/json",
    "mp4": "video/mp4",
    "mov": "video/quicktime",
    "webm": "video/webm",
    "mkv": "video/x-matroska",
}
SMALL_PX: Final = 480
"""Longer side of a small picture."""
SMALL_KEPT: Final = 400
MOST_PIXELS: Final = 50_000_000
"""Larger pictures are shown only whole: making them small would take too much memory."""
NOT_FOUND: Final = 404

Sha256 = Annotated[str, InPath(pattern=PATTERN)]
router = APIRouter()
_decoding = BoundedSemaphore(2)


@router.get("/originals/{sha256}", response_class=FileResponse, tags=["originals"])
def original(asked: Asked, sha256: Sha256) -> Response:
    """A file as it came in; it never changes, so it may be kept for good."""
    path = _path(asked, sha256)
    kind = KINDS.get(path.suffix[1:], "application/octet-stream")
    return FileResponse(
        path,
        media_type=kind,
        filename=f"{sha256[:12]}{path.suffix}",
        content_disposition_type="inline" if kind in KINDS.values() else "attachment",
        headers={"Cache-Control": FOREVER},
    )


@router.get("/originals/{sha256}/small", response_class=Response, tags=["originals"])
def small(asked: Asked, sha256: Sha256) -> Response:
    """A picture at the size of a list."""
    content = _small(str(_path(asked, sha256)))
    if content is None:
        raise HTTPException(NOT_FOUND)
    return Response(content, media_type="image/jpeg", headers={"Cache-Control": FOREVER})


def _path(asked: Asked, sha256: str) -> Path:
    try:
        return asked.shop.originals.path(sha256)
    except RecordError as error:
        raise HTTPException(NOT_FOUND) from error


@lru_cache(SMALL_KEPT)
def _small(path: str) -> bytes | None:
    try:
        with _decoding, Image.open(path) as picture:
            picture.draft("RGB", (2 * SMALL_PX, 2 * SMALL_PX))  # a JPEG is decoded at an eighth
            if picture.width * picture.height > MOST_PIXELS:
                return None
            upright = ImageOps.exif_transpose(picture)
            upright.thumbnail((SMALL_PX, SMALL_PX))
            out = BytesIO()
            upright.convert("RGB").save(out, "JPEG", quality=82)
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError):
        return None
    return out.getvalue()
