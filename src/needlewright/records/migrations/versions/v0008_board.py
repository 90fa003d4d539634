"""Photos of a board's two sides, and the pins on them."""

import sqlalchemy as sa

from needlewright.records.migrations.job_tables import make_job_table

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make their tables; there are none yet."""
    make_job_table(
        "board_photo",
        [
            sa.Column("sha256", sa.String(length=64), nullable=False),
            sa.Column("name", sa.String(), nullable=False),
            sa.Column("side", sa.String(length=8), nullable=False),
            sa.Column("moment", sa.String(length=8), nullable=False),
        ],
        {"side": "side IN ('front', 'back')", "moment": "moment IN ('before', 'after')"},
        {"sha256": "original.sha256"},
    )
    make_job_table(
        "board_pin",
        [
            sa.Column("photo_id", sa.Integer(), nullable=False),
            sa.Column("number", sa.Integer(), nullable=False),
            sa.Column("what", sa.String(length=16), nullable=False),
            sa.Column("state", sa.String(length=16), nullable=False),
            sa.Column("x", sa.Double(), nullable=True),
            sa.Column("y", sa.Double(), nullable=True),
            sa.Column("part", sa.String(length=16), nullable=True),
            sa.Column("dial", sa.String(), nullable=True),
            sa.Column("note", sa.String(), nullable=False),
            sa.Column("of", sa.Integer(), nullable=True),
        ],
        {
            "what": "what IN ('via', 'joint', 'connector', 'coating')",
            "state": "state IN ('ok', 'cracked', 'corroded', 'lifted', 'removed', 'restored')",
            "part": "part IN ('supply', 'display', 'movement')",
            "x": "x IS NULL OR (x >= 0 AND x <= 1)",
            "y": "y IS NULL OR (y >= 0 AND y <= 1)",
            "place": "(x IS NULL) = (y IS NULL)",
            "coating": "what = 'coating' OR state NOT IN ('removed', 'restored')",
            "dial": "COALESCE(part, '') = 'movement' OR dial IS NULL",
        },
        {"photo_id": "board_photo.id"},
    )
