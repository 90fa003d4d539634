"""The middle of the demonstration's job: findings, the plan and its quote, the sheets of the work.

What comes before and after it, the run as found and the certificate, is made as for any job.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from needlewright.composing.explaining import Explained, explain_run, signature_chart
from needlewright.composing.guides import guide_document, refit_document
from needlewright.composing.plan_making import Planned, PlanTerms, document_of
from needlewright.composing.run_evidence import run_evidence
from needlewright.families.model import Family
from needlewright.findings.signatures.words import NAMES, size_words
from needlewright.findings.troubleshooting.belief import Belief, belief_of
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.findings.troubleshooting.model import SOUND
from needlewright.findings.wording import share_words
from needlewright.papers.guide_sheet import guide_pdf
from needlewright.papers.plan_sheet import plan_sheet_pdf
from needlewright.papers.quote import quote_html
from needlewright.papers.signature_chart import signature_charts_svg
from needlewright.papers.wording import mileage
from needlewright.plans.rebuild.findings import WHOLE
from needlewright.plans.rebuild.findings_file import Shares, joined
from needlewright.proofs.job_facts import JobFacts
from needlewright.readings.runs import Run
from needlewright.units import KM_OF

TAKEN: Final = "only_failed"
"""The option the invented customer takes."""
CHART: Final = "findings.svg"


@dataclass(frozen=True, slots=True)
class Middle:
    """What the middle of the job gave.

    Parameters
    ----------
    findings
        One line: every dial with what it has, how large and how sure.
    plan
        One line: the price of each option, and which one is taken.
    work
        One line: the sheets the work goes by.
    files
        What was written, by what it is.
    """

    findings: str
    plan: str
    work: str
    files: Mapping[str, Path]


def work_through_middle(
    family: Family, facts: JobFacts, found: Run, folder: Path, invented: str
) -> Middle:
    """Name the findings of a run, plan the rebuild, and write the sheets of the work.

    Parameters
    ----------
    family
        The cluster design.
    facts
        Of the job.
    found
        Its run as found, completed.
    folder
        The papers go into.
    invented
        What charts are headed with.

    Returns
    -------
    Middle
        Its files are in `folder`.
    """
    folder.mkdir(parents=True, exist_ok=True)
    explained = explain_run(family, found)
    chart = folder / CHART
    charts = [signature_chart(f"{dial} ({invented})", one) for dial, one in explained.items()]
    chart.write_text(signature_charts_svg(charts), encoding="utf-8")
    plan = _plan(family, facts, explained)
    sheet, quote = folder / "plan.pdf", folder / "quote.html"
    sheet.write_bytes(plan_sheet_pdf(plan, TAKEN, facts.work))
    quote.write_text(quote_html(plan, f"{facts.shop}, {facts.place}"), encoding="utf-8")
    sheets = _sheets(family, facts, plan, folder)
    return Middle(
        findings="; ".join(_found(explained)),
        plan=_options_words(plan),
        work="; ".join(title for title, _ in sheets.values()),
        files={"findings_chart": chart, "plan": sheet, "quote": quote}
        | {name: path for name, (_, path) in sheets.items()},
    )


def _found(explained: Explained) -> list[str]:
    said = []
    for dial, one in explained.items():
        fault = one.faults[0]
        size = size_words(fault)
        named = f"{dial}: {NAMES[fault.fault]}" + (f", {size}" if size else "")
        said.append(f"{named} ({share_words(fault.probability)})")
    return said


def _plan(family: Family, facts: JobFacts, explained: Explained) -> dict[str, Any]:
    """The document of the plan, with the mileage the cluster came in with."""
    knowledge = load_knowledge(None)
    belief = belief_of(knowledge, [dial.id for dial in family.dials])
    for said in run_evidence(knowledge, explained, "as-found"):
        belief = belief.weighed(said)
    km = facts.odometer.as_received
    planned = Planned(
        family=family,
        shares=_shares(belief),
        variant=facts.variant,
        km=None if km is None else km * KM_OF[facts.odometer.unit],
        tag=facts.tag,
    )
    return document_of(planned, knowledge, PlanTerms())


def _shares(belief: Belief) -> Shares:
    shares: Shares = {(WHOLE, code): p for code, p in belief.of_whole().items()}
    for dial in belief.dials:
        causes = {code: p for code, p in belief.dial(dial).items() if code != SOUND}
        for fault, p in joined(causes, belief.parts(dial), belief.knowledge).items():
            shares[dial, fault] = p
    return shares


def _options_words(plan: Mapping[str, Any]) -> str:
    said = [f"{one['title']} {one['price']} {plan['currency']}" for one in plan["options"]]
    taken = next(one for one in plan["options"] if one["id"] == TAKEN)
    return "; ".join([*said, f"here taken: {taken['title']}"])


def _sheets(
    family: Family, facts: JobFacts, plan: Mapping[str, Any], folder: Path
) -> dict[str, tuple[str, Path]]:
    """A guide for each operation of the option that is taken, and the refit sheet: title, file."""
    steps = next(one["steps"] for one in plan["options"] if one["id"] == TAKEN)
    names = dict.fromkeys(step["guide"] for step in steps if step["guide"] is not None)
    returned = facts.odometer.as_returned
    documents = {f"guide_{name}": guide_document(name, family) for name in names}
    documents["refit"] = refit_document(
        family,
        wait=facts.battery_wait,
        mileage=None if returned is None else mileage(returned, facts.odometer.unit),
        tag=facts.tag,
    )
    made = {}
    for name, document in documents.items():
        path = folder / f"{name.replace('_', '-')}.pdf"
        path.write_bytes(guide_pdf(document, facts.work))
        made[name] = (document["title"], path)
    return made
