"""`needlewright demo`: the whole job on an invented cluster, from photos to the certificate."""

import os
import shutil
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from importlib.resources import as_file, files
from pathlib import Path
from typing import Annotated, Any, Final

import typer

from needlewright.cli import console
from needlewright.cli.certify import file_proof
from needlewright.cli.demo_summary import summary_lines
from needlewright.cli.measured import measured_run
from needlewright.cli.overlays import OverlayingReader, overlay_files
from needlewright.cli.progress import progress_bar
from needlewright.errors import PictureError, UsageError
from needlewright.families.folder import load_family
from needlewright.families.model import Family
from needlewright.proofs.certificate import MeasuredRun, certify, report_as_found
from needlewright.proofs.job_file import load_job
from needlewright.proofs.proof_json import proof_document
from needlewright.readings.batch import PictureProblem, read_photos
from needlewright.readings.commands import read_commands
from needlewright.readings.evidence import evidence_of, evidence_path, write_evidence
from needlewright.readings.join import join_run
from needlewright.readings.model import PhotoReadings
from needlewright.readings.photo_order import check_pictures, match_photos
from needlewright.readings.run_csv import write_run

RUNS: Final = ("as-found", "as-left")
MARKER: Final = "INVENTED-DEMONSTRATION.txt"
MARKER_TEXT: Final = (
    "Everything in this folder was made by needlewright demo from an invented job; no such shop,\n"
    "customer or vehicle is meant. The next demo replaces the folder.\n"
)


def demo(
    *,
    out: Annotated[Path, typer.Option(help="Folder the papers are put in.")],
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """Work through an invented job: read the photos, report, certify."""
    _refuse_foreign_folder(out)
    with _replacing(out) as folder:
        _lay_out(folder)
        job = _work(folder)
    made = {name: out / path for name, path in job.files.items()}
    lines = summary_lines(job.report, job.certificate, made)
    if as_json:
        paths = {name: str(path) for name, path in made.items()}
        console.emit_json({"out": str(out), "summary": lines, "files": paths})
        return
    for line in lines:
        console.out.print(line, markup=False)


@dataclass(frozen=True, slots=True)
class _Job:
    """What the demonstration made; paths are relative to its folder."""

    report: Mapping[str, Any]
    certificate: Mapping[str, Any]
    files: Mapping[str, Path]


def _refuse_foreign_folder(out: Path) -> None:
    if out.exists() and not out.is_dir():
        raise UsageError(f"--out {out}: is a file; name a folder")
    if out.is_dir() and any(out.iterdir()) and not (out / MARKER).is_file():
        raise UsageError(
            f"--out {out}: holds files and no {MARKER}, so it is not an earlier demo's; name "
            "another folder"
        )


@contextmanager
def _replacing(out: Path) -> Iterator[Path]:
    """A folder that takes the place of `out` when everything in it is done."""
    out.parent.mkdir(parents=True, exist_ok=True)
    part = out.with_name(f".{out.name}.{os.getpid()}.part")
    shutil.rmtree(part, ignore_errors=True)
    try:
        part.mkdir()
        yield part
        if out.exists():
            shutil.rmtree(out)
        os.replace(part, out)
    finally:
        shutil.rmtree(part, ignore_errors=True)


def _lay_out(folder: Path) -> None:
    """Copy the invented job's family, photos and facts, as a technician's folder holds them."""
    with as_file(files("needlewright") / "demo_data") as data:
        shutil.copytree(data, folder, dirs_exist_ok=True)
    (folder / MARKER).write_text(MARKER_TEXT, encoding="utf-8")


def _work(folder: Path) -> _Job:
    family = load_family(folder / "family")
    facts = load_job(folder / "job.toml")
    _measure(family, folder)
    runs = {
        "found": measured_run(family, folder / "as-found.csv"),
        "left": measured_run(family, folder / "as-left.csv"),
    }
    overlays, papers = folder / "overlays", folder / "papers"
    report = proof_document(report_as_found(family, facts, runs["found"]))
    certificate = proof_document(certify(family, facts, runs["found"], runs["left"]))
    found_only: dict[str, MeasuredRun] = {"found": runs["found"]}
    made = {f"report {k}": v for k, v in file_proof(report, papers, found_only, overlays).items()}
    made |= file_proof(certificate, papers, runs, overlays)
    return _Job(report, certificate, {k: path.relative_to(folder) for k, path in made.items()})


def _measure(family: Family, folder: Path) -> None:
    """Read both runs' photos, draw their overlays, write both runs."""
    photos = [str(p) for run in RUNS for p in sorted((folder / run).glob("*.jpg"))]
    read = _read(family, photos, folder / "overlays")
    for run in RUNS:
        table = folder / run / "commands.csv"
        told = read_commands(table, family)
        own = [photo for photo in photos if Path(photo).parent.name == run]
        matched = match_photos(table, told, own)
        check_pictures(told, matched)
        readings = {name: read[photo] for name, photo in matched.items()}
        joined = join_run(run, family, told, readings, folder)
        csv = folder / f"{run}.csv"
        write_run(csv, joined.run)
        evidence = evidence_of(joined.run, readings.values(), folder)
        write_evidence(evidence_path(csv), evidence)


def _read(family: Family, photos: Sequence[str], overlays: Path) -> dict[str, PhotoReadings]:
    make_reader = partial(OverlayingReader, overlay_files(overlays, photos))
    with progress_bar("reading", len(photos)) as on_progress:
        outcomes = read_photos(family, photos, on_progress, make_reader=make_reader)
    read = {}
    for photo, outcome in zip(photos, outcomes, strict=True):
        if isinstance(outcome, PictureProblem):
            raise PictureError(outcome.reason)
        read[photo] = outcome
    return read
