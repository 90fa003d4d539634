"""What is said and done in a job of the first form, as they were then; later forms change them in their own steps."""
# ruff: noqa: E501 - clauses are written as the database keeps them

import sqlalchemy as sa
from alembic import op

from needlewright.records.tables.base import Moment


def make_sayings() -> None:
    """Make them."""
    for make in (_decision, _edit, _job_photo, _note, _paper, _stage_event, _edit_value):
        make()


def _decision() -> None:
    op.create_table(
        "decision",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=16), nullable=False),
        sa.Column("text", sa.String(), nullable=False),
        sa.Column("why", sa.String(), nullable=False),
        sa.Column("at", Moment(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("withdrawn_at", Moment(), nullable=True),
        sa.CheckConstraint(
            "kind IN ('wrong_unit', 'no_paper', 'other')", name=op.f("ck_decision_kind")
        ),
        sa.CheckConstraint("why <> ''", name=op.f("ck_decision_why")),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_decision_job_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_decision_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_decision")),
    )
    op.create_index(op.f("ix_decision_job_id"), "decision", ["job_id"], unique=False)


def _edit() -> None:
    op.create_table(
        "edit",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("job_version", sa.Integer(), nullable=False),
        sa.Column("what", sa.String(), nullable=False),
        sa.Column("at", Moment(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("undoable", sa.Boolean(), nullable=False),
        sa.Column("undoes_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_edit_job_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_edit_person_id")),
        sa.ForeignKeyConstraint(["undoes_id"], ["edit.id"], name=op.f("fk_edit_undoes_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_edit")),
        sa.UniqueConstraint("undoes_id", name=op.f("uq_edit_undoes_id")),
    )
    op.create_index(op.f("ix_edit_job_id"), "edit", ["job_id"], unique=False)


def _job_photo() -> None:
    op.create_table(
        "job_photo",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("stage", sa.String(length=16), nullable=False),
        sa.Column("kind", sa.String(length=16), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("at", Moment(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("withdrawn_at", Moment(), nullable=True),
        sa.CheckConstraint(
            "kind IN ('packing', 'damage', 'contents', 'odometer', 'label', 'other')",
            name=op.f("ck_job_photo_kind"),
        ),
        sa.CheckConstraint("stage IN ('received', 'returned')", name=op.f("ck_job_photo_stage")),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_job_photo_job_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_job_photo_person_id")),
        sa.ForeignKeyConstraint(["sha256"], ["original.sha256"], name=op.f("fk_job_photo_sha256")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_job_photo")),
    )
    op.create_index(op.f("ix_job_photo_job_id"), "job_photo", ["job_id"], unique=False)


def _note() -> None:
    op.create_table(
        "note",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("text", sa.String(), nullable=False),
        sa.Column("at", Moment(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("withdrawn_at", Moment(), nullable=True),
        sa.CheckConstraint("text <> ''", name=op.f("ck_note_text")),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_note_job_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_note_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_note")),
    )
    op.create_index(op.f("ix_note_job_id"), "note", ["job_id"], unique=False)


def _paper() -> None:
    op.create_table(
        "paper",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=32), nullable=False),
        sa.Column("number", sa.String(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("replaces_id", sa.Integer(), nullable=True),
        sa.Column("replaces_because", sa.String(), nullable=True),
        sa.Column("pdf_sha256", sa.String(length=64), nullable=False),
        sa.Column("json_sha256", sa.String(length=64), nullable=False),
        sa.Column("label_sha256", sa.String(length=64), nullable=True),
        sa.Column("issued", sa.Date(), nullable=False),
        sa.Column("issued_at", Moment(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "(version = 1 AND replaces_id IS NULL) OR (version > 1 AND replaces_id IS NOT NULL AND replaces_because IS NOT NULL AND replaces_because <> '')",
            name=op.f("ck_paper_replaces"),
        ),
        sa.CheckConstraint(
            "kind IN ('certificate', 'certificate_with_exceptions', 'not_conforming_report', 'as_found_report', 'odometer_notice')",
            name=op.f("ck_paper_kind"),
        ),
        sa.CheckConstraint("version >= 1", name=op.f("ck_paper_version")),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_paper_job_id")),
        sa.ForeignKeyConstraint(
            ["json_sha256"], ["original.sha256"], name=op.f("fk_paper_json_sha256")
        ),
        sa.ForeignKeyConstraint(
            ["label_sha256"], ["original.sha256"], name=op.f("fk_paper_label_sha256")
        ),
        sa.ForeignKeyConstraint(
            ["pdf_sha256"], ["original.sha256"], name=op.f("fk_paper_pdf_sha256")
        ),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_paper_person_id")),
        sa.ForeignKeyConstraint(["replaces_id"], ["paper.id"], name=op.f("fk_paper_replaces_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_paper")),
        sa.UniqueConstraint("number", "version", name=op.f("uq_paper_number_version")),
    )
    op.create_index(op.f("ix_paper_job_id"), "paper", ["job_id"], unique=False)


def _stage_event() -> None:
    op.create_table(
        "stage_event",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("stage", sa.String(length=16), nullable=False),
        sa.Column("step", sa.String(length=16), nullable=False),
        sa.Column("at", Moment(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "stage IN ('received', 'bench_check', 'findings', 'plan', 'rebuild', 'needles', 'burn_in', 'final_check', 'returned')",
            name=op.f("ck_stage_event_stage"),
        ),
        sa.CheckConstraint(
            "step IN ('started', 'finished', 'reopened', 'taken_back')",
            name=op.f("ck_stage_event_step"),
        ),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_stage_event_job_id")),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_stage_event_person_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stage_event")),
    )
    op.create_index(op.f("ix_stage_event_job_id"), "stage_event", ["job_id"], unique=False)


def _edit_value() -> None:
    op.create_table(
        "edit_value",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("edit_id", sa.Integer(), nullable=False),
        sa.Column("entity", sa.String(), nullable=False),
        sa.Column("entity_id", sa.Integer(), nullable=False),
        sa.Column("field", sa.String(), nullable=False),
        sa.Column("old", sa.JSON(), nullable=True),
        sa.Column("new", sa.JSON(), nullable=True),
        sa.ForeignKeyConstraint(["edit_id"], ["edit.id"], name=op.f("fk_edit_value_edit_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_edit_value")),
    )
    op.create_index(op.f("ix_edit_value_edit_id"), "edit_value", ["edit_id"], unique=False)
