"""A proof as one JSON document, and the schema of that document."""

from typing import Any, Final

from pydantic import TypeAdapter

from needlewright.proofs.proof_model import Proof

FORMAT: Final = "needlewright proof 1"
"""Stands in every document; a later form gets a later number."""

_ADAPTER: Final = TypeAdapter(Proof)


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
    content: dict[str, Any] = _ADAPTER.dump_python(proof, mode="json")
    return {"format": FORMAT, **content}


def proof_schema() -> dict[str, Any]:
    """The JSON Schema of `proof_document`."""
    schema = _ADAPTER.json_schema(mode="serialization")
    properties = {"format": {"const": FORMAT}, **schema["properties"]}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **schema,
        "title": "Needlewright proof",
        "properties": properties,
        "required": ["format", *schema["required"]],
        "additionalProperties": False,
    }
