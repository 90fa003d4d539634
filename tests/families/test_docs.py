from pathlib import Path

from pydantic import BaseModel

from needlewright.families import content, schema
from needlewright.families.content import MAX_FILE_BYTES, MAX_FILES
from needlewright.families.face import MAX_PIXELS, MAX_SIDE_PX, MIN_SIDE_PX
from needlewright.families.jsonfile import MAX_BYTES
from needlewright.families.packing import FORMAT_VERSION
from needlewright.families.scale import BEYOND_DEG
from needlewright.rules.book import rule_for
from needlewright.units import UNITS

DOCS = Path(__file__).parents[2] / "docs"


def test_every_field_is_described() -> None:
    page = (DOCS / "families.md").read_text(encoding="utf-8")
    models = [
        model
        for model in vars(schema).values()
        if isinstance(model, type) and issubclass(model, BaseModel)
    ]
    fields = {field for model in models for field in model.model_fields}
    assert len(fields) > 40
    missing = {field for field in fields if f"`{field}`" not in page and f'"{field}"' not in page}
    assert missing == set()


def test_the_limits_are_those_of_the_code() -> None:
    page = (DOCS / "families.md").read_text(encoding="utf-8")
    assert f"{MIN_SIDE_PX} to {MAX_SIDE_PX:,} px a side" in page
    assert f"at most {MAX_PIXELS // 1_000_000} million pixels" in page
    assert f"at most {MAX_BYTES / 1e6:g} MB" in page
    conventions = (DOCS / "conventions.md").read_text(encoding="utf-8")
    assert f"for {BEYOND_DEG:g} degrees of needle" in conventions


def test_every_unit_is_listed() -> None:
    for name in ("families.md", "conventions.md"):
        page = (DOCS / name).read_text(encoding="utf-8")
        assert [unit for unit in UNITS if f"`{unit}`" not in page] == []


def test_the_example_rules_are_rules() -> None:
    page = (DOCS / "families.md").read_text(encoding="utf-8")
    for kind, share in (("of_span", 0.01), ("of_graduation", 0.5)):
        assert f'`{{"house": {{"{kind}": {share}}}}}`' in page
        rule = rule_for({"house": {kind: share}}, unit="V", scale_values=(8, 16), graduation=1.0)
        assert rule.code == "house"


def test_the_limits_of_a_file_are_those_of_the_code() -> None:
    page = (DOCS / "families.md").read_text(encoding="utf-8")
    assert f"more than {MAX_FILES} files, {MAX_FILE_BYTES // 1_000_000} MB in one or " in page
    assert f"{content.MAX_BYTES // 1_000_000} MB in all" in page
    assert f"(`format_version` {FORMAT_VERSION})" in page
