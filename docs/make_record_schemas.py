"""Write the schemas of what commands on the records print: `python docs/make_record_schemas.py`.

They are made from the records' own types, so that they cannot drift; a test holds the files against
this script.
"""

import json
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter

from needlewright.composing.finding_model import JobFindings
from needlewright.composing.guide_marks import GuideMarks
from needlewright.composing.rebuild_model import JobRebuild
from needlewright.composing.rereading import Rereading
from needlewright.composing.shop_record import ShopRecord
from needlewright.composing.stock import JobNeeds, ToReorder
from needlewright.composing.stock_batches import BatchRecord
from needlewright.records import views
from needlewright.records.views import stock as stock_views
from needlewright.records.views.burn_ins import BurnInView
from needlewright.records.views.shop_guides import ShopGuideView

FOLDER = Path(__file__).parent / "json"
RUN = FOLDER / "run.schema.json"


def schemas() -> dict[str, dict[str, Any]]:
    """Every schema by the name of its file."""
    return {
        "job-sheet": _of(views.JobSheet, "One job: everything but its readings."),
        "jobs-list": _of(views.Shelf, "A part of the shelf; `count` is of the whole."),
        "jobs-findings": _of(JobFindings, "What a job's cluster has, and what to do next."),
        "jobs-steps": _of(JobRebuild, "The work of a job's plan, and what is ticked of it."),
        "jobs-guide": _of(GuideMarks, "A guide in a job, line by line, and what is marked on it."),
        "jobs-undo": _of(views.Undone, "What was taken back."),
        "jobs-history": _listed("edits", views.EditView, "What was saved on a job, newest first."),
        "jobs-plan": _plan(),
        "jobs-burn-ins": _listed("burn_ins", BurnInView, "The burn-ins of a job, in time."),
        "job-run": _run(),
        "job-paper": _paper("A paper that was issued, and the copies made of its files."),
        "jobs-papers": _papers(),
        "shop-show": _shop(),
        "shop-guides": _listed(
            "guides", ShopGuideView, "Guides of the shop's own, for its own operations."
        ),
        "shop-person": _listed("people", views.PersonView, "Who works, or worked, in the shop."),
        "shop-instrument": _listed("instruments", views.InstrumentView, "The shop's instruments."),
        "shop-family": _listed("families", views.FamilyView, "The newest version of each family."),
        "shop-families": _versions(),
        "family-import": _import(),
        "jobs-reread": _reread(),
        "shop-catalogue": _catalogue(),
        "shop-check": _of(views.ShopCheck, "What verifying the records found."),
        **_stock(),
        "backup": _of(views.BackupSummary, "What a backup holds; every hash was verified."),
    }


def _of(kind: type, says: str) -> dict[str, Any]:
    return _closed(TypeAdapter(kind).json_schema(mode="serialization"), says)


def _listed(name: str, kind: type, says: str) -> dict[str, Any]:
    schema = TypeAdapter(list[kind]).json_schema(mode="serialization")  # type: ignore[valid-type]
    return _wrapped({name: schema}, says)


def _paper(says: str) -> dict[str, Any]:
    texts = {"type": "array", "items": {"type": "string"}}
    return _wrapped(
        {
            "paper": TypeAdapter(views.PaperView).json_schema(mode="serialization"),
            "why_not": texts,
            "exceptions": texts,
            "files": _FILES,
        },
        says,
    )


def _papers() -> dict[str, Any]:
    paper = TypeAdapter(views.PaperView).json_schema(mode="serialization")
    one = {
        "type": "object",
        "properties": {"paper": paper, "files": _FILES},
        "required": ["paper", "files"],
        "additionalProperties": False,
    }
    return _wrapped({"papers": {"type": "array", "items": one}}, "The papers of a job.")


def _plan() -> dict[str, Any]:
    plan = TypeAdapter(views.PlanView).json_schema(mode="serialization")
    return _wrapped(
        {"plan": plan, "files": _FILES},
        "A plan of a job as it was kept, and what was accepted of it; `document` is one of "
        "plan.schema.json without `files` and `kept`.",
    )


def _catalogue() -> dict[str, Any]:
    return _wrapped(
        {
            "name": {"type": "string", "description": "Of the text that is planned with."},
            "sha256": {"type": "string", "description": "Of that text; plans name it."},
            "is_own": {"type": "boolean", "description": "False: it comes with the program."},
            "set": TypeAdapter(list[views.CatalogueView]).json_schema(mode="serialization"),
            "file": {"type": ["string", "null"], "description": "Where the text was written to."},
        },
        "Which catalogue the shop plans with, and all that were set, newest first.",
    )


def _versions() -> dict[str, Any]:
    schema = TypeAdapter(list[views.FamilyView]).json_schema(mode="serialization")
    one = schema["$defs"]["FamilyView"]
    one["properties"]["differs"] = {
        "type": "array",
        "items": {"type": "string"},
        "description": "What it changed of the version before it; empty for the first.",
    }
    one["required"].append("differs")
    return _wrapped({"versions": schema}, "Versions of families, each family's newest first.")


def _shop() -> dict[str, Any]:
    schema = TypeAdapter(views.Settings).json_schema(mode="serialization")
    record = TypeAdapter(ShopRecord).json_schema(mode="serialization")
    schema.setdefault("$defs", {}).update(record.pop("$defs"))
    schema["properties"]["findings"] = {
        **record,
        "description": "Of `shop show`: how often what was said of its returned jobs was so.",
    }
    return _closed(schema, "The shop's settings; an empty text: not stated.")


def _import() -> dict[str, Any]:
    kept = TypeAdapter(views.FamilyView | None).json_schema(mode="serialization")
    text, folder = {"type": "string"}, {"type": ["string", "null"]}
    return _wrapped(
        {"file": text, "family": text, "folder": folder, "version": kept},
        "A family that was taken in: `folder` where it went into one, `version` where it went into "
        "the shop.",
    )


def _reread() -> dict[str, Any]:
    schema = TypeAdapter(Rereading).json_schema(mode="serialization")
    needle = schema["$defs"]["RereadNeedle"]
    needle["properties"]["turn_deg"] = {
        "type": ["number", "null"],
        "description": "How far the direction differs, positive clockwise.",
    }
    needle["required"].append("turn_deg")
    return _closed(schema, "A run's photos read once more by another version of its family.")


def _run() -> dict[str, Any]:
    """The document of `needlewright run` without its file, and what is kept of the run."""
    run = json.loads(RUN.read_text(encoding="utf-8"))
    sheet = TypeAdapter(views.RunSheet).json_schema(mode="serialization")
    missing = {
        "type": "array",
        "items": {"type": "string"},
        "description": "What keeps the part of the work from being finished.",
    }
    rows = {name: run["properties"][name] for name in ("run", "rows", "remarks")}
    return _wrapped(
        {**rows, "sheet": sheet, "missing": missing},
        "A run of a job: its rows, the photos and readings behind them, and what is missing.",
        run.get("$defs", {}),
    )


def _stock() -> dict[str, dict[str, Any]]:
    part = TypeAdapter(stock_views.StockPartView)
    used = TypeAdapter(list[stock_views.UsedPartView])
    moves = TypeAdapter(list[stock_views.StockMoveView])
    text = {"type": "string"}
    return {
        "stock-list": _listed("parts", stock_views.StockPartView, "Parts in stock."),
        "stock-part": _of(stock_views.StockPartView, "A part in stock, as it now is."),
        "stock-used": _wrapped(
            {"tag": text, "parts": used.json_schema(mode="serialization")},
            "What is used in a job and was not given back.",
        ),
        "stock-history": _wrapped(
            {
                "part": part.json_schema(mode="serialization"),
                "moves": moves.json_schema(mode="serialization"),
            },
            "The ledger of a part, oldest line first.",
        ),
        "stock-reorder": _listed("parts", ToReorder, "What is to be ordered."),
        "stock-batch": _listed("batches", BatchRecord, "Batches of a part, and their jobs."),
        "stock-needs": _of(JobNeeds, "What a job's plan needs, against the stock."),
        "stock-import": _of(stock_views.StockImport, "What a list that was taken in did."),
        "stock-export": _wrapped(
            {
                "file": {"type": ["string", "null"], "description": "Null: none was written."},
                "parts": {"type": "integer"},
                "table": text,
            },
            "The list of parts as CSV.",
        ),
        "stock-label": _wrapped(
            {"part": part.json_schema(mode="serialization"), "file": text},
            "A label that was written.",
        ),
    }


_FILES = {
    "type": "object",
    "additionalProperties": {"type": "string"},
    "description": "Copies that were made, by what they are.",
}


def _wrapped(
    properties: dict[str, Any], says: str, defs: dict[str, Any] | None = None
) -> dict[str, Any]:
    gathered = dict(defs or {})
    for schema in properties.values():
        gathered |= schema.pop("$defs", {})
    whole = {"type": "object", "properties": properties, "required": list(properties)}
    return _closed({**whole, "$defs": gathered}, says)


def _closed(schema: dict[str, Any], says: str) -> dict[str, Any]:
    for part in (schema, *schema.get("$defs", {}).values()):
        if "properties" in part:
            part["additionalProperties"] = False
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **schema,
        "description": says,
    }


def text(schema: dict[str, Any]) -> str:
    """As it stands in its file."""
    return json.dumps(schema, indent=2, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    for name, schema in schemas().items():
        (FOLDER / f"{name}.schema.json").write_text(text(schema), encoding="utf-8")
