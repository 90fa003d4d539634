"""Put the measured figures of judged lamps into docs/light.md.

`benchmarks/light.py --json docs/measured/light.json` and `benchmarks/light_pairs.py --json
docs/measured/light-pairs.json` write the tables; this script copies them between the comments of
the page. Nobody types a figure there.
"""

import json
from pathlib import Path
from typing import Any

DOCS = Path(__file__).parent
PAGE = DOCS / "light.md"
BEGIN, END = "<!-- measured: begin -->", "<!-- measured: end -->"
PAIRS_BEGIN, PAIRS_END = "<!-- pairs: begin -->", "<!-- pairs: end -->"


def block(name: str = "light") -> str:
    """What stands between the comments."""
    document = json.loads((DOCS / "measured" / f"{name}.json").read_text(encoding="utf-8"))
    return "\n\n".join(map(_table, document["tables"]))


def _table(table: dict[str, Any]) -> str:
    heading = [table["title"], *table["columns"][1:]]
    rule = ["---", *["---:"] * (len(heading) - 1)]
    return "\n".join(f"| {' | '.join(cells)} |" for cells in (heading, rule, *table["rows"]))


def filled(page: str) -> str:
    """The page with the figures that were measured last."""
    page = _put(page, BEGIN, END, block())
    return _put(page, PAIRS_BEGIN, PAIRS_END, block("light-pairs"))


def _put(page: str, begin: str, end: str, tables: str) -> str:
    before, rest = page.split(begin)
    _, after = rest.split(end)
    return f"{before}{begin}\n\n{tables}\n\n{end}{after}"


if __name__ == "__main__":
    PAGE.write_text(filled(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
