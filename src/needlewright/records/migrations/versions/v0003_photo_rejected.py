"""A photo in which nothing was read can be rejected, with a reason."""

import sqlalchemy as sa
from alembic import op

from needlewright.records.tables.base import Moment

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

COLUMNS = (("rejected_at", Moment), ("rejected_by", sa.String), ("rejected_why", sa.String))


def upgrade() -> None:
    """Say of each photo since when, by whom and why; of those there are, none is rejected."""
    for name, kind in COLUMNS:
        op.add_column("photo", sa.Column(name, kind(), nullable=True))
