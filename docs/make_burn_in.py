"""Put what a burn-in sees of slow and small changes into docs/burn-in.md.

`benchmarks/burn_in.py --json docs/measured/burn_in.json` writes the figures; this script copies
them between the two comments of the page. Nobody types a figure there.
"""

import json
from pathlib import Path
from typing import Any

DOCS = Path(__file__).parent
PAGE = DOCS / "burn-in.md"
BEGIN, END = "<!-- measured: begin -->", "<!-- measured: end -->"
DRIFT = {
    "looks": "looks",
    "ranks": "told by ranks from, scatters",
    "line": "the best there is, scatters",
    "false": "a sound unit said to drift",
}
SCATTER = {
    "dial": "drawn dial",
    "looks": "looks",
    "scatter": "largest scatter, deg",
}
SWEEPS = {
    "fault": "in a drawn sweep",
    "size": "size, deg",
    "needles": "needles",
    "named": "named",
    "off": "stands off at a check point, deg",
}


def block() -> str:
    """What stands between the comments."""
    figures = json.loads((DOCS / "measured" / "burn_in.json").read_text(encoding="utf-8"))
    parts = ((DRIFT, "drift"), (SCATTER, "scatter"), (SWEEPS, "sweeps"))
    return "\n\n".join(_table(heads, figures[name]) for heads, name in parts if figures[name])


def _table(heads: dict[str, str], rows: list[dict[str, Any]]) -> str:
    lines = [f"| {' | '.join(heads.values())} |", f"| --- |{' ---: |' * (len(heads) - 1)}"]
    lines += [f"| {' | '.join(str(row[name]) for name in heads)} |" for row in rows]
    return "\n".join(lines)


def filled(text: str) -> str:
    """The page with the figures in it."""
    before, _, rest = text.partition(BEGIN)
    _, _, after = rest.partition(END)
    return f"{before}{BEGIN}\n\n{block()}\n\n{END}{after}"


if __name__ == "__main__":
    PAGE.write_text(filled(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
