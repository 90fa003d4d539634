"""Boxes ticked, numbers written and notes made on the sheets of the work; the shop's own guides."""

import sqlalchemy as sa
from alembic import op

from needlewright.records.migrations.job_tables import make_job_table
from needlewright.records.tables.base import Moment

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make their tables; there are none yet."""
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
    keys = {"sha256": "original.sha256", "person_id": "person.id"}
    op.create_table(
        "shop_guide",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=60), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=True),
        sa.Column("at", Moment(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.CheckConstraint("name <> ''", name=op.f("ck_shop_guide_name")),
        *(
            sa.ForeignKeyConstraint([column], [there], name=op.f(f"fk_shop_guide_{column}"))
            for column, there in keys.items()
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_shop_guide")),
    )
