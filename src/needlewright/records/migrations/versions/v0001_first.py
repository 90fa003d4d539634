"""The first form: clusters, jobs, runs, readings, papers."""

from alembic import op

from needlewright.records.migrations.first_runs import make_runs
from needlewright.records.migrations.first_sayings import make_sayings
from needlewright.records.migrations.first_shop_and_jobs import make_shop_and_jobs
from needlewright.records.migrations.first_triggers import postgresql_triggers, sqlite_triggers

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make everything."""
    make_shop_and_jobs()
    make_sayings()
    make_runs()
    is_sqlite = op.get_context().dialect.name == "sqlite"
    for statement in sqlite_triggers() if is_sqlite else postgresql_triggers():
        op.execute(statement)
