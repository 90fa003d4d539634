"""Versions of a family are counted, and say who put them in and why."""

import sqlalchemy as sa
from alembic import op

from needlewright.records.people import name_key

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

_VERSIONS = sa.table(
    "family_version", sa.column("id"), sa.column("name"), sa.column("name_key"), sa.column("number")
)


def upgrade() -> None:
    """Count those there are in the order they came in; of them nothing more is known."""
    for name, kind, default in (
        ("name_key", sa.String, ""),
        ("number", sa.Integer, "0"),
        ("kept_by", sa.String, None),
        ("note", sa.String, ""),
    ):
        optional = default is None
        op.add_column(
            "family_version",
            sa.Column(name, kind(), nullable=optional, server_default=default),
        )
    if op.get_context().as_sql:
        op.execute(
            "UPDATE family_version SET name_key = lower(name), number = (SELECT count(*) FROM "
            "family_version AS other WHERE lower(other.name) = lower(family_version.name) "
            "AND other.id <= family_version.id)"
        )
    else:
        _count()
    op.create_index(
        "uq_family_version_number", "family_version", ["name_key", "number"], unique=True
    )


def _count() -> None:
    connection = op.get_bind()
    counted: dict[str, int] = {}
    found = connection.execute(
        sa.select(_VERSIONS.c.id, _VERSIONS.c.name).order_by(_VERSIONS.c.id)
    ).all()
    for version_id, name in found:
        key = name_key(name)
        counted[key] = counted.get(key, 0) + 1
        connection.execute(
            sa.update(_VERSIONS)
            .where(_VERSIONS.c.id == version_id)
            .values(name_key=key, number=counted[key])
        )
