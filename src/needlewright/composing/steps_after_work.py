"""What to do next once the work is done: by the run as left, no more by the run as found."""

from collections.abc import Iterator
from typing import Final

from needlewright.composing.after_work import AfterWork
from needlewright.composing.explained_runs import run_rows
from needlewright.composing.finding_model import Step, StepKind
from needlewright.composing.gauge_names import GaugeNames, gauge_names
from needlewright.errors import NeedlewrightError
from needlewright.families.model import Family
from needlewright.proofs.verdict_model import RunVerdict
from needlewright.proofs.verdicts import judge_run
from needlewright.records.families import load_version
from needlewright.records.opening import Shop
from needlewright.records.runs import run_sheet
from needlewright.records.stages import what_run_is_missing
from needlewright.records.views import JobSheet, PaperView, RunLine, RunSheet

PROVING: Final = {
    "certificate": "the certificate",
    "certificate_with_exceptions": "the certificate with exceptions",
    "not_conforming_report": "the report that it does not conform",
}
FAILS: Final = ("fail", "conditional_fail")
OPEN: Final = ("not complete", "not_read")


def steps_after_work(
    shop: Shop, job: JobSheet, family: Family, after: AfterWork | None
) -> tuple[Step, ...]:
    """What the newest run as left asks for.

    Parameters
    ----------
    shop
        The shop.
    job
        Its sheet.
    family
        In the version the job goes by.
    after
        What the work did to lamps and currents; None: no run as left looked at any.

    Returns
    -------
    tuple of Step
        Best first; empty where no run as left was begun, so that the findings go on by the run as
        found.
    """
    lines = [one for one in job.runs if one.side == "left" and not one.set_aside_at]
    if not lines:
        return ()
    return tuple(_steps(shop, job, family, after, lines[-1]))


def _steps(
    shop: Shop,
    job: JobSheet,
    family: Family,
    after: AfterWork | None,
    line: RunLine,
) -> Iterator[Step]:
    missing = what_run_is_missing(shop, job.tag, "left")
    run = run_sheet(shop, line.id)
    seen_in = f"By run {run.name}; what the run as found showed has been worked on since."
    if missing:
        yield _step("finish_run", f"Finish the run as left: {missing[0]}", seen_in, missing)
        return
    try:
        verdict = _judged(shop, job, family, run)
    except NeedlewrightError as error:
        yield _step("finish_run", f"Finish the run as left: {error}", seen_in)
        return
    names = gauge_names(family)
    wrong = [*_named(verdict, names, FAILS), *_lamps_wrong(after)]
    doubtful, unseen = _not_seen_again(after), _unseen(after)
    unsure = _named(verdict, names, OPEN)
    paper = _proof(job, run)
    if paper is not None:
        words = f"Nothing is left to look for: {PROVING[paper.kind]} {paper.name} is issued"
        yield _step("over", words, seen_in, [*(f"wrong as left: {one}" for one in wrong), *unseen])
        return
    if wrong:
        words = f"Go on with the work; wrong as left: {_listed(wrong)}"
        yield _step("mend", words, seen_in, [*wrong, *unseen])
        reason = "What is wrong as left stays so, and the paper says it: a speedometer that fails "
        yield _step("prove", "Or leave it so, and issue its paper", f"{reason}gets no certificate.")
    elif unsure:
        words = f"Take the run as left again; not settled: {_listed(unsure)}"
        yield _step("finish_run", words, seen_in, [*unsure, *unseen])
    elif doubtful:
        words = f"Look again; wrong as found and not seen as left: {_listed(doubtful)}"
        yield _step("finish_run", words, seen_in, unseen)
        reason = "Nobody then knows whether the work mended it, and no paper says that it did."
        yield _step("prove", "Or leave it unseen, and issue its certificate", reason)
    else:
        yield _step("prove", _proof_words(after), seen_in, unseen)


def _judged(shop: Shop, job: JobSheet, family: Family, run: RunSheet) -> RunVerdict:
    own = family
    if run.family_version_id != job.family_version_id:
        own = load_version(shop, run.family_version_id)
    return judge_run(own, run_rows(shop, run, own), max_speed=job.max_speed)


def _named(verdict: RunVerdict, names: GaugeNames, codes: tuple[str, ...]) -> list[str]:
    return [f"the {names.get(d.dial, d.dial)}" for d in verdict.dials if d.code in codes]


def _lamps_wrong(after: AfterWork | None) -> list[str]:
    return [] if after is None else [one.what for one in after.lines if one.is_wrong]


def _not_seen_again(after: AfterWork | None) -> list[str]:
    """What was wrong as found, and may be so still."""
    return [] if after is None else [one.what for one in after.lines if one.outcome == "not_seen"]


def _unseen(after: AfterWork | None) -> list[str]:
    """What nobody saw as left, each with why not, and photos that could not be judged."""
    if after is None:
        return []
    return [
        *(f"not seen as left: {one.named}" for one in after.lines if one.is_unseen),
        *after.not_judged,
    ]


def _proof_words(after: AfterWork | None) -> str:
    """What the proof rests on; what was not seen is said with it."""
    if after is None or not (after.unseen or after.not_judged):
        return "Issue its certificate: nothing that was looked at is wrong as left"
    words = "Issue its certificate: nothing that was seen is wrong as left"
    if after.unseen:
        one = after.unseen == 1
        words += f"; {after.unseen} {'lamp or current was' if one else 'lamps or currents were'}"
        words += " not seen"
    return words if not after.not_judged else f"{words}; some photos could not be judged"


def _proof(job: JobSheet, run: RunSheet) -> PaperView | None:
    """The paper that was issued on the run; one from before it says nothing of it."""
    papers = [
        one
        for one in job.papers
        if one.kind in PROVING and one.replaced_by is None and one.issued_at >= run.started_at
    ]
    return papers[-1] if papers else None


def _listed(things: list[str]) -> str:
    return " and ".join([", ".join(things[:-1]), things[-1]] if len(things) > 1 else things)


def _step(kind: StepKind, words: str, reason: str, then: tuple[str, ...] | list[str] = ()) -> Step:
    return Step(kind, None, None, words, reason, None, None, None, None, tuple(then))
