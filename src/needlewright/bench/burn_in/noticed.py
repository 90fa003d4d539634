"""Something that happened in a burn-in, as whatever watches says it."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Noticed:
    """Something happened."""

    what: str
    where: str
    words: str
    size: float | None = None
