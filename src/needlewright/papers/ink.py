"""Paper and ink: the colours and type of every drawing and document.

Two signal colours stand for good and not good; a word and a shape always stand with them, and
every drawing can be told apart when printed in grey.
"""

from typing import Final

PAPER: Final = "#fbf8f1"
"""Warm off-white ground of drawings on a screen; documents leave the sheet's own white."""

INK: Final = "#1d1b17"
"""Near-black text and lines."""

FAINT: Final = "#6b655a"
"""Secondary text: 5.6 to 1 against `PAPER`."""

HAIRLINE: Final = "#cfc7b6"
"""Rules and grids that only guide the eye."""

BAND: Final = "#ebe4d3"
"""Ground of what a rule allows, and of panels on paper."""

ACCENT: Final = "#0f5c6e"
"""The one accent: what is as left, what is to be done next."""

GOOD: Final = "#2c6a3a"
NOT_GOOD: Final = "#a4261c"

SERIF: Final = "Libertinus Serif"
"""Type of documents; it travels inside the document compiler, so no machine lacks it."""

SERIF_STACK: Final = f"{SERIF}, Georgia, Times New Roman, serif"
"""Type of a drawing that may also be opened by itself."""

SANS_STACK: Final = "system-ui, Segoe UI, Roboto, Liberation Sans, DejaVu Sans, sans-serif"
"""Type of a drawing on the page, which is set in the device's own."""
