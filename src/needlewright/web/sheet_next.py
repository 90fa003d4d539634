"""The one next thing to do on a job, and what each part of the work came to."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from needlewright.papers.wording import mileage
from needlewright.records.views import JobSheet
from needlewright.records.words import STAGES, Stage
from needlewright.web.pages import address

if TYPE_CHECKING:
    from needlewright.web.sheet_view import SheetView

PROVING: Final = ("certificate", "certificate_with_exceptions", "not_conforming_report")


@dataclass(frozen=True, slots=True)
class NextThing:
    """What the filled button says and does; without both addresses it is only said."""

    words: str
    goes_to: str = ""
    """A place on the page."""
    posts: str = ""
    """Where the button sends an empty form."""


def part_in_hand(job: JobSheet) -> Stage | None:
    """The first part that is not finished; None when all are."""
    return next((s for s in STAGES if job.stage_of(s).state != "finished"), None)


def next_thing(view: "SheetView") -> NextThing:
    """Work out the one next thing.

    Parameters
    ----------
    view
        The sheet.

    Returns
    -------
    NextThing
        The first that is open in the part in hand, else finishing that part.
    """
    t, job = view.t, view.job
    stage = part_in_hand(job)
    if view.burn_in.is_on and view.burn_in.last is not None:
        place = address("/jobs", job.tag, "burn-in", view.burn_in.last.id)
        return NextThing(t("sheet.next.burn_in_on"), place)
    if stage is None:
        return NextThing(t("sheet.next.nothing"))
    opens = {
        "received": _received,
        "bench_check": _bench_check,
        "needles": _needles,
        "final_check": _final_check,
        "returned": _returned,
    }[stage]
    first = next(opens(view), None)
    if first is not None:
        return first
    missing = view.missing[stage]
    if missing:
        return NextThing(missing[0], f"#part-{stage}")
    finish = address("/jobs", job.tag, "parts", stage, "finish")
    return NextThing(t(f"sheet.next.finish.{stage}"), posts=finish)


def _received(view: "SheetView") -> Iterator[NextThing]:
    t, job, came = view.t, view.job, view.job.received
    if not came.sender:
        yield NextThing(t("sheet.next.sender"), "#received-sender")
    if not came.contents:
        yield NextThing(t("sheet.next.contents"), "#received-contents")
    if not came.condition:
        yield NextThing(t("sheet.next.condition"), "#received-condition")
    if job.odometer_in is None and not job.odometer_none and not came.odometer_unreadable:
        yield NextThing(t("sheet.next.odometer"), "#received-odometer_in")
    for check in came.checks:
        if check.ok is None:
            words = t("sheet.next.check", what=t(f"sheet.check.{check.what}"))
            yield NextThing(words, f"#check-{check.what}")
            return


def _bench_check(view: "SheetView") -> Iterator[NextThing]:
    yield from _wrong_unit(view)
    yield from _run(view, "found")
    test = view.found.next_test
    if test is not None:
        place = address("/jobs", view.job.tag, "findings")
        yield NextThing(view.t("sheet.next.test", test=test), f"{place}#next")
    agreed = _plan_to_agree(view)
    if agreed is not None:
        yield agreed


def _plan_to_agree(view: "SheetView") -> NextThing | None:
    """What a plan still asks for before its work begins, which is after the bench check."""
    return None if view.plan.stands == "accepted" else plan_step(view)


def _wrong_unit(view: "SheetView") -> Iterator[NextThing]:
    wrong = any(check.ok is False for check in view.job.received.checks)
    if wrong and not any(one.kind == "wrong_unit" for one in view.job.decisions):
        yield NextThing(view.t("sheet.next.wrong_unit"), "#wrong-unit")


def _run(view: "SheetView", side: str) -> Iterator[NextThing]:
    t, run = view.t, view.run(side)
    if run is None:
        yield NextThing(t(f"sheet.next.start.{side}"), f"#{side}-start")
        return
    stand = view.at_bench(side)
    if stand is not None:
        key = "sheet.next.bench_on" if stand.is_on else "sheet.next.bench_go_on"
        place = address("/jobs", view.job.tag, "run", stand.run_id, "bench")
        yield NextThing(t(key, step=stand.done + 1, of=stand.of), place)
        return
    for step in run.wanted[:1]:
        told = ", ".join(f"{dial} {words}" for dial, words in step.told)
        words = t("sheet.next.photo", step=step.number, told=told or t("runs.at_rest"))
        yield NextThing(words, f"#{side}-photo-{step.number}")
    if run.unread and run.stopped:
        yield NextThing(t("sheet.next.read_on"), f"#{side}-run")
    elif run.unread:
        yield NextThing(t("sheet.next.reading", read=run.read, of=len(run.sheet.photos)))
    for step in run.again[:1]:
        yield NextThing(t("sheet.next.again", step=step.number), f"#{side}-photo-{step.number}")


def plan_step(view: "SheetView") -> NextThing | None:
    """What the plan asks for; None: nothing, or work went on without it.

    Parameters
    ----------
    view
        The sheet.

    Returns
    -------
    NextThing or None
        Making it is asked for before the first needle is set; the owner's yes to a plan there is,
        until it is entered; then the work by it, step by step. None of them holds anything up.
    """
    t, plan = view.t, view.plan
    place = address("/jobs", view.job.tag, "plan")
    if plan.stands in ("open", "changed", "taken_back"):
        key = "again" if plan.stands == "changed" else "yes"
        return NextThing(t(f"plan.sheet.{key}"), f"{place}#acceptance")
    if plan.stands == "none":
        begun = bool(view.job.work_done) or any(one.said is not None for one in view.needles)
        return NextThing(t("plan.sheet.make"), place) if plan.is_wanted and not begun else None
    step = view.rebuild.now
    if step is None:
        return None
    words = t("plan.sheet.step", n=step.number, words=step.words)
    return NextThing(words, f"{address('/jobs', view.job.tag, 'rebuild')}#steps")


def is_finished_beside(view: "SheetView", stage: Stage) -> bool:
    """Whether a part in hand can be finished although something else is the one next thing.

    Parameters
    ----------
    view
        The sheet.
    stage
        The part in hand.

    Returns
    -------
    bool
        Where nothing but a test of the findings, the plan, or a burn-in that was begun is to be
        done before.
    """
    if view.burn_in.is_on:
        return True
    if stage == "bench_check":
        return view.found.next_test is not None or _plan_to_agree(view) is not None
    left = burn_in_step(view)
    if stage == "needles":
        waits = plan_step(view) is not None or left is not None
        return waits and next(_needle_to_set(view), None) is None
    return stage == "final_check" and left is not None and next(_last_check(view), None) is None


def _needles(view: "SheetView") -> Iterator[NextThing]:
    step = plan_step(view)
    if step is not None:
        yield step
    yield from _needle_to_set(view)
    yield from _burn_in(view)


def burn_in_step(view: "SheetView") -> NextThing | None:
    """Going on with a burn-in that was begun and is not over; None: there is none such.

    Parameters
    ----------
    view
        The sheet.

    Returns
    -------
    NextThing or None
        Asked for once the needles are set, until the final check; it holds nothing up.
    """
    burn_in = view.burn_in
    if burn_in.last is None or not burn_in.is_left:
        return None
    place = address("/jobs", view.job.tag, "burn-in", burn_in.last.id)
    return NextThing(view.t(f"sheet.next.burn_in.{burn_in.last.state}"), place)


def _burn_in(view: "SheetView") -> Iterator[NextThing]:
    step = burn_in_step(view)
    if step is not None:
        yield step


def _needle_to_set(view: "SheetView") -> Iterator[NextThing]:
    for needle in view.needles:
        if needle.said is None and needle.verdict != "leave" and not needle.is_replaced:
            key = needle.verdict or "none"
            words = view.t(f"sheet.next.needle.{key}", dial=needle.dial, turn=needle.turn_line)
            yield NextThing(words, f"#needle-{needle.dial}")
            return


def _final_check(view: "SheetView") -> Iterator[NextThing]:
    yield from _burn_in(view)
    yield from _last_check(view)


def _last_check(view: "SheetView") -> Iterator[NextThing]:
    t, job = view.t, view.job
    yield from _run(view, "left")
    if any(paper.kind in PROVING for paper in job.papers):
        return
    if job.odometer_out is None and not job.odometer_none and job.odometer_in is not None:
        yield NextThing(t("sheet.next.odometer_out"), "#final-odometer_out")
    yield NextThing(t("sheet.next.issue"), "#papers-certificate")


def _returned(view: "SheetView") -> Iterator[NextThing]:
    t, job, goes = view.t, view.job, view.job.returned
    if job.odometer_out is None and not job.odometer_none and job.odometer_in is not None:
        yield NextThing(t("sheet.next.odometer_out"), "#returned-odometer_out")
    if view.odometer is not None and not view.odometer.lawful:
        yield NextThing(t("sheet.next.odometer_law"), "#odometer-law")
    if view.wants_notice:
        yield NextThing(t("sheet.next.notice"), "#odometer-notice")
    if not goes.contents:
        yield NextThing(t("sheet.next.contents_out"), "#returned-contents")
    if not goes.packing:
        yield NextThing(t("sheet.next.packing"), "#returned-packing")
    if not goes.carrier:
        yield NextThing(t("sheet.next.carrier"), "#returned-carrier")


def result_line(view: "SheetView", stage: Stage) -> str:
    """What a part came to, in one line.

    Parameters
    ----------
    view
        The sheet.
    stage
        Which part.

    Returns
    -------
    str
        Empty where there is nothing to say.
    """
    told = {
        "received": _came_in,
        "bench_check": lambda v: _run_result(v, "found"),
        "needles": _needles_result,
        "final_check": lambda v: "; ".join(
            [*_papers_result(v), *_lamps_result(v), _run_result(v, "left")]
        ),
        "returned": _went_out,
    }
    return told[stage](view).strip("; ")


def _came_in(view: "SheetView") -> str:
    t, job, came = view.t, view.job, view.job.received
    parts = [t("sheet.result.sender", sender=came.sender)] if came.sender else []
    if came.contents:
        ticked = sum(item.ticked for item in came.contents)
        parts.append(t("sheet.result.contents", ticked=ticked, of=len(came.contents)))
    if came.damage:
        parts.append(t("sheet.result.damage", damage=came.damage))
    wrong = [t(f"sheet.check.{c.what}") for c in came.checks if c.ok is False]
    if wrong:
        parts.append(t("sheet.result.wrong_unit", what=", ".join(wrong)))
    elif all(check.ok for check in came.checks):
        parts.append(t("sheet.result.right_unit"))
    if job.odometer_in is not None:
        parts.append(mileage(job.odometer_in, job.odometer_unit))
    return "; ".join(parts)


def _run_result(view: "SheetView", side: str) -> str:
    run = view.run(side)
    if run is None:
        return ""
    by_words: dict[str, list[str]] = {}
    for dial in run.dials:
        by_words.setdefault(dial.words, []).append(dial.dial)
    return "; ".join(f"{', '.join(dials)}: {words}" for words, dials in by_words.items())


def _needles_result(view: "SheetView") -> str:
    return "; ".join(view.job.work_done)


def _papers_result(view: "SheetView") -> Iterator[str]:
    for paper in view.job.papers:
        if paper.kind in PROVING and paper.replaced_by is None:
            yield f"{view.t(f'papers.kind.{paper.kind}')} {paper.name}"


def _lamps_result(view: "SheetView") -> Iterator[str]:
    """What is wrong of lamps and currents as left, or was not seen; it is never folded away."""
    after = view.after_work
    if after is None:
        return
    if after.worse:
        yield view.t("findings.after.worse", n=after.wrong, worse=after.worse)
    elif after.wrong:
        yield view.t("findings.after.wrong", n=after.wrong)
    if after.unseen:
        yield view.t("findings.after.unseen", n=after.unseen)
    if after.not_judged:
        yield view.t("findings.after.not_judged_result")


def _went_out(view: "SheetView") -> str:
    t, job, goes = view.t, view.job, view.job.returned
    parts = [t("sheet.result.carrier", carrier=goes.carrier)] if goes.carrier else []
    if job.odometer_out is not None:
        key = "same" if job.odometer_out == job.odometer_in else "differs"
        shown = mileage(job.odometer_out, job.odometer_unit)
        parts.append(t(f"sheet.result.odometer.{key}", shown=shown))
    return "; ".join(parts)
