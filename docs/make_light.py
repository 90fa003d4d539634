"""Put the measured figures of judged lamps into docs/light.md.

`benchmarks/light.py --json docs/measured/light.json` writes the tables; this script copies them
between the two comments of the page. Nobody types a figure there.
"""

import json
from pathlib import Path
from typing import Any

DOCS = Path(__file__).parent
PAGE = DOCS / "light.md"
BEGIN, END = "<!-- measured: begin -->", "<!-- measured: end -->"


def block() -> str:
    """What stands between the comments."""
    document = json.loads((DOCS / "measured" / "light.json").read_text(encoding="utf-8"))
    return "\n\n".join(map(_table, document["tables"]))


def _table(table: dict[str, Any]) -> str:
    heading = [table["title"], *table["columns"][1:]]
    rule = ["---", *["---:"] * (len(heading) - 1)]
    return "\n".join(f"| {' | '.join(cells)} |" for cells in (heading, rule, *table["rows"]))


def filled(page: str) -> str:
    """The page with the figures that were measured last."""
    before, rest = page.split(BEGIN)
    _, after = rest.split(END)
    return f"{before}{BEGIN}\n\n{block()}\n\n{END}{after}"


if __name__ == "__main__":
    PAGE.write_text(filled(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
