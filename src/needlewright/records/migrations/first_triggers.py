"""What the database itself refuses from the first form on: changing what is never changed."""

from collections.abc import Iterator
from typing import Final

NEVER_CHANGED: Final = {
    "paper": "a paper is never changed or removed; file a new version that names it",
    "original": "an original is never changed or removed",
    "stage_event": "what was done stays written; write what was done next",
    "edit": "the journal is never changed",
    "edit_value": "the journal is never changed",
}
_OLDER: Final = "a new version of a paper names the version before it, of the same job and number"
_SAME_KEY: Final = {
    "paper": "id = NEW.id OR (number = NEW.number AND version = NEW.version)",
    "original": "sha256 = NEW.sha256",
    "stage_event": "id = NEW.id",
    "edit": "id = NEW.id",
    "edit_value": "id = NEW.id",
}
"""A row that REPLACE would remove without a word to the trigger on DELETE."""


def sqlite_triggers() -> Iterator[str]:
    """Statements for SQLite."""
    for table, why in NEVER_CHANGED.items():
        for verb in ("UPDATE", "DELETE"):
            yield (
                f"CREATE TRIGGER {table}_no_{verb.lower()} BEFORE {verb} ON {table} "
                f"BEGIN SELECT RAISE(ABORT, '{why}'); END"
            )
        yield (
            f"CREATE TRIGGER {table}_no_replace BEFORE INSERT ON {table} "
            f"WHEN EXISTS (SELECT 1 FROM {table} WHERE {_SAME_KEY[table]}) "
            f"BEGIN SELECT RAISE(ABORT, '{why}'); END"
        )
    yield (
        "CREATE TRIGGER job_no_delete BEFORE DELETE ON job "
        "BEGIN SELECT RAISE(ABORT, 'a job is never removed'); END"
    )
    yield (
        "CREATE TRIGGER paper_names_older BEFORE INSERT ON paper "
        "WHEN NEW.version > 1 AND NOT EXISTS (SELECT 1 FROM paper WHERE id = NEW.replaces_id "
        "AND number = NEW.number AND version = NEW.version - 1 AND job_id = NEW.job_id) "
        f"BEGIN SELECT RAISE(ABORT, '{_OLDER}'); END"
    )


def postgresql_triggers() -> Iterator[str]:
    """Statements for PostgreSQL, whose REPLACE does not exist."""
    yield (
        "CREATE FUNCTION needlewright_never() RETURNS trigger AS $$ "
        "BEGIN RAISE EXCEPTION '%', TG_ARGV[0]; END $$ LANGUAGE plpgsql"
    )
    for table, why in {**NEVER_CHANGED, "job": "a job is never removed"}.items():
        verbs = "DELETE" if table == "job" else "UPDATE OR DELETE"
        yield (
            f"CREATE TRIGGER {table}_never BEFORE {verbs} ON {table} "
            f"FOR EACH ROW EXECUTE FUNCTION needlewright_never('{why}')"
        )
    yield (
        "CREATE FUNCTION needlewright_names_older() RETURNS trigger AS $$ BEGIN "
        "IF NEW.version > 1 AND NOT EXISTS (SELECT 1 FROM paper WHERE id = NEW.replaces_id "
        "AND number = NEW.number AND version = NEW.version - 1 AND job_id = NEW.job_id) "
        f"THEN RAISE EXCEPTION '{_OLDER}'; END IF; RETURN NEW; END $$ LANGUAGE plpgsql"
    )
    yield (
        "CREATE TRIGGER paper_names_older BEFORE INSERT ON paper "
        "FOR EACH ROW EXECUTE FUNCTION needlewright_names_older()"
    )
