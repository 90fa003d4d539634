"""The sweep a bench films in a run: one video of the job, followed before it comes here."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from needlewright.records.bench_own import Own, own_named, withdraw_in, withdraw_own
from needlewright.records.bench_rows import require_whole
from needlewright.records.changes import change
from needlewright.records.find import run_with
from needlewright.records.opening import Shop
from needlewright.records.runs import tag_of_run
from needlewright.records.sweeps import put_followed, put_sweep, require_video
from needlewright.records.tables import Sweep

WHAT: Final = "sweep video"


@dataclass(frozen=True, slots=True)
class FollowedInRun:
    """What the bench followed in its own sweep, held against what it told."""

    document: Mapping[str, Any] | None = None
    problem: str | None = None
    """Why nothing could be followed; with neither, it is followed later as any other video."""
    damaged: str | None = None


def store_bench_sweep(
    shop: Shop,
    run_id: int,
    content: bytes,
    name: str,
    followed: FollowedInRun,
    *,
    by: str | None = None,
) -> None:
    """Keep the sweep of a run with what was followed in it, in place of an earlier one of the run.

    All of it is in one transaction: nobody finds the video without what was followed.

    Parameters
    ----------
    shop
        The shop.
    run_id
        The run.
    content
        The video's file.
    name
        Of the video; the same for every sweep of the run.
    followed
        What was found.
    by
        Who takes the run.

    Raises
    ------
    PictureError
        If it is too large, or no video.
    RecordError
        If the run was set aside, the job has the same video, or it cannot be saved.
    """
    require_video(shop, content, name)
    with change(shop, tag_of_run(shop, run_id), WHAT, by) as one:
        run = run_with(one.session, run_id)
        require_whole(run)
        withdraw_in(one, run, _own(name))
        one.session.flush()
        sweep = put_sweep(one, content, name)
        if followed.document is not None or followed.problem is not None:
            # a result holds the one or the other; where the file broke off, there is a result
            problem = followed.problem if followed.document is None else None
            put_followed(sweep, one.at, followed.document, problem, followed.damaged)


def withdraw_bench_sweep(shop: Shop, run_id: int, name: str, by: str | None = None) -> None:
    """Let the sweep of a run count no more, because it is taken again or skipped.

    Parameters
    ----------
    shop
        The shop.
    run_id
        The run.
    name
        Of the video; where there is none, nothing is changed. It stays kept, and undo brings it
        back.
    by
        Who does it.

    Raises
    ------
    RecordError
        If the run was set aside, or it cannot be saved.
    """
    withdraw_own(shop, run_id, _own(name), WHAT, by)


def _own(name: str) -> Own:
    return own_named(Sweep, Sweep.added_at, name)
