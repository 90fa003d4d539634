"""Parts in stock, their batches, and where each went."""

import sqlalchemy as sa
from alembic import op

from needlewright.records.migrations.stock_triggers import stock_triggers
from needlewright.records.tables.base import Moment

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make their tables, and have the database refuse what no ledger may hold."""
    _part()
    _batch()
    _move()
    for statement in stock_triggers(op.get_context().dialect.name):
        op.execute(statement)


def _part() -> None:
    op.create_table(
        "stock_part",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(length=40), nullable=False),
        sa.Column("code_key", sa.String(length=80), nullable=False),
        sa.Column("words", sa.String(), nullable=False),
        sa.Column("unit", sa.String(), nullable=False),
        sa.Column("reorder_point", sa.Integer(), nullable=True),
        sa.Column("place", sa.String(), nullable=False),
        sa.Column("price", sa.String(length=24), nullable=True),
        sa.Column("currency", sa.String(length=3), nullable=True),
        sa.Column("retired", sa.Boolean(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("at", Moment(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.CheckConstraint("code <> ''", name=op.f("ck_stock_part_code")),
        sa.CheckConstraint("words <> ''", name=op.f("ck_stock_part_words")),
        sa.CheckConstraint("unit <> ''", name=op.f("ck_stock_part_unit")),
        sa.CheckConstraint("reorder_point >= 0", name=op.f("ck_stock_part_reorder_point")),
        sa.CheckConstraint(
            "(price IS NULL) = (currency IS NULL)", name=op.f("ck_stock_part_price")
        ),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_stock_part_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stock_part")),
        sa.UniqueConstraint("code_key", name=op.f("uq_stock_part_code_key")),
    )


def _batch() -> None:
    op.create_table(
        "stock_batch",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("part_id", sa.Integer(), nullable=False),
        sa.Column("mark", sa.String(length=60), nullable=False),
        sa.Column("received_on", sa.Date(), nullable=False),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("price", sa.String(length=24), nullable=True),
        sa.Column("currency", sa.String(length=3), nullable=True),
        sa.Column("at", Moment(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.CheckConstraint("mark <> ''", name=op.f("ck_stock_batch_mark")),
        sa.CheckConstraint(
            "(price IS NULL) = (currency IS NULL)", name=op.f("ck_stock_batch_price")
        ),
        sa.ForeignKeyConstraint(
            ["part_id"], ["stock_part.id"], name=op.f("fk_stock_batch_part_id")
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_stock_batch_person_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stock_batch")),
    )
    op.create_index(op.f("ix_stock_batch_part_id"), "stock_batch", ["part_id"])


def _move() -> None:
    keys = {
        "part_id": "stock_part.id",
        "batch_id": "stock_batch.id",
        "job_id": "job.id",
        "person_id": "person.id",
        "undoes_id": "stock_move.id",
    }
    checks = {
        "kind": "kind IN ('received', 'used', 'given_back', 'counted', 'scrapped')",
        "job": "(kind IN ('used', 'given_back')) = (job_id IS NOT NULL)",
        "batch": "batch_id IS NOT NULL OR (kind = 'counted' AND count = 0)",
        "count": (
            "undoes_id IS NOT NULL OR kind = 'counted' "
            "OR (kind IN ('received', 'given_back') AND count > 0) "
            "OR (kind IN ('used', 'scrapped') AND count < 0)"
        ),
        "why": "kind NOT IN ('counted', 'scrapped') OR why <> ''",
        "undoes": "undoes_id <> id",
    }
    op.create_table(
        "stock_move",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("part_id", sa.Integer(), nullable=False),
        sa.Column("batch_id", sa.Integer(), nullable=True),
        sa.Column("job_id", sa.Integer(), nullable=True),
        sa.Column("kind", sa.String(length=16), nullable=False),
        sa.Column("count", sa.Integer(), nullable=False),
        sa.Column("why", sa.String(), nullable=False),
        sa.Column("at", Moment(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("undoes_id", sa.Integer(), nullable=True),
        *(
            sa.CheckConstraint(clause, name=op.f(f"ck_stock_move_{name}"))
            for name, clause in checks.items()
        ),
        *(
            sa.ForeignKeyConstraint([column], [there], name=op.f(f"fk_stock_move_{column}"))
            for column, there in keys.items()
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stock_move")),
        sa.UniqueConstraint("undoes_id", name=op.f("uq_stock_move_undoes_id")),
    )
    for column in ("part_id", "batch_id", "job_id"):
        op.create_index(op.f(f"ix_stock_move_{column}"), "stock_move", [column])
