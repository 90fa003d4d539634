"""Sweep videos of a job."""
# ruff: noqa: E501 - clauses are written as the database keeps them

import sqlalchemy as sa
from alembic import op

from needlewright.records.tables.base import Moment

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make their table; there are none yet."""
    op.create_table(
        "sweep",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("family_version_id", sa.Integer(), nullable=False),
        sa.Column("added_at", Moment(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("followed_at", Moment(), nullable=True),
        sa.Column("document", sa.JSON(), nullable=True),
        sa.Column("events", sa.Integer(), nullable=True),
        sa.Column("problem", sa.String(), nullable=True),
        sa.Column("damaged", sa.String(), nullable=True),
        sa.Column("withdrawn_at", Moment(), nullable=True),
        sa.CheckConstraint(
            "(followed_at IS NULL AND document IS NULL AND problem IS NULL) OR (followed_at IS NOT NULL AND (document IS NULL) <> (problem IS NULL))",
            name=op.f("ck_sweep_followed"),
        ),
        sa.CheckConstraint("(document IS NULL) = (events IS NULL)", name=op.f("ck_sweep_events")),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_sweep_job_id")),
        sa.ForeignKeyConstraint(["sha256"], ["original.sha256"], name=op.f("fk_sweep_sha256")),
        sa.ForeignKeyConstraint(
            ["family_version_id"], ["family_version.id"], name=op.f("fk_sweep_family_version_id")
        ),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_sweep_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sweep")),
    )
    op.create_index(op.f("ix_sweep_job_id"), "sweep", ["job_id"])
