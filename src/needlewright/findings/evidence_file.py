"""Evidence as JSON: what one command saw, for another to go by."""

import json
from collections.abc import Iterable
from pathlib import Path
from typing import Annotated, Any, Final

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, ValidationError

from needlewright.errors import KnowledgeError
from needlewright.findings.evidence import Evidence
from needlewright.settings_trouble import first_wrong

MOST_BYTES: Final = 2_000_000
MOST_PIECES: Final = 1000
LISTED: Final = "evidence"
"""Key under which the document of a command has its list."""


class _Piece(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, strict=True)

    finding: Annotated[str, Field(min_length=1)]
    dial: str | None
    ratio: Annotated[float, Field(gt=0)]
    words: Annotated[str, Field(min_length=1)]
    seen_in: Annotated[str, Field(min_length=1)]
    size: float | None = None
    u_size: Annotated[float, Field(ge=0)] | None = None
    unit: str | None = None
    part: str | None = None
    analysis: str | None = None


_LIST: Final = TypeAdapter(Annotated[list[_Piece], Field(max_length=MOST_PIECES)])


def read_evidence_file(path: Path) -> tuple[Evidence, ...]:
    """Read evidence from a file.

    Parameters
    ----------
    path
        JSON: a list of pieces, or a document of a command with that list under `evidence`.

    Returns
    -------
    tuple of Evidence
        In the order of the file.

    Raises
    ------
    KnowledgeError
        If it cannot be read, or a piece is not as `docs/json/evidence.schema.json` says.
    """
    try:
        with path.open("rb") as file:
            content = file.read(MOST_BYTES + 1)
    except OSError as error:
        raise KnowledgeError(f"{path}: cannot be opened: {error.strerror or error}") from error
    if len(content) > MOST_BYTES:
        raise KnowledgeError(f"{path}: more than {MOST_BYTES} bytes are no evidence")
    return parse_evidence(str(path), content)


def is_of_runs(path: Path) -> bool:
    """Whether a file is a document of explained runs, whose rows are weighed as runs alone.

    Parameters
    ----------
    path
        That `read_evidence_file` has read.

    Returns
    -------
    bool
        True where it holds `runs`.
    """
    document = json.loads(path.read_bytes().decode("utf-8-sig"))
    return isinstance(document, dict) and "runs" in document


def parse_pieces(name: str, pieces: Iterable[Any]) -> tuple[Evidence, ...]:
    """Check pieces of evidence that were kept as their documents.

    Parameters
    ----------
    name
        What they are called in a sentence.
    pieces
        As `evidence_documents` makes them.

    Returns
    -------
    tuple of Evidence
        In their order.

    Raises
    ------
    KnowledgeError
        As `read_evidence_file`.
    """
    return parse_evidence(name, json.dumps(list(pieces)).encode())


def parse_evidence(name: str, content: bytes) -> tuple[Evidence, ...]:
    """Check the text of an evidence file.

    Parameters
    ----------
    name
        What it is called in a sentence.
    content
        JSON in UTF-8.

    Returns
    -------
    tuple of Evidence
        In the order of the file.

    Raises
    ------
    KnowledgeError
        As `read_evidence_file`.
    """
    try:
        document = json.loads(content.decode("utf-8-sig"))
    except (UnicodeDecodeError, json.JSONDecodeError, RecursionError) as error:
        raise KnowledgeError(
            f"{name}: is no JSON{_place(error)}; give the --json of `sweep`, `light`, `in-vehicle` "
            "or `explain`, or a list of evidence"
        ) from error
    if isinstance(document, dict):
        if LISTED not in document:
            raise KnowledgeError(
                f"{name}: has no list under '{LISTED}'; give a list of evidence, or the --json of "
                "a command that has one"
            )
        document = document[LISTED]
    try:
        pieces = _LIST.validate_python(document)
    except ValidationError as error:
        raise KnowledgeError(f"{name}: evidence {first_wrong(error, 'key')}") from error
    try:
        return tuple(Evidence(**piece.model_dump()) for piece in pieces)
    except KnowledgeError as error:
        raise KnowledgeError(f"{name}: {error}") from error


def _place(error: Exception) -> str:
    return f" from line {error.lineno} on" if isinstance(error, json.JSONDecodeError) else ""


def evidence_documents(pieces: Iterable[Evidence]) -> list[dict[str, Any]]:
    """Evidence as a list for JSON, as it is read again.

    Parameters
    ----------
    pieces
        In any order.

    Returns
    -------
    list of dict
        As `docs/json/evidence.schema.json` says; the ratio to six significant digits.
    """
    return [
        {
            "finding": one.finding,
            "dial": one.dial,
            "ratio": float(f"{one.ratio:.6g}"),
            "words": one.words,
            "seen_in": one.seen_in,
            "size": one.size,
            "u_size": one.u_size,
            "unit": one.unit,
            "part": one.part,
            "analysis": one.analysis,
        }
        for one in pieces
    ]
