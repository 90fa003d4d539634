"""What a run at the bench saw beside its needles: lamps and currents, kept as evidence.

It is worked out when the run is finished, while its files are still there, and stands in the job's
records under a name of the run. Of several runs the newest as found speaks. A run as left is judged
in the same way and speaks of no cause: it is held against the run as found (`after_work`).
"""

import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Final, Literal

from needlewright.bench.outcome import LampPhoto, Outcome
from needlewright.composing.drawn_currents import currents_of, drop_evidence
from needlewright.composing.evidence_piece import Material, Piece, Place, said_of_rehearsal
from needlewright.composing.kept_looks import keep_looks, looks_name
from needlewright.composing.lamp_photos import LampShot
from needlewright.composing.light_measuring import Wish
from needlewright.composing.lights import (
    LightReport,
    check_lights,
    kept_healthy,
    problems_of,
)
from needlewright.composing.run_pieces import newest_found
from needlewright.errors import NeedlewrightError
from needlewright.families.model import Family
from needlewright.findings.evidence import Evidence
from needlewright.findings.evidence_file import evidence_documents, parse_pieces
from needlewright.findings.lamps.looked import (
    looked_at,
    looked_at_currents,
    looked_at_drops,
)
from needlewright.findings.supply import current_evidence
from needlewright.records.analyses import keep_analysis, withdraw_analysis
from needlewright.records.bench_lamps import KIND
from needlewright.records.opening import Shop
from needlewright.records.views import JobPhotoView, JobSheet, RunLine, RunSheet

Seen = Literal["lamps", "currents"]
EVERY: Final[tuple[Seen, ...]] = ("lamps", "currents")


def seen_name(what: Seen, run: RunSheet | RunLine) -> str:
    """What the evidence of a run is called in its job; no other run's is called so."""
    return f"{what} of run {run.name}, no. {run.id}"


def names_of_runs(job: JobSheet) -> frozenset[str]:
    """What that which every run of a job saw is called."""
    of_evidence = {seen_name(what, run) for run in job.runs for what in EVERY}
    return frozenset(of_evidence | {looks_name(run) for run in job.runs})


def lamp_photo_name(run: RunSheet, group: str) -> str:
    """What the photo of a group of lamps is called; a rehearsed one says so everywhere."""
    rehearsed = "" if run.rehearsed is None else ", rehearsed"
    return f"bench-{run.side}-lamps-{group}{rehearsed}.png"


def lamp_photos(job: JobSheet) -> tuple[JobPhotoView, ...]:
    """The photos of lamps that runs of a job took, of those set aside too."""
    return tuple(
        one
        for one in job.photos
        if one.kind == KIND and re.match(r"bench-\w+-lamps-", one.name) is not None
    )


def lamp_words(one: LampPhoto, run: RunSheet) -> str:
    """What is lit in a photo of lamps, for people."""
    said = [f"Run {run.name}, lamps {one.group}: lit {', '.join(one.lit) or 'none'}"]
    if one.not_lit:
        said.append(f"not to be switched on {', '.join(one.not_lit)}")
    drawn = [
        f"{number:.3g} {unit}"
        for number, unit in ((one.volts, "V"), (one.amperes, "A"))
        if number is not None
    ]
    if drawn:
        said.append(" and ".join(drawn))
    return "; ".join(said) + said_of_rehearsal(run.rehearsed)


def keep_seen(
    shop: Shop, run: RunSheet, family: Family, gave: tuple[Path, Outcome], by: str | None
) -> tuple[str, ...]:
    """Judge the lamps and currents of a run, and keep what was seen and what it says.

    Parameters
    ----------
    shop
        The shop.
    run
        In its records. Only one as found speaks of what the cluster has; one as left says what the
        work did to it.
    family
        The cluster design.
    gave
        Where the run's files are, and what it gave beside its rows.
    by
        Who takes it.

    Returns
    -------
    tuple of str
        Sentences on photos that could not be judged.

    Raises
    ------
    RecordError
        If it cannot be kept.
    """
    if run.side == "other":
        return ()
    folder, outcome = gave
    report, problems = _lamps(run, family, folder, outcome)
    drawn = currents_of(family, outcome)
    looked = [
        *(() if report is None else looked_at(report.face, report.signs, report.hubs)),
        *looked_at_currents(drawn),
    ]
    seen_in = f"currents of run {run.name}"
    drops = drop_evidence(outcome, seen_in)
    if len(outcome.rest_current) > 1:
        looked.append(looked_at_drops(drops))
    keep_looks(shop, run, looked, problems, by)
    if run.side != "found":
        return problems
    place = f"lamps of run {run.name}"
    lamps = () if report is None else tuple(replace(e, seen_in=place) for e in report.evidence)
    currents = (*current_evidence(drawn, seen_in), *drops)
    found: dict[Seen, tuple[Evidence, ...]] = {"lamps": lamps, "currents": currents}
    for what, pieces in found.items():
        name = seen_name(what, run)
        if pieces:
            keep_analysis(shop, run.tag, name, evidence_documents(pieces), by)
        else:  # a run that is finished again may have seen something the first time
            withdraw_analysis(shop, run.tag, name, by)
    return problems


def seen_at_bench(material: Material) -> Iterator[Piece]:
    """What the newest run as found saw of lamps and currents.

    Parameters
    ----------
    material
        The job.

    Yields
    ------
    Piece
        Lamps first.

    Raises
    ------
    KnowledgeError
        If what is kept cannot be understood by this version of the program.
    """
    run = newest_found(material)
    if run is None:
        return
    kept = {view.name: view for view in material.job.analyses}
    for what in EVERY:
        view = kept.get(seen_name(what, run))
        if view is None:
            continue
        for one in parse_pieces(view.name, view.pieces):
            at = Place("run", run.id, "found")
            yield Piece(one, one.words, one.seen_in, at, run.rehearsed)


def _lamps(
    run: RunSheet, family: Family, folder: Path, outcome: Outcome
) -> tuple[LightReport | None, tuple[str, ...]]:
    """What the photos show, and sentences on those that could not be judged."""
    if not outcome.lamps:
        return None, ()
    names = {folder / one.photo: lamp_photo_name(run, one.group) for one in outcome.lamps}
    shots = [
        LampShot(folder / one.photo, frozenset(one.lit), frozenset(one.not_lit))
        for one in outcome.lamps
    ]
    report, problems = None, tuple[str, ...]()
    try:
        report = check_lights(family, shots, kept_healthy(family), Wish())
        problems = problems_of(report)
    except NeedlewrightError as error:  # the run is taken all the same
        problems = (str(error),)
    said = []
    for words in problems:
        for path, name in names.items():
            words = words.replace(str(path), name)  # noqa: PLW2901 - path after path
        said.append(words)
    return report, tuple(dict.fromkeys(said))
