"""Put the measured figures of named faults into docs/findings.md.

`benchmarks/findings.py --json docs/measured/findings.json` writes the tables; this script copies
them between the two comments of the page, and says where they fall short. Nobody types a figure
there.
"""

import json
import textwrap
from pathlib import Path
from typing import Any

DOCS = Path(__file__).parent
PAGE = DOCS / "findings.md"
FEW = 10
"""A bin of fewer dials says nothing of its own."""
SHORT_OF = 0.9
WIDTH = 106
BEGIN, END = "<!-- measured: begin -->", "<!-- measured: end -->"


def block() -> str:
    """What stands between the comments."""
    document = json.loads((DOCS / "measured" / "findings.json").read_text(encoding="utf-8"))
    tables = document["tables"]
    rows = {table["title"]: table["rows"] for table in tables}
    said = how_sure(rows["is what is called probable true as often?"])
    short = too_narrow(rows["sizes of faults named rightly"])
    return "\n\n".join(
        [*map(_table, tables), *(textwrap.fill(one, WIDTH) for one in (said, short))]
    )


def how_sure(bins: list[list[str]]) -> str:
    """How sure the answers below the top bin are, against how often they are right."""
    below = [(int(dials), float(said), float(right)) for _, dials, said, right in bins[:-1]]
    dials = sum(number for number, _, _ in below)
    said, right = (sum(one[0] * one[i] for one in below) / dials for i in (1, 2))
    top = int(bins[-1][1])
    worst = max((float(s) - float(r), s, r) for _, n, s, r in bins if int(n) >= FEW)
    return (
        f"Of {dials + top} dials {dials} got an answer below 0.9; it said {said:.2f} on average "
        f"and was right for {right:.2f}, at worst {worst[1]} said and {worst[2]} right: take such "
        "an answer for the first thing to look at, not for a result."
    )


def too_narrow(sizes: list[list[str]]) -> str:
    """The faults whose U holds the true size less often than it should, if there are any."""
    short = [f"`{fault}` ({share})" for fault, _, share in sizes if float(share) < SHORT_OF]
    if not short:
        least = min(float(share) for _, _, share in sizes)
        return (
            f"U (k = 2, meant for 0.95) holds the true size in {least:.2f} or more of each fault."
        )
    return (
        f"**U (k = 2, meant for 0.95) holds the true size of these less often:** "
        f"{', '.join(short)}."
    )


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
