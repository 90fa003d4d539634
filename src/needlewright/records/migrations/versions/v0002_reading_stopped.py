"""The reading of a run's photos can be stopped."""

import sqlalchemy as sa
from alembic import op

from needlewright.records.tables.base import Moment

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Say of each run since when; of those there are, none is stopped."""
    op.add_column("run", sa.Column("reading_stopped_at", Moment(), nullable=True))
