"""Errors as people and programs get them: one sentence in three parts, never a traceback."""

from dataclasses import dataclass
from typing import Final

from needlewright.errors import ConflictError, DiskFullError, NeedlewrightError

UNPROCESSABLE: Final = 422
CONFLICT: Final = 409
FULL: Final = 507
LONGEST_PLACE: Final = 60


@dataclass(frozen=True, slots=True)
class Wrong:
    """What is wrong, where, and what to do next."""

    what: str
    where: str = ""
    do: str = ""

    @property
    def sentence(self) -> str:
        """All three."""
        start = f"{self.where}: {self.what}" if self.where else self.what
        return f"{start}; {self.do}" if self.do else start


def wrong_of(error: NeedlewrightError) -> Wrong:
    """Take the sentence of an error apart.

    The project's sentences are built as "where: what is wrong; what to do next"; what does not
    follow that is all `what`.
    """
    sentence = str(error)
    where, colon, rest = sentence.partition(": ")
    if not colon or len(where) > LONGEST_PLACE or ";" in where:
        where, rest = "", sentence
    what, semicolon, do = rest.rpartition("; ")
    if not semicolon:
        what, do = rest, ""
    return Wrong(what, where, do)


def status_of(error: NeedlewrightError) -> int:
    """The status an error is answered with."""
    if isinstance(error, ConflictError):
        return CONFLICT
    return FULL if isinstance(error, DiskFullError) else UNPROCESSABLE
