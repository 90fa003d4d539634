"""Tables of what people add to a job, as they are first made. What is here does not change."""

from collections.abc import Mapping

import sqlalchemy as sa
from alembic import op

from needlewright.records.tables.base import Moment


def make_job_table(
    table: str,
    columns: list[sa.Column[object]],
    checks: Mapping[str, str],
    keys: Mapping[str, str] | None = None,
) -> None:
    """Make one, with who added a row and when, and when it was taken back.

    Parameters
    ----------
    table
        Its name.
    columns
        Its own.
    checks
        Name to clause.
    keys
        Column of its own to the column it points at, such as `"photo_id": "board_photo.id"`.
    """
    keys = {"job_id": "job.id", **(keys or {}), "person_id": "person.id"}
    op.create_table(
        table,
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        *columns,
        sa.Column("at", Moment(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("withdrawn_at", Moment(), nullable=True),
        *(
            sa.CheckConstraint(clause, name=op.f(f"ck_{table}_{name}"))
            for name, clause in checks.items()
        ),
        *(
            sa.ForeignKeyConstraint([column], [there], name=op.f(f"fk_{table}_{column}"))
            for column, there in keys.items()
        ),
        sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{table}")),
    )
    op.create_index(op.f(f"ix_{table}_job_id"), table, ["job_id"])
