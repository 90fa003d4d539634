"""Where a command speaks: tables and sentences to people, JSON to programs, errors to stderr."""

import json
from typing import Any

from rich.console import Console

out = Console(highlight=False, soft_wrap=True)
err = Console(stderr=True, highlight=False, soft_wrap=True)


def say_error(sentence: str) -> None:
    """One sentence on standard error, without markup."""
    err.print(f"needlewright: {sentence}", markup=False)


def emit_json(document: Any) -> None:
    """A JSON document on standard output; NaN and infinity are refused."""
    print(json.dumps(document, ensure_ascii=False, allow_nan=False))
