"""Burn-ins of jobs."""
# ruff: noqa: E501 - clauses are written as the database keeps them

import sqlalchemy as sa
from alembic import op

from needlewright.records.tables.base import Moment

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make their tables; there are none yet."""
    op.create_table(
        "burn_in",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("family_version_id", sa.Integer(), nullable=False),
        sa.Column("unit", sa.String(), nullable=False),
        sa.Column("rehearsed", sa.String(), nullable=True),
        sa.Column("plan", sa.JSON(), nullable=False),
        sa.Column("known", sa.JSON(), nullable=False),
        sa.Column("at", Moment(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("state", sa.String(length=10), nullable=False),
        sa.Column("words", sa.String(), nullable=False),
        sa.Column("powered_s", sa.Double(), nullable=False),
        sa.Column("sweeps", sa.Integer(), nullable=False),
        sa.Column("key_ons", sa.Integer(), nullable=False),
        sa.Column("lines", sa.Integer(), nullable=False),
        sa.Column("said", sa.JSON(), nullable=False),
        sa.Column("ended_at", Moment(), nullable=True),
        sa.Column("set_aside_at", Moment(), nullable=True),
        sa.Column("set_aside_by_id", sa.Integer(), nullable=True),
        sa.Column("set_aside_why", sa.String(), nullable=False),
        sa.CheckConstraint(
            "state IN ('under_way', 'finished', 'stopped', 'failed')",
            name=op.f("ck_burn_in_state"),
        ),
        sa.CheckConstraint("unit <> ''", name=op.f("ck_burn_in_unit")),
        sa.CheckConstraint(
            "powered_s >= 0 AND sweeps >= 0 AND key_ons >= 0 AND lines >= 0",
            name=op.f("ck_burn_in_counts"),
        ),
        sa.CheckConstraint(
            "(state = 'under_way') = (ended_at IS NULL)", name=op.f("ck_burn_in_ended")
        ),
        sa.CheckConstraint(
            "(set_aside_at IS NULL) = (set_aside_by_id IS NULL) AND (set_aside_at IS NULL OR set_aside_why <> '')",
            name=op.f("ck_burn_in_set_aside"),
        ),
        *(
            sa.ForeignKeyConstraint([column], [there], name=op.f(f"fk_burn_in_{column}"))
            for column, there in (
                ("job_id", "job.id"),
                ("family_version_id", "family_version.id"),
                ("person_id", "person.id"),
                ("set_aside_by_id", "person.id"),
            )
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_burn_in")),
    )
    op.create_index(op.f("ix_burn_in_job_id"), "burn_in", ["job_id"])
    op.create_table(
        "burn_in_line",
        sa.Column("burn_in_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("line", sa.String(), nullable=False),
        sa.CheckConstraint("number > 0 AND line <> ''", name=op.f("ck_burn_in_line_line")),
        sa.ForeignKeyConstraint(
            ["burn_in_id"], ["burn_in.id"], name=op.f("fk_burn_in_line_burn_in_id")
        ),
        sa.PrimaryKeyConstraint("burn_in_id", "number", name=op.f("pk_burn_in_line")),
    )
    op.create_table(
        "burn_in_picture",
        sa.Column("burn_in_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(
            ["burn_in_id"], ["burn_in.id"], name=op.f("fk_burn_in_picture_burn_in_id")
        ),
        sa.ForeignKeyConstraint(
            ["sha256"], ["original.sha256"], name=op.f("fk_burn_in_picture_sha256")
        ),
        sa.PrimaryKeyConstraint("burn_in_id", "name", name=op.f("pk_burn_in_picture")),
    )
