"""`needlewright rehearse drive`: a check in the vehicle, without a vehicle."""

import os
import shutil
from pathlib import Path
from typing import Annotated, Any, Final

import typer

from needlewright.cli import console
from needlewright.cli.rehearsed_unit import Faults, Seed, unit_of
from needlewright.errors import UsageError
from needlewright.families.folder import load_family
from needlewright.rehearsal.cluster.drive import RehearsedDrive, rehearse_drive
from needlewright.rehearsal.cluster.rehearsal import Rehearsal, Unit, faults_said
from needlewright.rehearsal.photo_set import refuse_used_folder

SIZE_PX: Final = (1280, 854)
MOST: Final = 20


def drive(
    *,
    family: Annotated[Path, typer.Option(metavar="DIR", help="The family's folder.")],
    out: Annotated[
        Path, typer.Option(metavar="DIR", help="Folder for log and photos; new or empty.")
    ],
    photos: Annotated[int, typer.Option(metavar="N", help="Photos to take.")] = 2,
    fault: Faults = None,
    temperature: Annotated[
        float | None, typer.Option(metavar="DEGC", help="Of the movements; 23 unless stated.")
    ] = None,
    seed: Seed = 0,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """Drive a simulated cluster, log its diagnostic port and photograph it: for `in-vehicle`.

    The control unit answers what it tells the cluster. Log and photos are marked as rehearsed.
    """
    if not 1 <= photos <= MOST:
        raise UsageError(f"--photos {photos}: expected a whole number from 1 to {MOST}")
    refuse_used_folder(out)
    design = load_family(family)
    unit = unit_of(design, fault, temperature, seed)
    part = out.with_name(f".{out.name}.{os.getpid()}.part")
    rehearsal = Rehearsal(design, unit, size_px=SIZE_PX)
    try:
        part.mkdir(parents=True)
        with rehearsal.transport:
            driven = rehearse_drive(rehearsal, part, photos=photos, seed=seed)
        if out.is_dir():
            out.rmdir()  # empty, or it would have been refused
        os.replace(part, out)
    finally:
        rehearsal.close()
        shutil.rmtree(part, ignore_errors=True)
    if as_json:
        console.emit_json(_document(design.name, unit, out, driven))
        return
    names = " ".join(str(out / path.name) for path in driven.photos)
    console.out.print(
        f"{design.name}, {faults_said(unit.injected)}; nothing of this is measured\n"
        f"needlewright in-vehicle --family {family} --log {out / driven.log.name} {names}",
        markup=False,
    )


def _document(family: str, unit: Unit, out: Path, driven: RehearsedDrive) -> dict[str, Any]:
    return {
        "family": family,
        "faults": [
            {"dial": f.dial, "fault": f.code, "size": f.size, "begins": f.begins}
            for f in unit.injected
        ],
        "temperature_c": unit.temperature_degc,
        "seed": unit.seed,
        "log": str(out / driven.log.name),
        "photos": [
            {
                "photo": str(out / path.name),
                "told": {dial: round(value, 6) for dial, value in told.items()},
                "angles_deg": {dial: round(angle, 4) for dial, angle in angles.items()},
            }
            for path, told, angles in zip(
                driven.photos, driven.told, driven.angles_deg, strict=True
            )
        ],
    }
