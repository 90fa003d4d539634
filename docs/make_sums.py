"""Writes the table of sums in docs/sums.md out of the catalogue."""

from pathlib import Path
from typing import Any

from needlewright.plans.sums.bench_units import for_people
from needlewright.plans.sums.catalogue import SUMS
from needlewright.plans.sums.model import Amount, Choice, Input, Line, Sum
from needlewright.plans.sums.wording import default_words, limit

PAGE = Path(__file__).parent / "sums.md"
BEGIN, END = "<!-- sums: docs/make_sums.py -->\n", "<!-- end of sums -->\n"


def table() -> str:
    """The list of sums, then a section for each."""
    rows = "\n".join(f"| [`{one.name}`](#{_anchor(one)}) | {one.title} |" for one in SUMS)
    sections = "\n".join(_section(one) for one in SUMS)
    return f"\n| sum | |\n| --- | --- |\n{rows}\n\n{sections}"


def _anchor(which: Sum[Any]) -> str:
    kept = (letter for letter in which.title.lower() if letter.isalnum() or letter in " -")
    return "".join(kept).replace(" ", "-")


def _section(which: Sum[Any]) -> str:
    rows = "\n".join(f"| `--{one.name}` | {one.words} | {_limits(one)} |" for one in which.inputs)
    cautions = "".join(f"\n**Caution.** {caution}\n" for caution in which.cautions)
    return (
        f"## {which.title}\n\n{which.what_for}\n\n"
        f"| input | | from, to; where not given |\n| --- | --- | --- |\n{rows}\n\n"
        f"**Good for.** {which.limits}\n\n**Source.** {which.source}.\n{cautions}"
    )


def _limits(one: Input) -> str:
    if isinstance(one, Amount):
        unit = f" {for_people(one.unit)}".rstrip()
        default = (
            "may be left empty" if one.default is None else f"{default_words(one.default)}{unit}"
        )
        return f"{limit(one.least)} to {limit(one.most)}{unit}; {default}"
    if isinstance(one, Choice):
        return f"{', '.join(f'`{name}`' for name, _ in one.choices)}; `{one.default}`"
    if isinstance(one, Line):
        return f"a text; `{one.example}`"
    return "a file; an example"


def filled(page: str) -> str:
    """The page with the table as the catalogue now has it."""
    before, _, rest = page.partition(BEGIN)
    _, _, after = rest.partition(END)
    return f"{before}{BEGIN}{table()}{END}{after}"


if __name__ == "__main__":
    PAGE.write_text(filled(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
