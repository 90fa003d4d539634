"""Where a burn-in of the command line is kept: a folder of its own, or a job of the shop."""

from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path

from needlewright.bench.burn_in.alone import alone
from needlewright.bench.burn_in.journal import Journal, begin
from needlewright.bench.burn_in.plan import BurnInPlan
from needlewright.bench.run_state import REAL
from needlewright.cli import console
from needlewright.cli.shop_options import shop_at
from needlewright.composing.burn_in_job import (
    begin_of_job,
    family_of,
    folder_of,
    take_up,
    unfinished_of,
)
from needlewright.composing.burn_in_keeper import Keeper
from needlewright.composing.burn_in_known import known_of_job
from needlewright.errors import RunError, UsageError
from needlewright.families.folder import load_family
from needlewright.families.model import Family
from needlewright.records.families import load_version
from needlewright.records.opening import Shop
from needlewright.records.sheet import job_sheet
from needlewright.records.stages import require_received
from needlewright.records.views import JobSheet

Begin = Callable[[BurnInPlan, str], Journal]
"""Begins the journal, or takes it up, once the devices are there: of a plan, and of `bench` or how
it is rehearsed."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where it is kept."""

    family: Family
    begin: Begin
    taken_over: Callable[[], str]
    """Ends the taking over; the sentence why it failed, else empty."""


@contextmanager
def place_of(
    family: Path | None,
    out: Path | None,
    unit: str | None,
    job: str | None,
    kept: tuple[Path | None, str | None],
) -> Iterator[Place]:
    """Where a burn-in is kept, as typed.

    Parameters
    ----------
    family
        Its folder, for a burn-in of no job.
    out
        Folder of such a burn-in.
    unit
        Name of its cluster.
    job
        Tag of the job it is of; None: of none.
    kept
        The shop's folder as typed, and who does it.

    Yields
    ------
    Place
        To begin it in.

    Raises
    ------
    UsageError
        If both are named, or neither.
    """
    shop, by = kept
    with ExitStack() as stack:
        if job is not None:
            if family is not None or out is not None or unit is not None:
                raise UsageError(
                    "--job knows family, folder and unit; leave --family, --out and --unit out"
                )
            yield _of_job(stack, stack.enter_context(shop_at(shop)), job, by)
            return
        if shop is not None or by is not None:
            raise UsageError("--shop and --by are of a job's burn-in; add --job TAG")
        if family is None or out is None or unit is None:
            raise UsageError("name --family, --out and --unit, or --job TAG of the shop")
        if not unit.strip():
            raise UsageError("--unit: say which cluster it is, by its tag or serial number")
        yield _of_folder(stack, load_family(family), out, unit)


def _of_folder(stack: ExitStack, family: Family, out: Path, unit: str) -> Place:
    def make(plan: BurnInPlan, cluster: str) -> Journal:
        if out.is_dir():
            stack.enter_context(alone(out))
            return begin(out, family.name, cluster, unit, plan)
        journal = begin(out, family.name, cluster, unit, plan)
        stack.enter_context(alone(out))
        return journal

    return Place(family, make, lambda: "")


def _of_job(stack: ExitStack, shop: Shop, tag: str, by: str | None) -> Place:
    sheet = job_sheet(shop, tag)
    if unfinished_of(shop, tag) is None:
        require_received(shop, tag)
        _say_too_early(sheet)
    keepers: list[Keeper] = []

    def make(plan: BurnInPlan, cluster: str) -> Journal:
        rehearsed = None if cluster == REAL else cluster
        view = unfinished_of(shop, tag)
        if view is None:
            known = known_of_job(shop, tag)
            view = begin_of_job(shop, sheet.tag, plan, known, rehearsed=rehearsed, by=by)
        elif BurnInPlan.model_validate(view.plan) != plan or view.rehearsed != rehearsed:
            raise RunError(
                f"job {view.tag}: its burn-in that is not finished was begun with another plan or "
                "cluster; give the same as then to go on with it, or set it aside: needlewright "
                f"jobs burn-ins {view.tag} --set-aside {view.id} --why TEXT"
            )
        stack.enter_context(alone(folder_of(shop, view.id)))
        journal = take_up(shop, view, by)
        keeper = Keeper(shop, view, journal, family_of(shop, view))
        keeper.follow()
        keepers.append(keeper)
        return journal

    def taken_over() -> str:
        for keeper in keepers:
            keeper.finish()
        return next((one.problem for one in keepers if one.problem), "")

    return Place(load_version(shop, sheet.family_version_id), make, taken_over)


def _say_too_early(sheet: JobSheet) -> None:
    """Say what would better come before; it holds nothing up."""
    if sheet.stage_of("needles").state != "finished":
        console.err.print(
            f"job {sheet.tag}: its needles are not set yet, and a needle that comes loose is found "
            "by a burn-in only once it is on",
            markup=False,
        )


def say_not_taken_over(problem: str) -> None:
    """Say that the journal has what the records could not take."""
    if problem:
        console.err.print(f"the journal has it all, the records not yet: {problem}", markup=False)
