"""Put the measured coverage and efficiency into docs/uncertainty.md.

`benchmarks/coverage.py --json docs/measured/coverage.json` and `benchmarks/efficiency.py --json
docs/measured/efficiency.json` write their tables; this script copies the rows named below between
the two comments of the page. Nobody types a figure there.
"""

import json
from pathlib import Path
from typing import Any

DOCS = Path(__file__).parent
PAGE = DOCS / "uncertainty.md"
MEASURED = DOCS / "measured"
BEGIN, END = "<!-- measured: begin -->", "<!-- measured: end -->"
SHOWN = ("per condition", "per visible needle length")
COLUMNS = ("clear", "read", "median", "95 %", "max", "off > 1", "intervals", "hold")
WORDS = {"median": "median error, deg", "max": "largest", "off > 1": "off by more than 1 deg"}
WORDS |= {"clear": "clear needles", "hold": "intervals that hold", "intervals": "all intervals"}
EFFICIENCY = ("case", "bound, deg", "spread, deg", "spread / bound", "asked")


def block() -> str:
    """What stands between the comments."""
    coverage, efficiency = (_document(name) for name in ("coverage", "efficiency"))
    tables = {table["title"]: table for table in coverage["tables"]}
    lines = [f"Faces {coverage['first_seed']} to {coverage['first_seed'] + coverage['faces'] - 1}:"]
    for title in SHOWN:
        heading = (title, *(WORDS.get(name, name) for name in COLUMNS))
        lines += ["", *_rows(tables[title], ("", *COLUMNS), heading)]
    said = f"White noise alone, {efficiency['draws']} drawings of each case:"
    table = efficiency["tables"][0]
    return "\n".join([*lines, "", said, "", *_rows(table, EFFICIENCY, EFFICIENCY)])


def _document(name: str) -> Any:
    return json.loads((MEASURED / f"{name}.json").read_text(encoding="utf-8"))


def _rows(table: dict[str, Any], columns: tuple[str, ...], heading: tuple[str, ...]) -> list[str]:
    at = [table["columns"].index(name) for name in columns]
    rule = ["---", *["---:"] * (len(columns) - 1)]
    rows = ([row[i] for i in at] for row in table["rows"])
    return [f"| {' | '.join(cells)} |".replace("  ", " ") for cells in (heading, rule, *rows)]


def filled(page: str) -> str:
    """The page with the figures that were measured last."""
    before, rest = page.split(BEGIN)
    _, after = rest.split(END)
    return f"{before}{BEGIN}\n\n{block()}\n\n{END}{after}"


if __name__ == "__main__":
    PAGE.write_text(filled(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
