"""What a run at the bench looked at of lamps and currents, kept thing by thing with the job.

It is no evidence: it is there so that a run as left can be held against the run as found.
"""

from collections.abc import Iterable, Sequence
from dataclasses import asdict
from typing import Final

from pydantic import TypeAdapter, ValidationError

from needlewright.errors import KnowledgeError
from needlewright.findings.lamps.looked import Looked
from needlewright.records.analyses import keep_analysis, withdraw_analysis
from needlewright.records.opening import Shop
from needlewright.records.views import JobSheet, RunLine, RunSheet
from needlewright.settings_trouble import first_wrong

_HEAD: Final = "lamps and currents of run "
_NOT_JUDGED: Final = "not_judged"
_LOOKED: Final = TypeAdapter(tuple[Looked, ...])


def looks_name(run: RunSheet | RunLine) -> str:
    """What the looks of a run are called in its job; no other run's are called so."""
    return f"{_HEAD}{run.name}, no. {run.id}"


def is_looks(name: str) -> bool:
    """Whether something that is kept with a job is the looks of a run."""
    return name.startswith(_HEAD)


def keep_looks(
    shop: Shop, run: RunSheet, looked: Sequence[Looked], problems: Iterable[str], by: str | None
) -> None:
    """Keep what a run looked at, in place of what it looked at before.

    Parameters
    ----------
    shop
        The shop.
    run
        In its records.
    looked
        Thing by thing.
    problems
        Sentences on photos that could not be judged.
    by
        Who takes it.

    Raises
    ------
    RecordError
        If it cannot be kept.
    """
    name = looks_name(run)
    pieces = [asdict(one) for one in looked]
    pieces += [{_NOT_JUDGED: words} for words in problems]
    if pieces:
        keep_analysis(shop, run.tag, name, [_plain(one) for one in pieces], by)
    else:  # a run that is finished again may have seen something the first time
        withdraw_analysis(shop, run.tag, name, by)


def looks_of(
    job: JobSheet, run: RunSheet | RunLine | None
) -> tuple[tuple[Looked, ...], tuple[str, ...]]:
    """What a run looked at.

    Parameters
    ----------
    job
        With what is kept with it.
    run
        Of the job; None: there is none.

    Returns
    -------
    tuple
        Thing by thing, and sentences on photos that could not be judged; both empty where nothing
        was looked at.

    Raises
    ------
    KnowledgeError
        If what is kept cannot be understood by this version of the program.
    """
    if run is None:
        return (), ()
    name = looks_name(run)
    view = next((one for one in job.analyses if one.name == name), None)
    pieces = () if view is None else view.pieces
    problems = tuple(str(one[_NOT_JUDGED]) for one in pieces if _NOT_JUDGED in one)
    try:
        looked = _LOOKED.validate_python([dict(p) for p in pieces if _NOT_JUDGED not in p])
    except ValidationError as error:
        raise KnowledgeError(f"{name}: {first_wrong(error, 'key')}") from error
    return looked, problems


def _plain(piece: dict[str, object]) -> dict[str, object]:
    return {
        key: float(f"{value:.6g}") if isinstance(value, float) else value
        for key, value in piece.items()
    }
