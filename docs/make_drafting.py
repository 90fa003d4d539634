"""Fill the figures of docs/drafting.md: `python docs/make_drafting.py`.

They stand in docs/measured/draft.json, which is what `python benchmarks/draft.py PHOTOS --json
docs/measured/draft.json` writes.
"""

import json
from pathlib import Path
from typing import Any

DOCS = Path(__file__).parent
PAGE = DOCS / "drafting.md"
MEASURED = DOCS / "measured" / "draft.json"
BEGIN, END = "<!-- figures -->\n", "<!-- end of figures -->\n"


def figures(document: dict[str, Any]) -> str:
    """The benchmark's tables."""
    return "\n".join(_table(table) for table in document["tables"])


def _table(table: dict[str, Any]) -> str:
    lines = [f"**{table['title'][:1].upper()}{table['title'][1:]}**", ""]
    lines.append("| " + " | ".join(table["columns"]) + " |")
    lines.append("| --- |" + " ---: |" * (len(table["columns"]) - 1))
    lines += ["| " + " | ".join(row) + " |" for row in table["rows"]]
    return "\n".join(lines) + "\n"


def filled(text: str) -> str:
    """The page with the figures in their place."""
    before, _, rest = text.partition(BEGIN)
    _, _, after = rest.partition(END)
    document = json.loads(MEASURED.read_text(encoding="utf-8"))
    return f"{before}{BEGIN}{figures(document)}{END}{after}"


def main() -> None:
    """Put the figures in their place."""
    PAGE.write_text(filled(PAGE.read_text(encoding="utf-8")), encoding="utf-8")


if __name__ == "__main__":
    main()
