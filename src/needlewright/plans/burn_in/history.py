"""What became of a shop's rebuilt clusters, as a table: one row for each."""

import csv
from io import StringIO
from pathlib import Path
from typing import Final

from needlewright.errors import PlanError
from needlewright.plans.burn_in.early import PARTS, Clock
from needlewright.plans.wear.fit import Lives

COLUMNS: Final = ("hours", "sweeps", "failed")
MOST_BYTES: Final = 5_000_000
_FAILED: Final = ("no", *PARTS.values())


def read_history(path: Path) -> dict[Clock, Lives]:
    """Read what became of rebuilt clusters.

    Parameters
    ----------
    path
        CSV with the columns `hours,sweeps,failed`: hours of power and sweeps since the rebuild,
        burn-in included, when it failed or was last heard of; what is not known is empty. `failed`
        is `no`, `electronics` or `movements`.

    Returns
    -------
    dict
        Lives by clock: a cluster whose movement failed has electronics that had not by then.

    Raises
    ------
    PlanError
        If the table cannot be read, or a row cannot be used.
    """
    try:
        content = path.read_bytes()
    except OSError as error:
        raise PlanError(f"{path}: cannot be opened: {error.strerror or error}") from error
    if len(content) > MOST_BYTES:
        raise PlanError(f"{path}: {len(content)} bytes are no table of returns")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise PlanError(f"{path}: is no text in UTF-8; save it as CSV in UTF-8") from error
    reader = csv.DictReader(StringIO(text))
    if tuple(reader.fieldnames or ()) != COLUMNS:
        found = ",".join(reader.fieldnames or ()) or "nothing"
        raise PlanError(f"{path}: expected the columns {','.join(COLUMNS)}, found {found}")
    ages: dict[Clock, tuple[list[float], list[float]]] = {clock: ([], []) for clock in PARTS}
    for row in reader:
        place = f"{path}: line {reader.line_num}"
        if None in row or None in row.values():
            raise PlanError(f"{place}: expected {len(COLUMNS)} cells")
        failed = row["failed"].strip()
        if failed not in _FAILED:
            raise PlanError(f"{place}, failed: expected {', '.join(_FAILED)}, found '{failed}'")
        for clock, part in PARTS.items():
            age = _age(f"{place}, {clock}", row[clock], needed=failed == part)
            if age is not None:
                ages[clock][0 if failed == part else 1].append(age)
    return {clock: Lives(tuple(one[0]), tuple(one[1])) for clock, one in ages.items()}


def _age(place: str, text: str, *, needed: bool) -> float | None:
    if not text.strip() and not needed:
        return None
    try:
        age = float(text)
    except ValueError:
        age = 0.0
    if not 0 < age < 1e9:
        raise PlanError(f"{place}: expected a number above 0, found '{text}'; or leave the row out")
    return age
