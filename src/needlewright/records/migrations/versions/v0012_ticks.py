"""Boxes ticked, numbers written and notes made on the sheets of the work."""

import sqlalchemy as sa

from needlewright.records.migrations.job_tables import make_job_table

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make their table; there is none yet."""
    make_job_table(
        "tick",
        [
            sa.Column("sheet", sa.String(length=160), nullable=False),
            sa.Column("key", sa.String(length=160), nullable=False),
            sa.Column("mark", sa.String(length=8), nullable=False),
            sa.Column("value", sa.Double(), nullable=True),
            sa.Column("words", sa.String(), nullable=False),
            sa.Column("note", sa.String(), nullable=False),
        ],
        {
            "mark": "mark IN ('done', 'note', 'out', 'in', 'reading')",
            "place": "sheet <> '' AND key <> ''",
            "value": "(mark IN ('done', 'note')) = (value IS NULL)",
            "note": "mark <> 'note' OR note <> ''",
            "count": "mark NOT IN ('out', 'in') OR (value >= 0 AND value <= 999)",
        },
    )
