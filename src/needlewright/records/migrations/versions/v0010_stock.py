"""Parts in stock, their batches, and where each went."""

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Change nothing yet."""
