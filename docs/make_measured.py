"""Put the benchmark's figures into README.md: `make measured`.

`benchmarks/reading.py --json docs/measured/reading.json` writes its tables; this script copies the
rows named below between the two comments in README.md. Nobody types a figure there.
"""

import json
import re
from pathlib import Path
from typing import Any

DOCS = Path(__file__).parent
README = DOCS.parent / "README.md"
MEASURED = DOCS / "measured" / "reading.json"
BEGIN, END = "<!-- measured: begin -->", "<!-- measured: end -->"

HELD = ("the gate", "speed on one core, four dials and more, 1600 x 1067")
BESIDE = "beside a plain textbook reader, on needles both read"
LEFT_OUT = re.compile(r"by the clock")
WORDS = {
    "clear needles read": "share of clear needles read",
    "accepted and more than 1 deg off, all photos": "all photos: readings more than 1 deg off",
    "refusals wrong": "all photos: needles read that had to be refused",
}
"""The benchmark's words for its own eyes, and those for a reader's."""


def block(measured: dict[str, Any]) -> str:
    """What stands between the comments."""
    tables = {table["title"]: table["rows"] for table in measured["tables"]}
    held = [row for title in HELD for row in tables[title] if not LEFT_OUT.search(row[0])]
    lines = [
        "| | reached | asked | |",
        "| --- | ---: | ---: | --- |",
        *(_row((WORDS.get(row[0], row[0]), *row[1:])) for row in held),
        "",
        "| on the needles both read | Needlewright | plain reader | ratio |",
        "| --- | ---: | ---: | ---: |",
        *(_row(row) for row in tables[BESIDE]),
    ]
    return "\n".join(lines)


def _row(cells: Any) -> str:
    said = (cell.replace("|error|", "error").replace("<= 0", "0", cell == "<= 0") for cell in cells)
    return f"| {' | '.join(said)} |".replace("  ", " ")


def filled(readme: str) -> str:
    """The README with the block of the figures that were measured last."""
    before, rest = readme.split(BEGIN)
    _, after = rest.split(END)
    measured = json.loads(MEASURED.read_text(encoding="utf-8"))
    return f"{before}{BEGIN}\n\n{block(measured)}\n\n{END}{after}"


if __name__ == "__main__":
    README.write_text(filled(README.read_text(encoding="utf-8")), encoding="utf-8")
