"""Where a command speaks: tables and sentences to people, JSON to programs, errors to stderr."""

import json
from typing import Any

from rich.console import Console
from rich.padding import Padding
from rich.text import Text

out = Console(highlight=False, soft_wrap=True)
err = Console(stderr=True, highlight=False, soft_wrap=True)


def say_error(sentence: str) -> None:
    """One sentence on standard error, without markup."""
    err.print(f"needlewright: {sentence}", markup=False)


def say_indented(line: str) -> None:
    """A line under a heading: wrapped under itself on a terminal, unbroken where it is piped."""
    if out.is_terminal:
        out.print(Padding(Text(line), (0, 0, 0, 4), expand=False), soft_wrap=False)
    else:
        out.print(Text(f"    {line}"))


def emit_json(document: Any) -> None:
    """A JSON document on standard output; NaN and infinity are refused."""
    print(json.dumps(document, ensure_ascii=False, allow_nan=False))
