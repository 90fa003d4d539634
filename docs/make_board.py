"""Put the measured figures of laid boards into docs/board.md.

`benchmarks/board.py --json docs/measured/board.json` writes them; this script copies them between
the two comments of the page. Nobody types a figure there.
"""

import json
from pathlib import Path

DOCS = Path(__file__).parent
PAGE = DOCS / "board.md"
BEGIN, END = "<!-- measured: begin -->", "<!-- measured: end -->"


def block() -> str:
    """What stands between the comments."""
    document = json.loads((DOCS / "measured" / "board.json").read_text(encoding="utf-8"))
    boards = document["boards"]
    tables = [
        [f"| {title} ({boards} boards) | |", "| --- | ---: |", *(f"| {a} | {b} |" for a, b in rows)]
        for title, rows in document["tables"].items()
    ]
    return "\n\n".join("\n".join(table) for table in tables)


def filled(page: str) -> str:
    """The page with the figures that were measured last."""
    before, rest = page.split(BEGIN)
    _, after = rest.split(END)
    return f"{before}{BEGIN}\n\n{block()}\n\n{END}{after}"


if __name__ == "__main__":
    PAGE.write_text(filled(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
