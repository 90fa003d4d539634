"""A run taken on a rehearsed cluster says so."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Say of each run how it was rehearsed; of those there are, none was."""
    op.add_column("run", sa.Column("rehearsed", sa.String(), nullable=True))
