"""Runs of the first form, as they were then; later forms change them in their own steps."""
# ruff: noqa: E501 - clauses are written as the database keeps them

import sqlalchemy as sa
from alembic import op

from needlewright.records.tables.base import Moment


def make_runs() -> None:
    """Make them."""
    for make in (_run, _photo, _run_row, _reading):
        make()


def _run() -> None:
    op.create_table(
        "run",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("side", sa.String(length=8), nullable=False),
        sa.Column("family_version_id", sa.Integer(), nullable=False),
        sa.Column("reader", sa.JSON(), nullable=True),
        sa.Column("started_at", Moment(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("set_aside_at", Moment(), nullable=True),
        sa.Column("set_aside_why", sa.String(), nullable=False),
        sa.Column("set_aside_by_id", sa.Integer(), nullable=True),
        sa.CheckConstraint(
            "(set_aside_at IS NULL) = (set_aside_by_id IS NULL) AND (set_aside_at IS NULL OR set_aside_why <> '')",
            name=op.f("ck_run_set_aside"),
        ),
        sa.CheckConstraint("side IN ('found', 'left', 'other')", name=op.f("ck_run_side")),
        sa.ForeignKeyConstraint(
            ["family_version_id"], ["family_version.id"], name=op.f("fk_run_family_version_id")
        ),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_run_job_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_run_person_id")),
        sa.ForeignKeyConstraint(
            ["set_aside_by_id"], ["person.id"], name=op.f("fk_run_set_aside_by_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_run")),
        sa.UniqueConstraint("job_id", "name", name=op.f("uq_run_job_id_name")),
    )


def _photo() -> None:
    op.create_table(
        "photo",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("run_id", sa.Integer(), nullable=False),
        sa.Column("step", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("taken_at", sa.String(), nullable=True),
        sa.Column("added_at", Moment(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("read_at", Moment(), nullable=True),
        sa.Column("found", sa.Boolean(), nullable=True),
        sa.Column("reason", sa.String(), nullable=True),
        sa.Column("problem", sa.String(), nullable=True),
        sa.Column("projection", sa.JSON(), nullable=True),
        sa.Column("overlay_sha256", sa.String(length=64), nullable=True),
        sa.Column("shown", sa.Boolean(), nullable=False),
        sa.Column("replaces_id", sa.Integer(), nullable=True),
        sa.CheckConstraint("(found IS NULL) OR (read_at IS NOT NULL)", name=op.f("ck_photo_found")),
        sa.CheckConstraint("replaces_id <> id", name=op.f("ck_photo_replaces")),
        sa.CheckConstraint("step >= 0", name=op.f("ck_photo_step")),
        sa.ForeignKeyConstraint(
            ["overlay_sha256"], ["original.sha256"], name=op.f("fk_photo_overlay_sha256")
        ),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_photo_person_id")),
        sa.ForeignKeyConstraint(["replaces_id"], ["photo.id"], name=op.f("fk_photo_replaces_id")),
        sa.ForeignKeyConstraint(["run_id"], ["run.id"], name=op.f("fk_photo_run_id")),
        sa.ForeignKeyConstraint(["sha256"], ["original.sha256"], name=op.f("fk_photo_sha256")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_photo")),
    )
    op.create_index(op.f("ix_photo_run_id"), "photo", ["run_id"], unique=False)
    op.create_index(op.f("ix_photo_sha256"), "photo", ["sha256"], unique=False)
    op.create_index(
        "uq_photo_of_step",
        "photo",
        ["run_id", "step"],
        unique=True,
        sqlite_where=sa.text("shown"),
        postgresql_where=sa.text("shown"),
    )
    op.create_index(
        "uq_photo_once",
        "photo",
        ["run_id", "sha256"],
        unique=True,
        sqlite_where=sa.text("shown"),
        postgresql_where=sa.text("shown"),
    )


def _run_row() -> None:
    op.create_table(
        "run_row",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("run_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("step", sa.Integer(), nullable=False),
        sa.Column("dial", sa.String(), nullable=False),
        sa.Column("unit", sa.String(), nullable=False),
        sa.Column("approach", sa.String(length=4), nullable=False),
        sa.Column("commanded", sa.Double(), nullable=True),
        sa.Column("temperature_c", sa.Double(), nullable=True),
        sa.Column("u_commanded", sa.Double(), nullable=True),
        sa.Column("key_cycle", sa.Integer(), nullable=True),
        sa.Column("supply_v", sa.Double(), nullable=True),
        sa.Column("time", sa.String(), nullable=True),
        sa.Column("typed", sa.Boolean(), nullable=False),
        sa.Column("angle_deg", sa.Double(), nullable=True),
        sa.Column("u_angle_deg", sa.Double(), nullable=True),
        sa.Column("indicated", sa.Double(), nullable=True),
        sa.Column("u_indicated", sa.Double(), nullable=True),
        sa.Column("flags", sa.JSON(), nullable=False),
        sa.CheckConstraint(
            "(approach = 'rest') = (commanded IS NULL)", name=op.f("ck_run_row_commanded")
        ),
        sa.CheckConstraint("approach IN ('up', 'down', 'rest')", name=op.f("ck_run_row_approach")),
        sa.CheckConstraint(
            "typed OR (angle_deg IS NULL AND indicated IS NULL)", name=op.f("ck_run_row_typed")
        ),
        sa.CheckConstraint(
            "u_commanded >= 0 AND u_angle_deg >= 0 AND u_indicated >= 0",
            name=op.f("ck_run_row_uncertainty"),
        ),
        sa.ForeignKeyConstraint(["run_id"], ["run.id"], name=op.f("fk_run_row_run_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_run_row")),
        sa.UniqueConstraint("run_id", "position", name=op.f("uq_run_row_run_id_position")),
        sa.UniqueConstraint("run_id", "step", "dial", name=op.f("uq_run_row_run_id_step_dial")),
    )


def _reading() -> None:
    op.create_table(
        "reading",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("photo_id", sa.Integer(), nullable=False),
        sa.Column("dial", sa.String(), nullable=False),
        sa.Column("status", sa.String(length=8), nullable=False),
        sa.Column("unit", sa.String(), nullable=False),
        sa.Column("reason", sa.String(), nullable=True),
        sa.Column("angle_deg", sa.Double(), nullable=True),
        sa.Column("u_angle_deg", sa.Double(), nullable=True),
        sa.Column("value", sa.Double(), nullable=True),
        sa.Column("u_value", sa.Double(), nullable=True),
        sa.Column("offset_mm", sa.Double(), nullable=True),
        sa.Column("flags", sa.JSON(), nullable=False),
        sa.Column("components_deg", sa.JSON(), nullable=False),
        sa.Column("line_px", sa.JSON(), nullable=True),
        sa.Column("read_at", Moment(), nullable=False),
        sa.Column("rejected_at", Moment(), nullable=True),
        sa.Column("rejected_why", sa.String(), nullable=True),
        sa.Column("rejected_by_id", sa.Integer(), nullable=True),
        sa.Column("shown", sa.Boolean(), nullable=False),
        sa.Column("replaces_id", sa.Integer(), nullable=True),
        sa.CheckConstraint(
            "(rejected_at IS NULL AND rejected_why IS NULL AND rejected_by_id IS NULL) OR (rejected_at IS NOT NULL AND rejected_why IS NOT NULL AND rejected_why <> '' AND rejected_by_id IS NOT NULL)",
            name=op.f("ck_reading_rejected"),
        ),
        sa.CheckConstraint(
            "(status = 'read' AND angle_deg IS NOT NULL AND reason IS NULL) OR (status = 'refused' AND angle_deg IS NULL AND value IS NULL AND reason IS NOT NULL)",
            name=op.f("ck_reading_read_or_reason"),
        ),
        sa.CheckConstraint("status IN ('read', 'refused')", name=op.f("ck_reading_status")),
        sa.CheckConstraint(
            "u_angle_deg >= 0 AND u_value >= 0", name=op.f("ck_reading_uncertainty")
        ),
        sa.ForeignKeyConstraint(["photo_id"], ["photo.id"], name=op.f("fk_reading_photo_id")),
        sa.ForeignKeyConstraint(
            ["rejected_by_id"], ["person.id"], name=op.f("fk_reading_rejected_by_id")
        ),
        sa.ForeignKeyConstraint(
            ["replaces_id"], ["reading.id"], name=op.f("fk_reading_replaces_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reading")),
    )
    op.create_index("ix_reading_photo_id", "reading", ["photo_id"], unique=False)
    op.create_index(
        "uq_reading_of_dial",
        "reading",
        ["photo_id", "dial"],
        unique=True,
        sqlite_where=sa.text("shown"),
        postgresql_where=sa.text("shown"),
    )
