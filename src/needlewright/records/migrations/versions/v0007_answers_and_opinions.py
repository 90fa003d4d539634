"""Answers, what analyses saw, and what a person decided beside what the program said."""

import sqlalchemy as sa

from needlewright.records.migrations.job_tables import make_job_table

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make their tables; there are none yet."""
    make_job_table(
        "finding_answer",
        [
            sa.Column("finding", sa.String(length=80), nullable=False),
            sa.Column("dial", sa.String(), nullable=True),
            sa.Column("yes", sa.Boolean(), nullable=True),
            sa.Column("source", sa.String(length=8), nullable=False),
        ],
        {
            "finding": "finding <> ''",
            "dial": "dial IS NULL OR dial <> ''",
            "source": "source IN ('typed', 'pasted', 'bench')",
        },
    )
    make_job_table(
        "analysis",
        [
            sa.Column("name", sa.String(), nullable=False),
            sa.Column("pieces", sa.JSON(), nullable=False),
        ],
        {"name": "name <> ''"},
    )
    make_job_table(
        "opinion",
        [
            sa.Column("dial", sa.String(), nullable=True),
            sa.Column("system", sa.String(), nullable=True),
            sa.Column("said", sa.JSON(), nullable=False),
            sa.Column("decided", sa.JSON(), nullable=False),
            sa.Column("part", sa.String(), nullable=True),
            sa.Column("why", sa.String(), nullable=False),
        ],
        {
            "subject": "(dial IS NULL) <> (system IS NULL)",
            "part": "part IS NULL OR part <> ''",
            "why": "why <> ''",
        },
    )
