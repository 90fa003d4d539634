"""Put the measured figures of told and shown into docs/in-vehicle.md.

`benchmarks/in_vehicle.py --json docs/measured/in-vehicle.json` writes the tables; this script
copies them between the two comments of the page, and draws the page's picture from a rehearsed
drive. Nobody types a figure there.
"""

import json
from importlib.resources import files
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from needlewright.cli.main import run

DOCS = Path(__file__).parent
PAGE = DOCS / "in-vehicle.md"
PICTURE = DOCS / "pictures" / "in-vehicle.svg"
FAMILY = str(files("needlewright") / "demo_data" / "family")
FAULT = "engine:needle_offset=-9"
BEGIN, END = "<!-- measured: begin -->", "<!-- measured: end -->"


def block() -> str:
    """What stands between the comments."""
    document = json.loads((DOCS / "measured" / "in-vehicle.json").read_text(encoding="utf-8"))
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


def draw() -> None:
    """Draw the picture: an engine needle that was turned on its shaft, the others sound."""
    with TemporaryDirectory() as folder:
        out = Path(folder) / "drive"
        _called("rehearse", "drive", "--family", FAMILY, "--out", str(out), "--fault", FAULT)
        log, *photos = map(str, (out / "port.csv", out / "dash-1.jpg", out / "dash-2.jpg"))
        _called(*("in-vehicle", "--family", FAMILY, "--log", log, "--out", str(PICTURE), *photos))


def _called(*words: str) -> None:
    try:
        run([*words, "--json"])
    except SystemExit as left:
        if left.code:
            raise


if __name__ == "__main__":
    draw()
    PAGE.write_text(filled(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
