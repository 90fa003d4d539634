"""The tables, as classes. Nothing outside `records` sees them."""

from needlewright.records.tables.base import Base
from needlewright.records.tables.board import BoardPhoto, BoardPin
from needlewright.records.tables.burn_ins import BurnIn, BurnInLine, BurnInPicture
from needlewright.records.tables.edits import Edit, EditValue
from needlewright.records.tables.findings import Analysis, FindingAnswer, Opinion
from needlewright.records.tables.jobs import (
    Cluster,
    Decision,
    Job,
    JobPhoto,
    Note,
    Received,
    Returned,
    StageEvent,
)
from needlewright.records.tables.papers import Paper
from needlewright.records.tables.plans import JobPlan, PlanAcceptance, ShopCatalogue
from needlewright.records.tables.runs import BenchRun, RunPhoto, RunReading, RunRowTold
from needlewright.records.tables.shop import (
    FamilyFile,
    FamilyVersion,
    Instrument,
    Original,
    Person,
    ShopSettings,
)
from needlewright.records.tables.shop_guides import ShopGuide
from needlewright.records.tables.stock import StockBatch, StockMove, StockPart
from needlewright.records.tables.sweeps import Sweep
from needlewright.records.tables.ticks import Tick

__all__ = [
    "Analysis",
    "Base",
    "BenchRun",
    "BoardPhoto",
    "BoardPin",
    "BurnIn",
    "BurnInLine",
    "BurnInPicture",
    "Cluster",
    "Decision",
    "Edit",
    "EditValue",
    "FamilyFile",
    "FamilyVersion",
    "FindingAnswer",
    "Instrument",
    "Job",
    "JobPhoto",
    "JobPlan",
    "Note",
    "Opinion",
    "Original",
    "Paper",
    "Person",
    "PlanAcceptance",
    "Received",
    "Returned",
    "RunPhoto",
    "RunReading",
    "RunRowTold",
    "ShopCatalogue",
    "ShopGuide",
    "ShopSettings",
    "StageEvent",
    "StockBatch",
    "StockMove",
    "StockPart",
    "Sweep",
    "Tick",
]
