"""What a backup file is: a ZIP archive with a database, originals, and a list of their hashes."""

import re
from typing import Annotated, Final, Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field

FORMAT: Final = "needlewright backup 1"
MANIFEST: Final = "manifest.json"
DATABASE: Final = "shop.db"
ENTRY: Final = re.compile(r"shop\.db|originals/[0-9a-f]{2}/[0-9a-f]{62}\.[a-z0-9]{1,8}")
"""The only names a backup may hold; nothing in it can name a place outside the shop."""
LARGEST_MANIFEST: Final = 500_000_000


class BackupEntry(BaseModel):
    """One file of a backup."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    name: Annotated[str, Field(pattern=f"^({ENTRY.pattern})$")]
    sha256: Annotated[str, Field(pattern="^[0-9a-f]{64}$")]
    size: Annotated[int, Field(ge=0)]


class Manifest(BaseModel):
    """The list in a backup; it is written last, so that a backup cut short has none."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    format: Literal["needlewright backup 1"]
    made_at: AwareDatetime
    revision: str
    """Form of the database."""
    jobs: int
    files: tuple[BackupEntry, ...]
    left_out: tuple[str, ...] = ()
    """Originals that were damaged or gone when it was made."""
