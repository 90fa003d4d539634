"""Plans of jobs, their acceptance, and what a plan asks of shop and cluster."""

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Change nothing yet."""
