"""The knowledge file as it is written: its tables, each entry with its source."""

from typing import Annotated

from pydantic import Field

from needlewright.findings.signatures.run_tables import RunTables
from needlewright.findings.troubleshooting.file_tables import (
    CauseTable,
    Closed,
    FindingTable,
    PartTable,
    PointingTable,
    RemedyTable,
    WorkTable,
)


class KnowledgeTables(Closed):
    """All of the file; without `run`, nothing in it is of runs."""

    prior_weight: Annotated[float, Field(gt=0)]
    work: WorkTable
    pointing: PointingTable
    part: dict[str, PartTable]
    cause: dict[str, CauseTable] = Field(min_length=1)
    finding: dict[str, FindingTable]
    remedy: dict[str, RemedyTable]
    run: RunTables | None = None
