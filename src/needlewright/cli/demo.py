"""`needlewright demo`: the whole job on an invented cluster, from photos to the certificate.

As found, findings, plan and quote, needles, sheets of the work, as left, certificate. A burn-in is
left out: the least of a rehearsed one takes longer than all the rest together.
"""

import os
import shutil
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from functools import partial
from importlib.resources import as_file, files
from pathlib import Path
from typing import Annotated, Final

import typer
from rich import box
from rich.markup import escape
from rich.table import Table

from needlewright.cli import console
from needlewright.cli.certify import file_proof
from needlewright.cli.measured import measured_run
from needlewright.cli.overlays import overlay_files
from needlewright.cli.progress import progress_bar
from needlewright.composing.demo_middle import Middle, work_through_middle
from needlewright.composing.overlays import OverlayingReader
from needlewright.errors import PictureError, UsageError
from needlewright.families.folder import load_family
from needlewright.families.model import Family
from needlewright.papers.wording import sentence_for_people
from needlewright.proofs.certificate import MeasuredRun, certify, report_as_found
from needlewright.proofs.job_file import load_job
from needlewright.proofs.job_summary import JobSummary, summarise
from needlewright.proofs.proof_json import proof_document
from needlewright.readings.batch import PictureProblem, read_photos
from needlewright.readings.commands import read_commands
from needlewright.readings.evidence import evidence_of, evidence_path, write_evidence
from needlewright.readings.join import join_run
from needlewright.readings.model import PhotoReadings
from needlewright.readings.photo_order import check_pictures, match_photos
from needlewright.readings.run_csv import write_run

INVENTED: Final = "invented demonstration"
STEPS: Final = (
    ("as found", "came_in", ("report_paper",)),
    ("findings", "findings", ("findings_chart",)),
    ("plan", "plan", ("plan", "quote")),
    ("needles", "needles", ()),
    ("work", "work", ("guide", "refit")),
    ("as left", "turned", ()),
    ("certificate", "goes_out", ("paper", "label")),
)
"""What is shown of the job, in its order: the step, the field of the summary, its papers."""
RUNS: Final = ("as-found", "as-left")
PAPERS: Final = "papers"
MARKER: Final = "INVENTED-DEMONSTRATION.txt"
MARKER_TEXT: Final = (
    "Everything in this folder was made by needlewright demo from an invented job; no such shop,\n"
    "customer or vehicle is meant. The next demo replaces the folder.\n"
)


def demo(
    *,
    out: Annotated[Path, typer.Option(metavar="DIR", help="Folder the papers are put in.")],
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """Work through an invented job: read the photos, name the faults, plan, rebuild, certify."""
    out = out.absolute() if out.name == "" else out
    _refuse_foreign_folder(out)
    with _replacing(out) as folder:
        _lay_out(folder)
        job = _work(folder)
    made = {name: out / path for name, path in job.files.items()}
    if as_json:
        paths = {name: str(path) for name, path in made.items()}
        console.emit_json({"out": str(out), "summary": job.said, "files": paths})
        return
    console.out.print(_table(job))
    console.out.print(f"papers in {out / PAPERS}; everything in them is invented", markup=False)


@dataclass(frozen=True, slots=True)
class _Job:
    """What the demonstration made; paths are relative to its folder."""

    said: Mapping[str, str]
    files: Mapping[str, Path]


def _table(job: _Job) -> Table:
    """Every step of the job with what came of it and the papers it gave."""
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, title=INVENTED, title_style="bold")
    table.add_column("step", no_wrap=True)
    table.add_column("what came of it", ratio=1)
    table.add_column("papers", overflow="fold")
    for step, field, kinds in STEPS:
        names = [path.name for kind in kinds for path in _of_kind(job.files, kind)]
        said = escape(sentence_for_people(job.said[field]).replace("; ", "\n"))
        table.add_row(step, said, escape("\n".join(names)))
    return table


def _of_kind(files: Mapping[str, Path], kind: str) -> list[Path]:
    return [path for name, path in files.items() if name == kind or name.startswith(f"{kind}_")]


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
    papers = folder / PAPERS
    report = report_as_found(family, facts, runs["found"])
    certificate = certify(family, facts, runs["found"], runs["left"])
    only_found: dict[str, MeasuredRun] = {"found": runs["found"]}
    filed = file_proof(proof_document(report), papers, family, only_found)
    made = {f"report_{name}": path for name, path in filed.items()}
    middle = work_through_middle(family, facts, runs["found"].run, papers, INVENTED)
    made |= middle.files
    made |= file_proof(proof_document(certificate), papers, family, runs)
    relative = {name: path.relative_to(folder) for name, path in made.items()}
    return _Job(_said(summarise(report, certificate), middle), relative)


def _said(proofs: JobSummary, middle: Middle) -> dict[str, str]:
    """A line for each step of the job."""
    lines = {"findings": middle.findings, "plan": middle.plan, "work": middle.work}
    return asdict(proofs) | lines


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
