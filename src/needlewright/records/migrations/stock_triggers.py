"""What the database refuses of the stock's ledger, whoever asks. What is here does not change."""

from collections.abc import Iterator
from typing import Final

_NEVER: Final = "the ledger of the stock is never changed; write what takes a line back"
_REFUSED: Final = {
    "below_zero": (
        "NEW.batch_id IS NOT NULL AND NEW.count + (SELECT COALESCE(SUM(count), 0) "
        "FROM stock_move WHERE batch_id = NEW.batch_id) < 0",
        "there are not so many left of this batch",
    ),
    "beyond_use": (
        "NEW.job_id IS NOT NULL AND NEW.count + (SELECT COALESCE(SUM(count), 0) "
        "FROM stock_move WHERE batch_id = NEW.batch_id AND job_id = NEW.job_id) > 0",
        "the job has not used so many of this batch",
    ),
    "other_part": (
        "NEW.batch_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM stock_batch "
        "WHERE id = NEW.batch_id AND part_id = NEW.part_id)",
        "the batch is of another part",
    ),
    "other_line": (
        "NEW.undoes_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM stock_move older "
        "WHERE older.id = NEW.undoes_id AND older.undoes_id IS NULL "
        "AND older.part_id = NEW.part_id AND older.kind = NEW.kind "
        "AND older.count = -NEW.count AND COALESCE(older.batch_id, 0) = COALESCE(NEW.batch_id, 0) "
        "AND COALESCE(older.job_id, 0) = COALESCE(NEW.job_id, 0))",
        "what takes a line back is that line with the opposite count",
    ),
}


def stock_triggers(dialect: str) -> Iterator[str]:
    """Statements for a database of that dialect."""
    return _for_sqlite() if dialect == "sqlite" else _for_server()


def _for_sqlite() -> Iterator[str]:
    for verb in ("UPDATE", "DELETE"):
        yield (
            f"CREATE TRIGGER stock_move_no_{verb.lower()} BEFORE {verb} ON stock_move "
            f"BEGIN SELECT RAISE(ABORT, '{_NEVER}'); END"
        )
    yield (
        "CREATE TRIGGER stock_move_no_replace BEFORE INSERT ON stock_move "
        "WHEN EXISTS (SELECT 1 FROM stock_move WHERE id = NEW.id "
        "OR undoes_id = NEW.undoes_id) "
        f"BEGIN SELECT RAISE(ABORT, '{_NEVER}'); END"
    )
    for name, (when, why) in _REFUSED.items():
        yield (
            f"CREATE TRIGGER stock_move_{name} BEFORE INSERT ON stock_move WHEN {when} "
            f"BEGIN SELECT RAISE(ABORT, '{why}'); END"
        )


def _for_server() -> Iterator[str]:
    yield (
        "CREATE TRIGGER stock_move_never BEFORE UPDATE OR DELETE ON stock_move "
        f"FOR EACH ROW EXECUTE FUNCTION needlewright_never('{_NEVER}')"
    )
    tests = " ".join(
        f"IF {when} THEN RAISE EXCEPTION '{why}'; END IF;" for when, why in _REFUSED.values()
    )
    yield (
        "CREATE FUNCTION needlewright_stock() RETURNS trigger AS $$ "
        f"BEGIN {tests} RETURN NEW; END $$ LANGUAGE plpgsql"
    )
    yield (
        "CREATE TRIGGER stock_move_refused BEFORE INSERT ON stock_move "
        "FOR EACH ROW EXECUTE FUNCTION needlewright_stock()"
    )
