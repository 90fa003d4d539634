"""Shop and jobs of the first form, as they were then; later forms change them in their own steps."""
# ruff: noqa: E501 - clauses are written as the database keeps them

import sqlalchemy as sa
from alembic import op

from needlewright.records.tables.base import Moment


def make_shop_and_jobs() -> None:
    """Make them."""
    for make in (
        _cluster,
        _family_version,
        _instrument,
        _original,
        _person,
        _shop,
        _family_file,
        _job,
        _received,
        _returned,
    ):
        make()


def _cluster() -> None:
    op.create_table(
        "cluster",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("family", sa.String(), nullable=False),
        sa.Column("serial", sa.String(), nullable=True),
        sa.Column("variant", sa.String(), nullable=True),
        sa.CheckConstraint("serial IS NULL OR serial <> ''", name=op.f("ck_cluster_serial")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_cluster")),
        sa.UniqueConstraint("family", "serial", name=op.f("uq_cluster_family_serial")),
    )


def _family_version() -> None:
    op.create_table(
        "family_version",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("content_hash", sa.String(length=64), nullable=False),
        sa.Column("stored_at", Moment(), nullable=False),
        sa.Column("chosen_at", Moment(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_family_version")),
        sa.UniqueConstraint("content_hash", name=op.f("uq_family_version_content_hash")),
    )
    op.create_index(op.f("ix_family_version_name"), "family_version", ["name"], unique=False)


def _instrument() -> None:
    op.create_table(
        "instrument",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("number", sa.String(), nullable=False),
        sa.Column("due", sa.Date(), nullable=True),
        sa.Column("traceable_to", sa.String(), nullable=True),
        sa.Column("retired", sa.Boolean(), nullable=False),
        sa.CheckConstraint("name <> ''", name=op.f("ck_instrument_name")),
        sa.CheckConstraint("number <> ''", name=op.f("ck_instrument_number")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_instrument")),
        sa.UniqueConstraint("number", name=op.f("uq_instrument_number")),
    )


def _original() -> None:
    op.create_table(
        "original",
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("extension", sa.String(length=8), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("stored_at", Moment(), nullable=False),
        sa.CheckConstraint("length(sha256) = 64", name=op.f("ck_original_sha256")),
        sa.CheckConstraint("size >= 0", name=op.f("ck_original_size")),
        sa.PrimaryKeyConstraint("sha256", name=op.f("pk_original")),
    )


def _person() -> None:
    op.create_table(
        "person",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("name_key", sa.String(), nullable=False),
        sa.Column("has_left", sa.Boolean(), nullable=False),
        sa.CheckConstraint("name <> ''", name=op.f("ck_person_name")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_person")),
        sa.UniqueConstraint("name_key", name=op.f("uq_person_name_key")),
    )


def _shop() -> None:
    op.create_table(
        "shop",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("place", sa.String(), nullable=False),
        sa.Column("law", sa.String(length=8), nullable=False),
        sa.Column("local_law", sa.String(), nullable=False),
        sa.Column("odometer_unit", sa.String(length=4), nullable=False),
        sa.Column("authorised_by", sa.String(), nullable=False),
        sa.Column("supply", sa.String(), nullable=False),
        sa.Column("battery_wait", sa.String(), nullable=False),
        sa.Column("invented", sa.Boolean(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("law IN ('us', 'local')", name=op.f("ck_shop_law")),
        sa.CheckConstraint("odometer_unit IN ('km', 'mi')", name=op.f("ck_shop_odometer_unit")),
        sa.CheckConstraint("id = 1", name=op.f("ck_shop_only_one")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_shop")),
    )


def _family_file() -> None:
    op.create_table(
        "family_file",
        sa.Column("version_id", sa.Integer(), nullable=False),
        sa.Column("path", sa.String(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(
            ["sha256"], ["original.sha256"], name=op.f("fk_family_file_sha256")
        ),
        sa.ForeignKeyConstraint(
            ["version_id"], ["family_version.id"], name=op.f("fk_family_file_version_id")
        ),
        sa.PrimaryKeyConstraint("version_id", "path", name=op.f("pk_family_file")),
        sa.UniqueConstraint("version_id", "path", name=op.f("uq_family_file_version_id_path")),
    )


def _job() -> None:
    op.create_table(
        "job",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("tag", sa.String(length=40), nullable=False),
        sa.Column("tag_key", sa.String(length=80), nullable=False),
        sa.Column("cluster_id", sa.Integer(), nullable=False),
        sa.Column("family_version_id", sa.Integer(), nullable=False),
        sa.Column("return_of_id", sa.Integer(), nullable=True),
        sa.Column("owner", sa.String(), nullable=False),
        sa.Column("owner_contact", sa.String(), nullable=False),
        sa.Column("vehicle", sa.String(), nullable=False),
        sa.Column("max_speed", sa.Double(), nullable=True),
        sa.Column("complaint", sa.String(), nullable=False),
        sa.Column("promised", sa.Date(), nullable=True),
        sa.Column("odometer_unit", sa.String(length=4), nullable=False),
        sa.Column("odometer_in", sa.Double(), nullable=True),
        sa.Column("odometer_out", sa.Double(), nullable=True),
        sa.Column("odometer_none", sa.String(), nullable=True),
        sa.Column("work_done", sa.JSON(), nullable=False),
        sa.Column("remarks", sa.JSON(), nullable=False),
        sa.Column("instruments", sa.JSON(), nullable=False),
        sa.Column("deviations", sa.String(), nullable=True),
        sa.Column("external_results", sa.String(), nullable=True),
        sa.Column("temperature", sa.String(), nullable=True),
        sa.Column("stage", sa.String(length=16), nullable=False),
        sa.Column("waits_for", sa.String(length=16), nullable=False),
        sa.Column("opened_at", Moment(), nullable=False),
        sa.Column("closed_at", Moment(), nullable=True),
        sa.Column("search", sa.String(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("odometer_unit IN ('km', 'mi')", name=op.f("ck_job_odometer_unit")),
        sa.CheckConstraint(
            "stage IN ('received', 'bench_check', 'findings', 'plan', 'rebuild', 'needles', 'burn_in', 'final_check', 'returned')",
            name=op.f("ck_job_stage"),
        ),
        sa.CheckConstraint("tag <> ''", name=op.f("ck_job_tag")),
        sa.CheckConstraint(
            "waits_for IN ('cluster', 'bench', 'owner', 'parts', 'carrier', 'nothing')",
            name=op.f("ck_job_waits_for"),
        ),
        sa.CheckConstraint("max_speed > 0", name=op.f("ck_job_max_speed")),
        sa.CheckConstraint("odometer_in >= 0", name=op.f("ck_job_odometer_in")),
        sa.CheckConstraint(
            "odometer_none IS NULL OR (odometer_in IS NULL AND odometer_out IS NULL)",
            name=op.f("ck_job_odometer_none"),
        ),
        sa.CheckConstraint("odometer_out >= 0", name=op.f("ck_job_odometer_out")),
        sa.CheckConstraint("return_of_id <> id", name=op.f("ck_job_return_of")),
        sa.ForeignKeyConstraint(["cluster_id"], ["cluster.id"], name=op.f("fk_job_cluster_id")),
        sa.ForeignKeyConstraint(
            ["family_version_id"], ["family_version.id"], name=op.f("fk_job_family_version_id")
        ),
        sa.ForeignKeyConstraint(["return_of_id"], ["job.id"], name=op.f("fk_job_return_of_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_job")),
        sa.UniqueConstraint("tag_key", name=op.f("uq_job_tag_key")),
    )
    op.create_index(op.f("ix_job_cluster_id"), "job", ["cluster_id"], unique=False)
    op.create_index("ix_job_shelf", "job", ["closed_at", "promised", "id"], unique=False)
    op.create_index("ix_job_waits_for", "job", ["waits_for", "closed_at"], unique=False)


def _received() -> None:
    op.create_table(
        "received",
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("day", sa.Date(), nullable=True),
        sa.Column("sender", sa.String(), nullable=False),
        sa.Column("contents", sa.JSON(), nullable=False),
        sa.Column("packing", sa.String(), nullable=False),
        sa.Column("damage", sa.String(), nullable=False),
        sa.Column("condition", sa.String(), nullable=False),
        sa.Column("odometer_unreadable", sa.String(), nullable=False),
        sa.Column("family_ok", sa.Boolean(), nullable=True),
        sa.Column("family_note", sa.String(), nullable=False),
        sa.Column("variant_ok", sa.Boolean(), nullable=True),
        sa.Column("variant_note", sa.String(), nullable=False),
        sa.Column("face_ok", sa.Boolean(), nullable=True),
        sa.Column("face_note", sa.String(), nullable=False),
        sa.Column("connector_ok", sa.Boolean(), nullable=True),
        sa.Column("connector_note", sa.String(), nullable=False),
        sa.CheckConstraint(
            "connector_ok IS NULL OR connector_ok OR connector_note <> ''",
            name=op.f("ck_received_connector_note"),
        ),
        sa.CheckConstraint(
            "face_ok IS NULL OR face_ok OR face_note <> ''", name=op.f("ck_received_face_note")
        ),
        sa.CheckConstraint(
            "family_ok IS NULL OR family_ok OR family_note <> ''",
            name=op.f("ck_received_family_note"),
        ),
        sa.CheckConstraint(
            "variant_ok IS NULL OR variant_ok OR variant_note <> ''",
            name=op.f("ck_received_variant_note"),
        ),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_received_job_id")),
        sa.PrimaryKeyConstraint("job_id", name=op.f("pk_received")),
    )


def _returned() -> None:
    op.create_table(
        "returned",
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("day", sa.Date(), nullable=True),
        sa.Column("contents", sa.JSON(), nullable=False),
        sa.Column("packing", sa.String(), nullable=False),
        sa.Column("carrier", sa.String(), nullable=False),
        sa.Column("law", sa.String(length=8), nullable=True),
        sa.Column("procedure", sa.String(), nullable=False),
        sa.Column("notice_mileage_before", sa.Double(), nullable=True),
        sa.Column("notice_day", sa.Date(), nullable=True),
        sa.Column("notice_attached_to", sa.String(), nullable=False),
        sa.CheckConstraint("law IN ('us', 'local')", name=op.f("ck_returned_law")),
        sa.CheckConstraint(
            "law IS NULL OR law <> 'local' OR procedure <> ''", name=op.f("ck_returned_procedure")
        ),
        sa.CheckConstraint(
            "law IS NULL OR (notice_mileage_before IS NOT NULL AND notice_day IS NOT NULL)",
            name=op.f("ck_returned_notice"),
        ),
        sa.CheckConstraint(
            "notice_mileage_before >= 0", name=op.f("ck_returned_notice_mileage_before")
        ),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_returned_job_id")),
        sa.PrimaryKeyConstraint("job_id", name=op.f("pk_returned")),
    )
