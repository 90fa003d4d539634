"""Guides of the shop's own, as plain values."""

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True)
class ShopGuideView:
    """A guide the shop wrote itself."""

    name: str
    sha256: str
    """Of its text."""
    by: str
    at: datetime
