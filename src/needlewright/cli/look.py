"""`needlewright look`: one stimulus, one look, "am I there yet?"."""

from math import isfinite
from pathlib import Path
from typing import Annotated, Final

import typer

from needlewright.cli import console
from needlewright.cli.look_words import look_document, look_text
from needlewright.cli.read import as_photo
from needlewright.cli.typed_numbers import number_typed
from needlewright.errors import ScaleError, UsageError
from needlewright.families.folder import load_family
from needlewright.families.model import Dial, Family
from needlewright.proofs.one_look import look_at
from needlewright.readings.batch import PictureProblem, read_photos

ITS_OWN_UNIT: Final = "nothing is converted silently; say what the dial was told in its own unit"


def look(
    photo: Annotated[str, typer.Argument(metavar="PHOTO", help="One photo.")],
    family: Annotated[Path, typer.Option(metavar="DIR", help="The family's folder.")],
    at: Annotated[
        list[str],
        typer.Option(
            metavar="DIAL=VALUE",
            help="What a dial was told: speed=80, in the dial's unit, or speed=rest.",
        ),
    ],
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """Say of each dial named how far off it is and which turn would put it right."""
    cluster = load_family(family)
    told = parse_told(at, cluster)
    (outcome,) = read_photos(cluster, [photo])
    seen = as_photo(cluster, outcome)
    readings = {reading.dial: reading for reading in seen.readings}
    looks = [
        (dial, readings[dial.id], look_at(dial, readings[dial.id], value)) for dial, value in told
    ]
    if as_json:
        dials = [look_document(*one) for one in looks]
        console.emit_json(
            {"photo": seen.photo, "found": seen.found, "reason": seen.reason, "dials": dials}
        )
    elif not isinstance(outcome, PictureProblem):
        for one in looks:
            console.out.print(look_text(*one))
    if isinstance(outcome, PictureProblem):
        console.say_error(outcome.reason)
        raise typer.Exit(1)


def parse_told(texts: list[str], family: Family) -> list[tuple[Dial, float | None]]:
    """Understand every `--at`, each dial once.

    Parameters
    ----------
    texts
        Like `speed=80` or `speed=rest`.
    family
        The cluster design.

    Returns
    -------
    list
        Dial and commanded value in its unit, None at rest, in the order given.

    Raises
    ------
    UsageError
        If one cannot be understood, or a dial is named twice.
    """
    told: dict[str, tuple[Dial, float | None]] = {}
    for text in texts:
        dial, value = _parse_one(text, family)
        if dial.id in told:
            raise UsageError(
                f"--at {text}: dial '{dial.id}' is named twice; one photo shows it at one value"
            )
        told[dial.id] = (dial, value)
    return list(told.values())


def _parse_one(text: str, family: Family) -> tuple[Dial, float | None]:
    where = f"--at {text}"
    name, _, said = (part.strip() for part in text.partition("="))
    if not name or not said:
        raise UsageError(f"{where}: expected a dial and a value, like speed=80 or speed=rest")
    dial = family.dial(name)
    if dial is None:
        known = ", ".join(d.id for d in family.dials)
        raise UsageError(f"{where}: there is no dial '{name}' in family '{family.name}': {known}")
    if said == "rest":
        return dial, None
    value = _number(where, said, dial)
    try:
        dial.programme_angle_deg(value)
    except ScaleError as error:
        first, last = dial.scale.values[0], dial.scale.values[-1]
        raise UsageError(
            f"{where}: {value:g} {dial.unit} lies beyond the scale of dial '{name}', whose marks "
            f"run from {first:g} to {last:g}; check the number and its unit"
        ) from error
    return dial, value


def _number(where: str, said: str, dial: Dial) -> float:
    try:
        value = number_typed(said.removesuffix(dial.unit), where)
    except ValueError as error:
        raise UsageError(
            f"{where}: '{said}' is no number in {dial.unit}, the unit of dial '{dial.id}'; "
            f"{ITS_OWN_UNIT}"
        ) from error
    if not isfinite(value):
        raise UsageError(f"{where}: '{said}' is not finite; give a number in {dial.unit}")
    return value
