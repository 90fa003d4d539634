"""Writes the table of operations in docs/api.md out of the API's own description."""

from pathlib import Path
from tempfile import TemporaryDirectory

from needlewright.web.api.schema import describe
from needlewright.web.app import create_app

PAGE = Path(__file__).parent / "api.md"
BEGIN, END = "<!-- operations: docs/make_api.py -->\n", "<!-- end of operations -->\n"


def operations() -> str:
    """Rows of the table, in the order of the API."""
    with TemporaryDirectory() as folder:
        document = describe(create_app(Path(folder), read_photos=False))
    rows = ["| operation | does |", "| --- | --- |"]
    for path, methods in document["paths"].items():
        for method, operation in methods.items():
            does = " ".join(operation["description"].split())
            rows.append(f"| `{method.upper()} {path}` | {does} |")
    return "\n".join(rows) + "\n"


def main() -> None:
    """Put the table in its place."""
    text = PAGE.read_text(encoding="utf-8")
    before, _, rest = text.partition(BEGIN)
    _, _, after = rest.partition(END)
    PAGE.write_text(f"{before}{BEGIN}{operations()}{END}{after}", encoding="utf-8")


if __name__ == "__main__":
    main()
