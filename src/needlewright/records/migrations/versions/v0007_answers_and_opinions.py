"""Answers, what analyses saw, and what a person decided beside what the program said."""

import sqlalchemy as sa
from alembic import op

from needlewright.records.tables.base import Moment

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make their tables; there are none yet."""
    _make(
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
    _make(
        "analysis",
        [
            sa.Column("name", sa.String(), nullable=False),
            sa.Column("pieces", sa.JSON(), nullable=False),
        ],
        {"name": "name <> ''"},
    )
    _make(
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


def _make(table: str, columns: list[sa.Column[object]], checks: dict[str, str]) -> None:
    """A table of things people say about a job."""
    op.create_table(
        table,
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        *columns,
        sa.Column("at", Moment(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("withdrawn_at", Moment(), nullable=True),
        *(
            sa.CheckConstraint(clause, name=op.f(f"ck_{table}_{name}"))
            for name, clause in checks.items()
        ),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f(f"fk_{table}_job_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f(f"fk_{table}_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{table}")),
    )
    op.create_index(op.f(f"ix_{table}_job_id"), table, ["job_id"])
