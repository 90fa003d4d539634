"""The JSON beside a paper: it fits its schema, and the schema in docs is the one exported."""

import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator, ValidationError

from needlewright.proofs.certificate import compare, report_as_found
from needlewright.proofs.proof_json import (
    comparison_document,
    comparison_schema,
    proof_document,
    proof_schema,
)
from proofs.drawn_job import FAMILY
from proofs.proof_job import job, measured, proof

DOCS = Path(__file__).parents[2] / "docs" / "json"


def through_json(document):
    return json.loads(json.dumps(document, allow_nan=False))


@pytest.mark.parametrize("made", [proof(), report_as_found(FAMILY, job(), measured("as-found"))])
def test_a_proof_fits_its_schema(made):
    Draft202012Validator(proof_schema()).validate(through_json(proof_document(made)))


def test_a_comparison_fits_its_schema():
    made = compare(FAMILY, measured("as-found"), measured("as-left"))
    Draft202012Validator(comparison_schema()).validate(through_json(comparison_document(made)))


def test_the_schema_refuses_what_is_missing_or_unknown():
    document = through_json(proof_document(proof()))
    for broken in ({**document, "extra": 1}, {k: v for k, v in document.items() if k != "number"}):
        with pytest.raises(ValidationError):
            Draft202012Validator(proof_schema()).validate(broken)


@pytest.mark.parametrize(
    ("name", "schema"), [("proof", proof_schema()), ("before-after", comparison_schema())]
)
def test_the_documented_schema_is_the_exported_one(name, schema):
    documented = json.loads((DOCS / f"{name}.schema.json").read_text(encoding="utf-8"))
    assert documented == through_json(schema)
