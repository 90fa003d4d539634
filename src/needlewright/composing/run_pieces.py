"""What the runs of a job say: its needles as found, their rests over key-ons, and the cold."""

from collections.abc import Iterator

from needlewright.composing.evidence_piece import Material, Piece, Place
from needlewright.composing.explained_runs import explained_run, run_rows, runs_in_cold
from needlewright.composing.explaining import key_cycles
from needlewright.composing.run_evidence import run_evidence
from needlewright.families.model import Family
from needlewright.findings.cold.judged import cold_evidence
from needlewright.findings.key_cycle import key_cycle_evidence
from needlewright.findings.signatures.explain import Explanation
from needlewright.findings.signatures.words import reason_of
from needlewright.records.families import load_version
from needlewright.records.opening import Shop
from needlewright.records.runs import run_sheet
from needlewright.records.sheet import job_sheet
from needlewright.records.views import JobSheet, RunSheet


def runs_as_found(material: Material) -> Iterator[Piece]:
    """The newest run as found, every dial weighed by what its rows show.

    Parameters
    ----------
    material
        The job.

    Yields
    ------
    Piece
        For each dial with rows that say something.

    Raises
    ------
    RunError
        If no row says anything.
    """
    run = newest_found(material)
    if run is None or (not run.photos and not run.told):
        return
    explained = explained_run(material.shop, run, _family(material, run))
    seen_in = f"run {run.name}"
    for one in run_evidence(material.knowledge, explained, seen_in):
        words = reason_of(explained[one.dial])
        yield Piece(one, words, seen_in, Place("run", run.id, "found"), run.rehearsed)


def key_ons(material: Material) -> Iterator[Piece]:
    """Where the needles of the newest run as found rest after one key-on and more.

    Parameters
    ----------
    material
        The job.

    Yields
    ------
    Piece
        For each dial that was looked at, at rest, at three counts of key-ons.
    """
    run = newest_found(material)
    if run is None:
        return
    family = _family(material, run)
    seen_in = f"rests of run {run.name}"
    for found in key_cycles(family, run_rows(material.shop, run, family)).values():
        for piece in key_cycle_evidence(found, seen_in):
            at = Place("run", run.id, "found")
            yield Piece(piece, piece.words, seen_in, at, run.rehearsed)


def cold(material: Material) -> Iterator[Piece]:
    """Runs whose rows say how warm the cluster was, as a temperature series.

    Parameters
    ----------
    material
        The job.

    Yields
    ------
    Piece
        For each dial whose moves say something either way.
    """
    runs, names = list[tuple[RunSheet, Family]](), list[str]()
    for line in material.job.runs:
        if line.set_aside_at is not None or line.side == "left":
            continue
        run = run_sheet(material.shop, line.id)
        if any(one.temperature_c is not None for one in run.told):
            runs.append((run, _family(material, run)))
            names.append(run.name)
    if not runs:
        return
    seen_in = f"temperatures of {', '.join(dict.fromkeys(names))}"
    rehearsed = next((run.rehearsed for run, _ in runs if run.rehearsed is not None), None)
    for found in runs_in_cold(material.shop, runs, material.family):
        for piece in cold_evidence(found, seen_in):
            words = " ".join(one for one in (found.words, found.winter_words) if one)
            yield Piece(piece, words, seen_in, None, rehearsed)


def explained_dial(shop: Shop, tag: str, dial: str) -> Explanation | None:
    """What the newest run as found says of one dial.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    dial
        Its id.

    Returns
    -------
    Explanation or None
        None where there is no such run, or no row of the dial in it.

    Raises
    ------
    RunError
        If no row of the run says anything.
    """
    run = _found(shop, job_sheet(shop, tag))
    if run is None:
        return None
    return explained_run(shop, run, load_version(shop, run.family_version_id)).get(dial)


def newest_found(material: Material) -> RunSheet | None:
    """The newest run as found that was not set aside; None: there is none."""
    return _found(material.shop, material.job)


def _found(shop: Shop, job: JobSheet) -> RunSheet | None:
    lines = [one for one in job.runs if one.side == "found" and not one.set_aside_at]
    return run_sheet(shop, lines[-1].id) if lines else None


def _family(material: Material, run: RunSheet) -> Family:
    if run.family_version_id == material.job.family_version_id:
        return material.family
    return load_version(material.shop, run.family_version_id)
