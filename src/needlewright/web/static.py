"""Stylesheets and scripts, held in memory: no name from a request reaches the file system."""

from dataclasses import dataclass
from functools import cache
from hashlib import sha256
from importlib.resources import files
from typing import Final

from fastapi import APIRouter, HTTPException, Request
from starlette.responses import Response

KINDS: Final = {
    "css": "text/css; charset=utf-8",
    "js": "text/javascript; charset=utf-8",
    "svg": "image/svg+xml",
    "png": "image/png",
    "webmanifest": "application/manifest+json",
}

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, slots=True)
class StaticFile:
    """One file that travels with the program."""

    content: bytes
    kind: str
    mark: str
    """Changes with the content."""


@cache
def static_files() -> dict[str, StaticFile]:
    """All of them, by name."""
    found = {}
    for file in (files("needlewright.web") / "static").iterdir():
        kind = KINDS.get(file.name.rpartition(".")[2])
        if kind is not None and file.is_file():
            content = file.read_bytes()
            found[file.name] = StaticFile(content, kind, f'"{sha256(content).hexdigest()[:20]}"')
    return found


@router.get("/static/{name}")
def serve(request: Request, name: str) -> Response:
    """One of the files; 304 where the browser has it already."""
    file = static_files().get(name)
    if file is None:
        raise HTTPException(404)
    headers = {"ETag": file.mark, "Cache-Control": "no-cache"}
    if request.headers.get("if-none-match") == file.mark:
        return Response(status_code=304, headers=headers)
    return Response(file.content, media_type=file.kind, headers=headers)
