"""Put the measured figures of the cold into docs/cold.md.

`benchmarks/cold.py --json docs/measured/cold.json` writes them; this script copies them between the
two comments of the page. Nobody types a figure there.
"""

import json
from pathlib import Path
from typing import Any

DOCS = Path(__file__).parent
PAGE = DOCS / "cold.md"
BEGIN, END = "<!-- measured: begin -->", "<!-- measured: end -->"
ONSET = {
    "series": "series of one dial",
    "drawn": "drawn",
    "found": "onset found",
    "beyond": "half fail beyond what was tried",
    "below": "nothing failed",
    "above": "everything failed",
    "other": "not of the cold",
    "held": "share of intervals and limits with the truth in it",
    "half_c": "half the interval, degC",
    "called_cold": "ratio above 1",
    "surely_cold": "above 10",
    "ms": "ms",
}
RATES = {
    "drawn": "movements",
    "enough": "enough data",
    "inside": "truth inside the range",
    "two_ends": "with two ends",
    "width_c": "width, degC",
    "warm_end_off_c": "warm end above the truth, degC",
}
KEYS = {
    "rests": "key-on tests of",
    "drawn": "drawn",
    "creeps": "ratio above 1",
    "surely": "above 10",
    "named": "named",
}


def block() -> str:
    """What stands between the comments."""
    figures = json.loads((DOCS / "measured" / "cold.json").read_text(encoding="utf-8"))
    return "\n\n".join(
        (
            _table(ONSET, figures["onset"]),
            _table(RATES, [figures["rates"]]),
            _table(KEYS, figures["key_ons"]),
            "Intervals, widths and ends are medians.",
        )
    )


def _table(heads: dict[str, str], rows: list[dict[str, Any]]) -> str:
    lines = [f"| {' | '.join(heads.values())} |", f"| --- |{' ---: |' * (len(heads) - 1)}"]
    for row in rows:
        cells = ("" if row[name] is None else f"{row[name]}" for name in heads)
        lines.append(f"| {' | '.join(cells)} |")
    return "\n".join(lines)


def filled(text: str) -> str:
    """The page with the figures of the last run."""
    before, rest = text.split(BEGIN)
    after = rest.split(END)[1]
    return f"{before}{BEGIN}\n\n{block()}\n\n{END}{after}"


if __name__ == "__main__":
    PAGE.write_text(filled(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
