"""The work of a job's plan as it is done: its steps, what is ticked of them, and what is left."""

from collections.abc import Iterable, Mapping, Sequence
from math import sqrt
from typing import Any, Final

from needlewright.composing.guides import has_guide
from needlewright.composing.own_guides import book_in_use
from needlewright.composing.rebuild_model import (
    OF_PLANS,
    JobRebuild,
    OlderWork,
    PulledPart,
    RebuildStep,
    StepPart,
)
from needlewright.errors import PlanError
from needlewright.families.model import Family
from needlewright.plans.guides.line_keys import line_key
from needlewright.plans.guides.load import GuideBook
from needlewright.records.families import load_version
from needlewright.records.opening import Shop
from needlewright.records.plans import plan_of_job
from needlewright.records.sheet import job_sheet
from needlewright.records.tick_lines import SheetLine, plan_sheet
from needlewright.records.ticks import ticks_of
from needlewright.records.views.plans import PlanView
from needlewright.records.views.ticks import TickView

Document = Mapping[str, Any]
Marked = Mapping[str, list[TickView]]
RECOMMENDED: Final = "recommended"


def job_rebuild(shop: Shop, tag: str, family: Family | None = None) -> JobRebuild | None:
    """Put the work of a job's plan together with what is ticked of it.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    family
        In the version the job goes by; None: it is loaded.

    Returns
    -------
    JobRebuild or None
        Of the option that was agreed to, else of the recommended one; None: the job has no plan.

    Raises
    ------
    NotThereError
        If there is no such job.
    """
    plan = plan_of_job(shop, tag)
    if plan is None:
        return None
    ticks = [one for one in ticks_of(shop, tag) if one.sheet.startswith(OF_PLANS)]
    option = _option(plan)
    marked = _by_key(ticks)
    book, trouble = _guides(shop, tag, family)
    steps = tuple(_steps(option["steps"], marked, book))
    parts = tuple(_pulled(one, marked) for one in option["parts"])
    known = {one.key for one in steps} | {one.key for one in parts}
    left, u_left = _left(steps, float(option["u_minutes"]))
    return JobRebuild(
        tag=plan.tag,
        version=plan.version,
        number=plan.number,
        option=option["id"],
        title=option["title"],
        acceptance=plan.acceptance,
        needs_new_acceptance=plan.needs_new_acceptance,
        steps=steps,
        parts=parts,
        older=tuple(
            OlderWork(one.sheet.removeprefix(OF_PLANS), one)
            for one in ticks
            if one.key not in known
        ),
        minutes_left=left,
        u_minutes_left=u_left,
        guides_trouble=trouble,
    )


def step_keys(steps: Iterable[Document]) -> tuple[str, ...]:
    """Name the steps of a plan's option, so that the same step of another plan is found again.

    Parameters
    ----------
    steps
        As the plan's document has them.

    Returns
    -------
    tuple of str
        By operation and dial for work; by kind, dial and words for the way in, the way out and
        checks. A step that is there twice is counted on.
    """
    keys: list[str] = []
    for one in steps:
        if one["operation"] is not None:
            key = f"work:{one['operation']}"
        else:
            key = line_key(f"{one['kind']}:{one['dial'] or 'whole'}", one["words"])
        again = sum(k == key or k.startswith(f"{key}~") for k in keys)
        keys.append(f"{key}~{again + 1}" if again else key)
    return tuple(keys)


def rebuild_line(shop: Shop, tag: str, key: str) -> SheetLine:
    """The line of a job's plan to be marked.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    key
        Of a step or a part, or a step's number.

    Returns
    -------
    SheetLine
        On the sheet its tick stands on, which may be that of an older plan, else on that of the
        plan as it now is.

    Raises
    ------
    PlanError
        If the job has no plan, or its work no such line.
    """
    work = job_rebuild(shop, tag)
    if work is None:
        raise no_plan(tag)
    lines: list[RebuildStep | PulledPart] = [*work.steps, *work.parts]
    numbered = {str(one.number): one for one in work.steps}
    found = next((one for one in lines if one.key == key), None) or numbered.get(key)
    if found is None:
        old = next((one.line for one in work.older if one.line.key == key), None)
        if old is not None:
            return SheetLine(old.sheet, old.key, old.words)
        raise PlanError(
            f"job {work.tag}: the work of plan {work.number} has no step '{key[:60]}'; its steps "
            f"are 1 to {len(work.steps)} (needlewright jobs steps {work.tag})"
        )
    sheet = plan_sheet(work.number) if found.done is None else found.done.sheet
    return SheetLine(sheet, found.key, found.words)


def no_plan(tag: str) -> PlanError:
    """The job has no plan; what to do."""
    return PlanError(
        f"job {tag}: has no plan, so there are no steps to tick; make one "
        f"(needlewright plan --job {tag}, or the job's Plan on the page)"
    )


def progress_words(work: JobRebuild) -> str:
    """How far the work is, in one line: `7 of 12 steps, 1 h 20 min left ± 15 min`."""
    if not work.steps:
        return "nothing is to be done"
    said = f"{work.done} of {len(work.steps)} steps"
    if work.now is None:
        return f"all {len(work.steps)} steps done"
    if not work.minutes_left:
        return f"{said}, checks left"
    left, u = time_words(work.minutes_left), work.u_minutes_left
    # a spread below a minute is a minute: nobody works to the second
    return f"{said}, {left} left ± {time_words(max(u, 1.0))}" if u else f"{said}, {left} left"


def time_words(minutes: float) -> str:
    """Minutes as people say them: to one below half an hour, then to five."""
    whole = round(minutes) if minutes < 30 else 5 * round(minutes / 5)
    hours, rest = divmod(whole, 60)
    if not hours:
        return f"{rest} min"
    return f"{hours} h {rest} min" if rest else f"{hours} h"


def _option(plan: PlanView) -> Document:
    wanted = RECOMMENDED if plan.acceptance is None else plan.acceptance.option
    options: Sequence[Document] = plan.document["options"]
    return next((one for one in options if one["id"] == wanted), options[0])


def _by_key(ticks: Iterable[TickView]) -> dict[str, list[TickView]]:
    found: dict[str, list[TickView]] = {}
    for one in ticks:
        found.setdefault(one.key, []).append(one)
    return found


def _done(lines: Iterable[TickView]) -> TickView | None:
    """The tick; of several under different plans the latest."""
    return next((one for one in reversed(list(lines)) if one.mark == "done"), None)


def _guides(shop: Shop, tag: str, family: Family | None) -> tuple[GuideBook, str]:
    """The guides of a job; those of the program, and why, where its own cannot be used."""
    if family is None:
        family = load_version(shop, job_sheet(shop, tag).family_version_id)
    return book_in_use(shop, family)


def _steps(
    steps: Sequence[Document], marked: Mapping[str, list[TickView]], book: GuideBook
) -> Iterable[RebuildStep]:
    for number, (key, one) in enumerate(zip(step_keys(steps), steps, strict=True), start=1):
        there = marked.get(key, [])
        guide = one["guide"] if one["guide"] and has_guide(one["guide"], book) else None
        yield RebuildStep(
            number=number,
            key=key,
            kind=one["kind"],
            words=one["words"],
            dial=one["dial"],
            operation=one["operation"],
            minutes=one["minutes"],
            u_minutes=one.get("u_minutes"),
            reasons=tuple(one["reasons"]),
            cautions=tuple(one["cautions"]),
            parts=tuple(
                StepPart(part["id"], part["words"], part["count"]) for part in one["parts"]
            ),
            guide=guide,
            guide_missing=one["kind"] == "work" and guide is None,
            done=_done(there),
            notes=tuple(line for line in there if line.mark == "note"),
        )


def _pulled(part: Document, marked: Marked) -> PulledPart:
    key = f"part:{part['id']}"
    return PulledPart(key, part["id"], part["words"], part["count"], _done(marked.get(key, [])))


def _left(steps: Sequence[RebuildStep], u_whole: float) -> tuple[float, float]:
    """Expected minutes of what is not ticked, and their standard deviation."""
    waiting = [one for one in steps if one.done is None and one.minutes is not None]
    left = sum(one.minutes or 0.0 for one in waiting)
    if all(one.u_minutes is not None for one in waiting):
        return left, sqrt(sum((one.u_minutes or 0.0) ** 2 for one in waiting))
    # plans kept before their steps said how far they vary: by the squares of the minutes
    whole = sum((one.minutes or 0.0) ** 2 for one in steps)
    share = sum((one.minutes or 0.0) ** 2 for one in waiting) / whole
    return left, u_whole * sqrt(share)
