"""How the database came to its form, step by step; run at opening."""

from typing import Final

REVISIONS: Final = (
    "0001",
    "0002",
    "0003",
    "0004",
    "0005",
    "0006",
    "0007",
    "0008",
    "0009",
    "0010",
    "0011",
    "0012",
)
"""Every form this program knows, oldest first."""
