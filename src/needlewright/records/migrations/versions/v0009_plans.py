"""Plans of jobs, their acceptance, the shop's catalogues, and when a cluster was built."""

import sqlalchemy as sa
from alembic import op

from needlewright.records.migrations.job_tables import make_job_table
from needlewright.records.tables.base import Moment

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make their tables; there are none yet, and of no cluster is known when it was built."""
    op.add_column("cluster", sa.Column("built", sa.String(length=10), nullable=True))
    make_job_table(
        "job_plan",
        [
            sa.Column("number", sa.String(length=8), nullable=False),
            sa.Column("document", sa.JSON(), nullable=False),
        ],
        {"number": "length(number) = 8"},
    )
    make_job_table(
        "plan_acceptance",
        [
            sa.Column("plan_id", sa.Integer(), nullable=False),
            sa.Column("option", sa.String(length=16), nullable=False),
            sa.Column("price", sa.String(), nullable=False),
            sa.Column("who", sa.String(), nullable=False),
            sa.Column("day", sa.Date(), nullable=False),
            sa.Column("how", sa.String(), nullable=False),
            sa.Column("taken_back_at", Moment(), nullable=True),
            sa.Column("taken_back_by_id", sa.Integer(), nullable=True),
            sa.Column("taken_back_why", sa.String(), nullable=True),
        ],
        {
            "option": "option <> ''",
            "price": "price <> ''",
            "who": "who <> ''",
            "how": "how <> ''",
            "taken_back": "(taken_back_at IS NULL) = (taken_back_by_id IS NULL) "
            "AND (taken_back_at IS NULL) = (taken_back_why IS NULL)",
        },
        {"plan_id": "job_plan.id", "taken_back_by_id": "person.id"},
    )
    _make_catalogues()


def _make_catalogues() -> None:
    keys = {"sha256": "original.sha256", "person_id": "person.id"}
    op.create_table(
        "shop_catalogue",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=True),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("at", Moment(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.CheckConstraint("name <> ''", name=op.f("ck_shop_catalogue_name")),
        *(
            sa.ForeignKeyConstraint([column], [there], name=op.f(f"fk_shop_catalogue_{column}"))
            for column, there in keys.items()
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_shop_catalogue")),
    )
