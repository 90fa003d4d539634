"""Opening a shop: made from nothing, held against the models, refused when newer or foreign."""

import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import create_engine, text

from needlewright.errors import RecordError
from needlewright.records.database import APPLICATION_ID
from needlewright.records.migrations import REVISIONS
from needlewright.records.migrations.setting import migration_config
from needlewright.records.opening import open_shop
from needlewright.records.place import shop_folder
from needlewright.records.shop import add_person, people
from needlewright.records.tables import Base
from records.table_clauses import clause_lines


def test_the_steps_lead_from_nothing_to_the_models(tmp_path):
    with open_shop(tmp_path / "shop") as opened, opened.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, Base.metadata) == []


def test_checks_in_the_steps_are_those_of_the_models(tmp_path):
    """Alembic does not compare CHECK clauses; the tables' own words do."""
    modelled = _modelled()
    with open_shop(tmp_path / "shop") as opened:
        assert clauses(opened.engine) == clauses(modelled)
    assert sum(len(lines) for lines in clauses(modelled).values()) > 200


def clauses(engine):
    """Each table's columns and constraints, in no order."""
    with engine.connect() as connection:
        rows = connection.execute(
            text("SELECT name, sql FROM sqlite_master WHERE type = 'table'")
        ).all()
    return {name: sorted(clause_lines(sql)) for name, sql in rows if name != "alembic_version"}


def _modelled():
    modelled = create_engine("sqlite://")
    Base.metadata.create_all(modelled)
    return modelled


def test_the_known_forms_are_the_steps_there_are():
    steps = ScriptDirectory.from_config(migration_config()).walk_revisions()
    assert tuple(step.revision for step in steps)[::-1] == REVISIONS


def test_the_connection_is_safe(tmp_path):
    with open_shop(tmp_path / "shop") as opened, opened.engine.connect() as connection:
        said = {
            name: connection.scalar(text(f"PRAGMA {name}"))
            for name in ("journal_mode", "foreign_keys", "synchronous", "busy_timeout")
        }
        assert said == {
            "journal_mode": "wal",
            "foreign_keys": 1,
            "synchronous": 2,
            "busy_timeout": 15_000,
        }
        assert connection.scalar(text("PRAGMA application_id")) == APPLICATION_ID


def test_a_database_of_a_newer_version_is_refused_and_not_touched(tmp_path):
    with open_shop(tmp_path) as opened:
        add_person(opened, "A")
    with closing(sqlite3.connect(tmp_path / "shop.db")) as database, database:
        database.execute("UPDATE alembic_version SET version_num = '0999'")
    before = (tmp_path / "shop.db").read_bytes()
    with pytest.raises(RecordError) as said:
        open_shop(tmp_path)
    assert "was made by a newer version of this program (its form is '0999'" in str(said.value)
    assert "\n" not in str(said.value)
    assert (tmp_path / "shop.db").read_bytes() == before


def test_a_database_of_something_else_is_refused(tmp_path):
    with closing(sqlite3.connect(tmp_path / "shop.db")) as database, database:
        database.execute("CREATE TABLE songs (name TEXT)")
    with pytest.raises(RecordError, match="but not a shop's records"):
        open_shop(tmp_path)


def test_a_file_that_is_no_database_is_refused(tmp_path):
    (tmp_path / "shop.db").write_bytes(b"this is a text, and a long one at that" * 50)
    with pytest.raises(RecordError, match="the database is damaged"):
        open_shop(tmp_path)


def test_a_file_in_place_of_the_folder_is_refused(tmp_path):
    (tmp_path / "shop").write_text("x")
    with pytest.raises(RecordError, match="is a file; name the folder"):
        open_shop(tmp_path / "shop")


def test_a_database_left_empty_by_a_kill_is_filled(tmp_path):
    (tmp_path / "shop.db").touch()
    with open_shop(tmp_path) as opened:
        assert people(opened) == ()


def test_many_processes_may_open_a_new_shop_at_once(tmp_path):
    code = (
        "import sys; from pathlib import Path; from needlewright.records.opening import open_shop; "
        "from needlewright.records.shop import add_person; "
        "s = open_shop(Path(sys.argv[1])); add_person(s, sys.argv[2]); s.close()"
    )
    source = str(Path(__file__).parents[2] / "src")
    running = [
        subprocess.Popen(
            [sys.executable, "-c", code, str(tmp_path / "shop"), f"P{i}"],
            env={"PYTHONPATH": source, "PATH": ""},
            stderr=subprocess.PIPE,
        )
        for i in range(4)
    ]
    said = [process.communicate()[1] for process in running]
    assert said == [b""] * 4
    with open_shop(tmp_path / "shop") as opened:
        assert [p.name for p in people(opened)] == ["P0", "P1", "P2", "P3"]


def test_where_the_shop_lies(tmp_path, monkeypatch):
    monkeypatch.delenv("NEEDLEWRIGHT_SHOP", raising=False)
    assert shop_folder().name == "needlewright"
    monkeypatch.setenv("NEEDLEWRIGHT_SHOP", str(tmp_path / "env"))
    assert shop_folder() == tmp_path / "env"
    assert shop_folder(tmp_path / "stated") == tmp_path / "stated"
