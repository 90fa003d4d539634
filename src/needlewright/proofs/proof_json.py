"""A proof as one JSON document, and the schema of that document."""

from typing import Any, Final

from pydantic import TypeAdapter

from needlewright.proofs.proof_model import Comparison, Proof

FORMAT: Final = "needlewright proof 1"
"""Stands in every document; a later form gets a later number."""

COMPARISON_FORMAT: Final = "needlewright before-after 1"

_PROOF: Final = TypeAdapter(Proof)
_COMPARISON: Final = TypeAdapter(Comparison)


def proof_document(proof: Proof) -> dict[str, Any]:
    """A proof as a JSON document.

    Parameters
    ----------
    proof
        The proof.

    Returns
    -------
    dict
        Numbers, texts, lists and objects only; days as `2026-03-02`.
    """
    return {"format": FORMAT, **_PROOF.dump_python(proof, mode="json")}


def comparison_document(comparison: Comparison) -> dict[str, Any]:
    """Two runs side by side as a JSON document; its dials are those of a proof's document."""
    return {"format": COMPARISON_FORMAT, **_COMPARISON.dump_python(comparison, mode="json")}


def proof_schema() -> dict[str, Any]:
    """The JSON Schema of `proof_document`; a command adds where it filed the papers."""
    files = {
        "type": "object",
        "additionalProperties": {"type": "string"},
        "description": "On standard output only: the files, by what they are.",
    }
    schema = _PROOF.json_schema(mode="serialization")
    return _schema("Needlewright proof", FORMAT, schema, files=files)


def comparison_schema() -> dict[str, Any]:
    """The JSON Schema of `comparison_document`; a command adds the file it wrote."""
    out = {"type": ["string", "null"], "description": "The file that was written."}
    schema = _COMPARISON.json_schema(mode="serialization")
    return _schema("Needlewright before and after", COMPARISON_FORMAT, schema, out=out)


def _schema(
    title: str, document_format: str, schema: dict[str, Any], **more: Any
) -> dict[str, Any]:
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **schema,
        "title": title,
        "properties": {"format": {"const": document_format}, **schema["properties"], **more},
        "required": ["format", *schema["required"]],
        "additionalProperties": False,
    }
