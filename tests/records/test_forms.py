"""Every older form of the records is brought up, in a file and on a server.

A shop of the first form is made by the first step alone and filled by plain SQL, so that nothing
the program has learnt since is in it. Where NEEDLEWRIGHT_TEST_POSTGRES names a database, the same
is done there; what a server would be told is held against the models without one, too.
"""

import io
from datetime import UTC, datetime

import pytest
import sqlalchemy as sa
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy.dialects import postgresql
from sqlalchemy.schema import CreateIndex, CreateTable

from needlewright.errors import NotThereError
from needlewright.records import burn_ins, jobs
from needlewright.records.database import APPLICATION_ID, WRITES, make_engine
from needlewright.records.families import version_views
from needlewright.records.find import LARGEST_ID
from needlewright.records.migrations import REVISIONS
from needlewright.records.migrations.setting import migration_config
from needlewright.records.opening import open_shop
from needlewright.records.place import ADDRESS, database_address
from needlewright.records.plans import keep_plan, plan_of_job
from needlewright.records.runs import run_sheet
from needlewright.records.sheet import job_sheet
from needlewright.records.stock import receive, stock, use_part
from needlewright.records.stock_parts import add_part
from needlewright.records.tables import Base
from needlewright.records.tick_lines import SheetLine
from needlewright.records.ticks import tick, ticks_of
from needlewright.records.undo import undo_last
from needlewright.records.waiting_photos import photos_to_read
from records.benches import ANNA, SERVER, on_server
from records.table_clauses import clause_lines

THEN = datetime(2026, 1, 2, 3, 4, 5, tzinfo=UTC)
SHA = "0123456789abcdef" * 4
FOLDED_ON_SERVER = "uq_family_file_version_id_path"
"""A server folds this constraint into the primary key of the same columns."""


def in_form(folder, form: str) -> sa.Engine:
    """A new database, brought as far as the form and no further."""
    folder.mkdir()
    if SERVER:
        (folder / ADDRESS).write_text(on_server())
    engine = make_engine(database_address(folder) or f"sqlite:///{folder / 'shop.db'}")
    step_to(engine, form)
    if not SERVER:
        with engine.begin() as connection:
            connection.exec_driver_sql(f"PRAGMA application_id = {APPLICATION_ID}")
    return engine


def step_to(engine: sa.Engine, form: str) -> None:
    with engine.execution_options(**{WRITES: True}).begin() as connection:
        command.upgrade(migration_config(connection), form)


ROWS = {
    "person": [{"name": ANNA, "name_key": ANNA.casefold(), "has_left": False}],
    "family_version": [
        {"name": name, "content_hash": letter, "stored_at": THEN, "chosen_at": THEN}
        for name, letter in (("FAM", "a"), ("Ähnlich", "b"), ("ähnlich", "c"), ("fam", "d"))
    ],
    "cluster": [{"family": "FAM", "serial": "S-1", "variant": None}],
    "original": [{"sha256": SHA, "extension": "jpg", "size": 9, "stored_at": THEN}],
    "job": [
        {
            "tag": "T-1",
            "tag_key": "t-1",
            "cluster_id": 1,
            "family_version_id": 1,
            "owner": "C. Ustomer",
            "owner_contact": "",
            "vehicle": "an invented van",
            "complaint": "sticks",
            "odometer_unit": "km",
            "odometer_in": 184_213.5,
            "work_done": ["cleaned"],
            "remarks": [],
            "instruments": [],
            "stage": "bench_check",
            "waits_for": "bench",
            "opened_at": THEN,
            "search": "t-1",
            "version": 3,
        }
    ],
    "received": [
        {"job_id": 1, "contents": [], "family_note": "", "variant_note": "", "face_note": ""}
        | {"sender": "C. Ustomer", "packing": "", "damage": "", "condition": ""}
        | {"odometer_unreadable": "", "connector_note": ""}
    ],
    "returned": [
        {"job_id": 1, "contents": [], "packing": "", "carrier": "", "procedure": ""}
        | {"notice_attached_to": ""}
    ],
    "run": [
        {"job_id": 1, "name": "as-found", "side": "found", "family_version_id": 1}
        | {"started_at": THEN, "person_id": 1, "set_aside_why": ""}
    ],
    "photo": [
        {"run_id": 1, "step": 0, "sha256": SHA, "name": "0.jpg", "added_at": THEN}
        | {"person_id": 1, "shown": True}
    ],
    "run_row": [
        {"run_id": 1, "position": 0, "step": 0, "dial": "speedometer", "unit": "km/h"}
        | {"approach": "up", "commanded": 60.0, "typed": False, "flags": []}
    ],
}
"""A job that is on the bench, with one photo nobody has read yet."""


def fill(engine: sa.Engine) -> None:
    there = sa.MetaData()
    there.reflect(engine)
    with engine.execution_options(**{WRITES: True}).begin() as connection:
        for name, rows in ROWS.items():
            connection.execute(there.tables[name].insert(), rows)


def differences(engine: sa.Engine) -> list[object]:
    with engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        found = compare_metadata(context, Base.metadata)
    said = [(what[0], getattr(what[-1], "name", what)) for what in found]
    return [one for one in said if not SERVER or one != ("add_constraint", FOLDED_ON_SERVER)]


@pytest.mark.parametrize("stops", [(), REVISIONS[1:]], ids=["at once", "form by form"])
def test_a_shop_of_the_first_form_is_brought_up_and_works(tmp_path, stops):
    engine = in_form(tmp_path / "shop", REVISIONS[0])
    fill(engine)
    for form in stops:  # as a shop that was opened with every version of the program
        step_to(engine, form)
    engine.dispose()
    with open_shop(tmp_path / "shop") as opened:
        assert differences(opened.engine) == []
        what_was_there_is_there(opened)
        what_came_since_works(opened)
        for number in (LARGEST_ID - 1, LARGEST_ID, 1 << 40, 1 << 62):
            with pytest.raises(NotThereError, match="there is no run"):
                run_sheet(opened, number)


def what_was_there_is_there(opened):
    sheet = job_sheet(opened, "T-1")
    assert (sheet.odometer_in, sheet.work_done, sheet.built) == (184_213.5, ("cleaned",), None)
    assert (sheet.opened_at, sheet.version) == (THEN, 3)
    run = run_sheet(opened, 1)
    assert (run.name, len(run.photos), run.reading_stopped_at) == ("as-found", 1, None)
    assert run.rehearsed is None
    assert [photo.name for photo in photos_to_read(opened)] == ["0.jpg"]
    with opened.reading() as session:
        versions = version_views(session).values()
    assert sorted((one.name, one.number, one.kept_by, one.note) for one in versions) == [
        ("FAM", 1, None, ""),
        ("fam", 2, None, ""),
        ("Ähnlich", 1, None, ""),
        ("ähnlich", 2, None, ""),
    ]


def what_came_since_works(opened):
    """One thing of each form since, saved and found again."""
    jobs.edit_job(opened, "T-1", {"built": "2012-05"}, ANNA)
    keep_plan(opened, "T-1", {"number": "AAAA0001", "tag": "T-1", "options": []}, ANNA)
    add_part(opened, {"code": "movement", "words": "stepper movement"}, ANNA)
    receive(opened, "movement", 5, "B1", ANNA)
    use_part(opened, "T-1", "movement", 2, ANNA)
    begun = burn_ins.begin(opened, "T-1", burn_ins.NewBurnIn("S-1", None, {"hours": 2}, {}), ANNA)
    tick(opened, "T-1", SheetLine("plan:AAAA0001", "open", "open the case"), ANNA)
    plan = plan_of_job(opened, "T-1")
    assert (job_sheet(opened, "T-1").built, plan.number) == ("2012-05", "AAAA0001")
    assert [one.on_hand for one in stock(opened)] == [3]
    assert [one.id for one in burn_ins.burn_ins_of(opened, "T-1")] == [begun.id]
    assert [one.key for one in ticks_of(opened, "T-1")] == ["open"]
    undo_last(opened, "T-1", ANNA)
    assert ticks_of(opened, "T-1") == ()


def test_the_steps_told_to_a_server_make_the_tables_of_the_models():
    """Types that are one in a file are not on a server: with and without a zone, long and short.

    No server is needed; what it would be told is compared word for word.
    """
    told = written_for_server()
    modelled = [sql(CreateTable(table)) for table in Base.metadata.sorted_tables]
    assert tables(told) == tables(modelled)
    made = {one for one in told if one.startswith(("CREATE INDEX", "CREATE UNIQUE INDEX"))}
    asked = (index for table in Base.metadata.sorted_tables for index in table.indexes)
    assert made == {sql(CreateIndex(index)) for index in asked}
    assert "CREATE FUNCTION needlewright_never()" in " ".join(told)
    assert not any("RAISE(ABORT" in one for one in told)


def written_for_server() -> list[str]:
    config = migration_config()
    config.attributes["dialect"] = "postgresql"
    config.output_buffer = io.StringIO()
    command.upgrade(config, "head", sql=True)
    lines = config.output_buffer.getvalue().splitlines(keepends=True)
    said = "".join(line for line in lines if not line.startswith("-- "))
    return [" ".join(one.split()) for one in said.split(";\n\n")]


def sql(element) -> str:
    return " ".join(str(element.compile(dialect=postgresql.dialect())).split())


def tables(statements) -> dict[str, list[str]]:
    """Columns and constraints of each table, in no order, with what was added later."""
    found: dict[str, list[str]] = {}
    for said in statements:
        if said.startswith("CREATE TABLE alembic_version"):
            continue
        if said.startswith("CREATE TABLE "):
            found[said.split()[2]] = clause_lines(said)
        elif said.startswith("ALTER TABLE "):
            table, _, column = said.removeprefix("ALTER TABLE ").partition(" ADD COLUMN ")
            found[table].append(column)
    return {name: sorted(lines) for name, lines in found.items()}
