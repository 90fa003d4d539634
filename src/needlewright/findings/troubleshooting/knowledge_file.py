"""What the knowledge file says of causes, of what shows them and of what cures them."""

from pathlib import Path
from typing import Any

from pydantic import BaseModel

from needlewright.findings.knowledge_file import read_tables
from needlewright.findings.knowledge_tables import KnowledgeTables
from needlewright.findings.troubleshooting.model import Cause, Finding, Knowledge, Remedy, Work


def load_knowledge(path: Path | None = None) -> Knowledge:
    """Read a knowledge file.

    Parameters
    ----------
    path
        Of TOML; None: the one that comes with the program.

    Returns
    -------
    Knowledge
        Checked.

    Raises
    ------
    KnowledgeError
        If it cannot be read, a key is unknown or missing, a cause, finding or remedy has a name no
        answer can be written with, a probability is not between 0 and 1, those of a dial leave
        nothing for a sound one, shares of parts do not sum to one, a name is not there, or causes
        lead to one another in a circle.
    """
    return troubleshooting_knowledge(read_tables(path))


def troubleshooting_knowledge(tables: KnowledgeTables) -> Knowledge:
    """What checked tables say of causes, findings and remedies."""
    return Knowledge(
        {code: Cause(code, **_fields(table)) for code, table in tables.cause.items()},
        {name: Finding(name, **_fields(table)) for name, table in tables.finding.items()},
        {name: Remedy(name, **_fields(table)) for name, table in tables.remedy.items()},
        Work(**_fields(tables.work)),
        tables.prior_weight,
        {name: table.words for name, table in tables.part.items()},
        tables.pointing.ratio,
    )


def _fields(table: BaseModel) -> dict[str, Any]:
    return {name: getattr(table, name) for name in type(table).model_fields}
