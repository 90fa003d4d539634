"""Families out of and into the page as one file, and which version new jobs are worked by."""

import re
import shutil
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Annotated

from fastapi import APIRouter
from fastapi import Path as InPath
from starlette.responses import Response

from needlewright.errors import ConflictError, FamilyError
from needlewright.records.families import keep_family, load_version, version_at
from needlewright.records.family_versions import (
    NEW_VERSION,
    OTHER_NAME,
    packed_version,
    take_in,
)
from needlewright.records.views import FamilyView
from needlewright.web.originals import FOREVER
from needlewright.web.pages import Asked, Asking
from needlewright.web.posted import Sent, SentForm

ZIP = "application/zip"
VersionId = Annotated[int, InPath(ge=1, lt=2**63)]
_NOT_IN_A_NAME = re.compile(r"[^A-Za-z0-9._-]+")
router = APIRouter()


@router.get("/families/{version_id}/file", response_class=Response)
def download(asked: Asked, version_id: VersionId) -> Response:
    """A version as the one file a family travels in."""
    version = version_at(asked.shop, version_id)
    content = packed_version(asked.shop, version_id)
    named = f'attachment; filename="{file_name(version)}"'
    headers = {"Content-Disposition": named, "Cache-Control": FOREVER}
    return Response(content, media_type=ZIP, headers=headers)


@router.post("/families/{version_id}/choose")
def choose(asked: Asked, version_id: VersionId, sent: Sent) -> Response:
    """Let new jobs be worked by this version."""
    del sent  # its token was looked at
    kept = keep_family(asked.shop, load_version(asked.shop, version_id).folder, asked.by)
    return asked.saved(asked.at("/families", kept.version_id), version_id=kept.version_id)


def taken_in(asked: Asking, sent: SentForm) -> FamilyView:
    """Take in the family's file of a form, under a name of our own on the way.

    Parameters
    ----------
    asked
        The request.
    sent
        Its form: `packed`, and `as`, `note`, `new_version`.

    Returns
    -------
    FamilyView
        The version it is now.

    Raises
    ------
    FamilyError, RecordError
        One sentence that says why it is refused.
    """
    files = sent.files("packed")
    if not files:
        raise FamilyError(asked.texts("families.take.missing"))
    with TemporaryDirectory(prefix="needlewright-family-") as made:
        path = Path(made) / "family.zip"
        with path.open("wb") as stream:
            files[0].stream.seek(0)
            shutil.copyfileobj(files[0].stream, stream)
        try:
            return take_in(
                asked.shop,
                path,
                asked.by,
                note=sent.text("note"),
                name=sent.text("as").strip() or None,
                as_new_version=sent.ticked("new_version"),
                said=files[0].name,
            )
        except ConflictError as error:  # here a box and a field stand for the options
            plain = str(error).replace(f" ({NEW_VERSION})", "").replace(f" ({OTHER_NAME})", "")
            raise ConflictError(plain) from error


def file_name(version: FamilyView) -> str:
    """What a version's file is called where it is saved."""
    stem = _NOT_IN_A_NAME.sub("-", version.name).strip("-.")[:60] or "family"
    return f"{stem}-v{version.number}.zip"


def is_taken_in(sent: SentForm) -> bool:
    """Whether a form is that of a family's file, and not of its two files."""
    return sent.text("form") == "take"
