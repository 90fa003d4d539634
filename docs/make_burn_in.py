"""Put what a burn-in sees of slow and small changes, and of old faults, into docs/burn-in.md.

`benchmarks/burn_in.py --json docs/measured/burn_in.json` writes the figures, and so does
`benchmarks/burn_in_start.py`; this script copies them between comments of the page. Nobody types a
figure there.
"""

import json
from pathlib import Path
from typing import Any

DOCS = Path(__file__).parent
PAGE = DOCS / "burn-in.md"
BEGIN, END = "<!-- measured: begin -->", "<!-- measured: end -->"
START_BEGIN, START_END = "<!-- start: begin -->", "<!-- start: end -->"
NUMBERS = {
    "kind": "movement",
    "fault": "fault, deg",
    "reversal": "largest difference, deg",
    "0.005": "named in 2 / 3 / 6 / 25 visits, looks that scatter by 0.005°",
    "0.05": "by 0.05°",
    "first look": "by its first look alone",
}
CAMERA = {
    "drag": "drawn: drag, deg",
    "visits": "visits",
    "reversals": "differences, deg",
    "first": "first looks off, deg",
    "differs": "points that differ",
    "off": "that stand off",
    "others": "of other dials",
}
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


Parts = tuple[tuple[dict[str, str], str], ...]
BLOCKS: tuple[tuple[str, str, str, Parts], ...] = (
    (BEGIN, END, "burn_in", ((DRIFT, "drift"), (SCATTER, "scatter"), (SWEEPS, "sweeps"))),
    (START_BEGIN, START_END, "burn_in_start", ((NUMBERS, "numbers"), (CAMERA, "camera"))),
)


def block(name: str, parts: Parts) -> str:
    """What stands between two comments."""
    figures = json.loads((DOCS / "measured" / f"{name}.json").read_text(encoding="utf-8"))
    return "\n\n".join(_table(heads, figures[part]) for heads, part in parts if figures[part])


def _table(heads: dict[str, str], rows: list[dict[str, Any]]) -> str:
    lines = [f"| {' | '.join(heads.values())} |", f"| --- |{' ---: |' * (len(heads) - 1)}"]
    lines += [f"| {' | '.join(str(row[name]) for name in heads)} |" for row in rows]
    return "\n".join(lines)


def filled(text: str) -> str:
    """The page with the figures in it."""
    for begin, end, name, parts in BLOCKS:
        before, _, rest = text.partition(begin)
        _, _, after = rest.partition(end)
        text = f"{before}{begin}\n\n{block(name, parts)}\n\n{end}{after}"
    return text


if __name__ == "__main__":
    PAGE.write_text(filled(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
