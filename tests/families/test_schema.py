import dataclasses
import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from jsonschema import Draft202012Validator
from pydantic import BaseModel

from families.places import FAMILIES, NAMES, plain
from needlewright.families import schema
from needlewright.families.model import ECCENTRICITY_MM, Movement, Needle
from needlewright.families.notes import EXPECTED, EXPECTED_INSIDE
from strategies import family_documents

COMMITTED = Path(__file__).parents[2] / "docs" / "family.schema.json"
MODELS = [
    model
    for model in vars(schema).values()
    if isinstance(model, type)
    and issubclass(model, BaseModel)
    and model.__module__ == schema.__name__
]


def validator() -> Draft202012Validator:
    return Draft202012Validator(json.loads(COMMITTED.read_text(encoding="utf-8")))


def test_the_committed_schema_is_what_the_code_exports() -> None:
    assert json.loads(COMMITTED.read_text(encoding="utf-8")) == schema.json_schema()


def test_it_is_a_sound_schema() -> None:
    Draft202012Validator.check_schema(schema.json_schema())


@pytest.mark.parametrize("name", NAMES)
def test_it_accepts_the_real_families(name: str) -> None:
    document = json.loads((FAMILIES / name / "family.json").read_text(encoding="utf-8"))
    assert [error.message for error in validator().iter_errors(document)] == []


@settings(max_examples=40)
@given(family_documents())
def test_it_accepts_what_the_code_accepts(document: dict[str, Any]) -> None:
    assert validator().is_valid(document)


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("name",), ""),
        (("dials",), []),
        (("px_per_mm",), 0),
        (("dials", 0, "unit"), "knots"),
        (("dials", 0, "direction"), "clockwise"),
        (("dials", 0, "id"), "two words"),
        (("dials", 0, "scale"), [[0, 1]]),
        (("dials", 0, "rest_pin"), 1),
        (("dials", 0, "needle", "length_mm"), -1),
        (("dials", 0, "rule"), "un-r40"),
        (("dials", 0, "rule"), {"house": {"of_span": 0.01, "of_graduation": 0.5}}),
        (("dials", 0, "rule"), {"house": {}}),
        (("dials", 0, "movement"), {"kind": "clockwork"}),
        (("refit",), 3),
    ],
)
def test_it_refuses_what_the_code_refuses(path: tuple[Any, ...], value: Any) -> None:
    document = plain()
    node: Any = document
    for step in path[:-1]:
        node = node[step]
    node[path[-1]] = value
    assert not validator().is_valid(document)
    with pytest.raises(ValueError, match=r"1 validation error|2 validation errors"):
        schema.FamilyFile.model_validate(document)


def test_core_fields_and_no_others_are_required() -> None:
    """The core of the contract; everything else is optional."""
    required = {
        model.__name__: set(model.model_json_schema()["required"])
        for model in (schema.FamilyFile, schema.DialFile, schema.NeedleFile)
    }
    assert required == {
        "FamilyFile": {"name", "face_size_mm", "px_per_mm", "dials"},
        "DialFile": {
            "id",
            "quantity",
            "unit",
            "centre_mm",
            "scale",
            "direction",
            "rest_angle_deg",
            "rest_pin",
            "needle",
        },
        "NeedleFile": {
            "length_mm",
            "tail_mm",
            "base_width_mm",
            "tip_width_mm",
            "hub_radius_mm",
            "height_mm",
            "thickness_mm",
        },
    }


def test_every_field_says_what_belongs_into_it() -> None:
    fields = {field for model in MODELS for field in model.model_fields}
    assert set(EXPECTED) == fields
    assert set(EXPECTED_INSIDE) <= fields


def test_defaults_are_the_same_in_the_file_and_in_the_model() -> None:
    for file_model, record in ((schema.NeedleFile, Needle), (schema.MovementFile, Movement)):
        stated = {name: field.default for name, field in file_model.model_fields.items()}
        for field in dataclasses.fields(record):
            if field.default is not dataclasses.MISSING:
                assert stated[field.name] == field.default, field.name
    assert schema.FamilyFile.model_fields["eccentricity_mm"].default == ECCENTRICITY_MM == 0.15
