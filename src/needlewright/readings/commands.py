"""What each dial was told when a photo was taken: `commands.csv`, and the slips to catch in it."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from needlewright.families.model import Family
from needlewright.readings.complete import require_dial_unit
from needlewright.readings.run_csv import ABSOLUTE_ZERO_C, NUMERIC_COLUMNS, commanded_cells
from needlewright.readings.runs import Approach
from needlewright.readings.typed_table import TypedRow, read_typed_table

COMMAND_COLUMNS = ("photo", "step", "dial", "commanded", "unit", "approach", "temperature_c")
OPTIONAL_COMMAND_COLUMNS = ("u_commanded", "key_cycle", "supply_v", "time")


@dataclass(frozen=True, slots=True)
class Command:
    """What one dial was told when one photo was taken. What is not known is None."""

    photo: str
    """As typed: a file's name, or its path beside the table."""
    dial: str
    unit: str
    approach: Approach
    step: int | None
    commanded: float | None
    """In `unit`; None at rest."""
    temperature_c: float | None
    u_commanded: float | None
    """Standard uncertainty of the stimulus (k = 1)."""
    key_cycle: int | None
    supply_v: float | None
    time: str | None

    @property
    def step_name(self) -> str:
        """The photo and its step, for people."""
        return f"'{self.photo}'" + ("" if self.step is None else f" (step {self.step})")


def read_commands(path: Path, family: Family) -> tuple[Command, ...]:
    """Read a table of commands.

    Parameters
    ----------
    path
        CSV with `photo,dial,commanded,unit,approach` and what more is known.
    family
        The cluster design that was on the bench.

    Returns
    -------
    tuple of Command
        In the order of the steps; in the order of the file where no steps are stated.

    Raises
    ------
    RunError
        If a line cannot be used, names a dial the family has not, commands it in another unit
        than its own, or puts a photo at two steps, a step on two photos, a dial twice on a photo.
    """
    lines = read_typed_table(
        path,
        columns=(*COMMAND_COLUMNS, *OPTIONAL_COMMAND_COLUMNS),
        numeric=NUMERIC_COLUMNS,
        required=("photo", "dial", "commanded", "unit", "approach"),
    )
    commands = [_command(line, family) for line in lines]
    _refuse_repeats(lines, commands)
    if all(command.step is not None for command in commands):
        commands.sort(key=lambda command: command.step or 0)
    return tuple(commands)


def approach_remarks(commands: Sequence[Command]) -> tuple[str, ...]:
    """Sentences on commands whose approach does not fit the order of the values.

    Parameters
    ----------
    commands
        In time order.

    Returns
    -------
    tuple of str
        One for each command that says `up` and is below the dial's command before, or `down` and
        is above it; a rest between them starts afresh.
    """
    remarks = []
    last: dict[str, float | None] = {}
    for command in commands:
        before = last.get(command.dial)
        now = last[command.dial] = command.commanded
        if now is None or before is None or now == before:
            continue
        really = "up" if now > before else "down"
        if command.approach != really:
            remarks.append(
                f"{command.step_name}: dial '{command.dial}' goes {really} from {before:g} to "
                f"{now:g} {command.unit}, but the approach says {command.approach}"
            )
    return tuple(remarks)


def _command(line: TypedRow, family: Family) -> Command:
    approach, commanded, unit = commanded_cells(line)
    dial_id = line.required("dial", "type the dial's id as the family names it")
    dial = family.dial(dial_id)
    if dial is None:
        known = ", ".join(d.id for d in family.dials)
        raise line.error("dial", f"family '{family.name}' has {known}")
    require_dial_unit(f"{line.path}: line {line.line}", unit, dial)
    u_commanded = line.number("u_commanded", at_least=0)
    if u_commanded is not None and commanded is None:
        raise line.error("u_commanded", "nothing is commanded at rest; leave it empty")
    return Command(
        photo=line.required("photo", "type the photo's file name"),
        dial=dial_id,
        unit=unit,
        approach=approach,
        step=line.whole("step"),
        commanded=commanded,
        temperature_c=line.number("temperature_c", at_least=ABSOLUTE_ZERO_C),
        u_commanded=u_commanded,
        key_cycle=line.whole("key_cycle"),
        supply_v=line.number("supply_v"),
        time=line.text("time"),
    )


def _refuse_repeats(lines: Sequence[TypedRow], commands: Sequence[Command]) -> None:
    dial_line: dict[tuple[str, str], int] = {}
    step_of: dict[str, int | None] = {}
    photo_of: dict[int, str] = {}
    for line, command in zip(lines, commands, strict=True):
        first = dial_line.setdefault((command.photo, command.dial), line.line)
        if first != line.line:
            raise line.error(
                "photo", f"dial '{command.dial}' of this photo stands in line {first} too; keep one"
            )
        step = step_of.setdefault(command.photo, command.step)
        if step != command.step:
            raise line.error(
                "step",
                f"photo '{command.photo}' is already used for step {_or_none(step)}; every step "
                "needs a photo of its own",
            )
        if command.step is not None:
            photo = photo_of.setdefault(command.step, command.photo)
            if photo != command.photo:
                raise line.error(
                    "step", f"this step already has the photo '{photo}'; every photo is one step"
                )


def _or_none(step: int | None) -> str:
    return "(none)" if step is None else str(step)
