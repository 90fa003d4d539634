"""`needlewright signal`: what to put on each wire, and what a captured wire says."""

from pathlib import Path
from typing import Annotated, Any

import typer
from rich.text import Text

from needlewright.cli import console
from needlewright.cli.signal_documents import (
    capture_document,
    command_document,
    lamp_document,
    stated_document,
)
from needlewright.cli.signal_send import ask, replay_recording, send
from needlewright.cli.signal_told import commands_told, parse_assignments
from needlewright.cli.typed_numbers import number_pointed
from needlewright.errors import UsageError
from needlewright.families.folder import load_family
from needlewright.plans.sums.described.pulse_constant import PULSE_CONSTANT
from needlewright.plans.sums.pulse_constant import PulseConstant
from needlewright.plans.sums.typed import work_out
from needlewright.plans.sums.wording import figure_words, range_words, with_unit
from needlewright.signals.capture_csv import read_capture
from needlewright.signals.dm1 import lamp_command
from needlewright.signals.instruments import NO_INSTRUMENTS
from needlewright.signals.measured import stimulus_from
from needlewright.signals.model import Command, FrameStimulus
from needlewright.signals.settings import load_settings
from needlewright.signals.tyres import pulses_a_mile
from needlewright.signals.vpw_received import frames_in
from needlewright.signals.wiring import signal_of
from needlewright.signals.words import BENCH_CAUTION, instruction, value_words
from needlewright.units import unit_for_people

app = typer.Typer(
    help="What to put on each wire so that a dial is told a value, and back.", no_args_is_help=True
)

OF_THE_CONSTANT = ("pulses_km", "never_low_km", "way_mm", "turns_km")
"""What is said of a vehicle's constant, by the figures of its sum."""
AsJson = Annotated[bool, typer.Option("--json", help="One JSON document.")]


@app.command()
def show(
    told: Annotated[
        list[str] | None,
        typer.Argument(metavar="DIAL=VALUE...", help="Like speed=80 fuel=0.5, in the dial's unit."),
    ] = None,
    *,
    family: Annotated[Path, typer.Option(metavar="DIR", help="The family's folder.")],
    lamp: Annotated[
        list[str] | None,
        typer.Option(
            metavar="LAMP=STATE",
            help="A warning lamp of J1939 DM1: malfunction, red_stop, amber_warning or protect; "
            "on, off, slow_flash or fast_flash.",
        ),
    ] = None,
    bench: Annotated[
        Path | None,
        typer.Option(
            metavar="BENCH.toml", help="Settings of the bench: steps and accuracy of instruments."
        ),
    ] = None,
    beyond_dial: Annotated[
        bool, typer.Option("--beyond-dial", help="Values past a dial's end marks are meant.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Print what to put on each wire: for a decade box, a signal generator, a CAN adapter."""
    cluster = load_family(family)
    instruments = NO_INSTRUMENTS if bench is None else load_settings(bench).instruments()
    lamps = dict(_lamp(text) for text in lamp or [])
    if not told and not lamps:
        raise UsageError("name at least one dial with its value, like speed=80, or a --lamp")
    commands = commands_told(told or [], cluster, instruments, beyond_dial=beyond_dial)
    lamp_frame = lamp_command(lamps) if lamps else None
    if as_json:
        console.emit_json(
            {
                "family": cluster.name,
                "commands": [command_document(each) for each in commands],
                "lamps": None if lamp_frame is None else lamp_document(lamps, lamp_frame),
                "caution": BENCH_CAUTION,
            }
        )
        return
    for each in commands:
        _say(f"{each.dial}: {value_words(each)}", instruction(each))
    if lamp_frame is not None:
        _say(", ".join(f"{name} {state}" for name, state in lamps.items()), _lamp_words(lamp_frame))
    console.out.print(BENCH_CAUTION, markup=False)


@app.command()
def stated(
    measured: Annotated[
        list[str],
        typer.Argument(
            metavar="DIAL=MEASURED...",
            help="Hz, ohm, V, a share, or a frame: fuel=75 speed=18FEF100#FF0050FFFFFFFFFF.",
        ),
    ],
    *,
    family: Annotated[Path, typer.Option(metavar="DIR", help="The family's folder.")],
    as_json: AsJson = False,
) -> None:
    """Say which value a measured or heard stimulus states: the way back of `show`."""
    cluster = load_family(family)
    found = []
    for text, dial, said in parse_assignments(measured, cluster):
        signal = signal_of(cluster, dial.id)
        stimulus = stimulus_from(signal, number_pointed(said, text))
        found.append((dial, said, signal.stated_by(stimulus)))
    if as_json:
        console.emit_json(
            {"family": cluster.name, "stated": [stated_document(*each) for each in found]}
        )
        return
    for dial, said, each in found:
        unit = unit_for_people(dial.unit)
        words = each.words if each.value is None else f"{each.value:.6g} {unit}"
        console.out.print(f"{dial.id}: {said} states {words}", markup=False)


@app.command()
def capture(
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="A logic capture, .vcd (IEEE 1364) or .csv.")
    ],
    channel: Annotated[
        str | None, typer.Option(metavar="NAME", help="The bus's line; the only one by default.")
    ] = None,
    inverted: Annotated[
        bool, typer.Option("--inverted", help="The bus is active where the capture is low.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Find the J1850 frames of a logic capture, and name every violation."""
    trace = read_capture(file, channel)
    frames = frames_in(trace, inverted=inverted)
    if as_json:
        console.emit_json(capture_document(file, trace, frames))
        return
    for frame in frames:
        data = frame.data.hex(" ").upper() or "no byte"
        response = f" response {frame.response.hex(' ').upper()}" if frame.response else ""
        lines = [f"{v.time_s * 1e3:.3f} ms: {v.words}" for v in frame.violations]
        _say(f"{frame.start_s * 1e3:.3f} ms  {data}{response}", lines)
    sound = sum(frame.sound for frame in frames)
    line = f"{file}, {trace.channel}: {len(frames)} frame(s), {sound} without violation"
    console.out.print(line, markup=False)


@app.command()
def constant(
    *,
    tyre: Annotated[str, typer.Option(metavar="SIZE", help="Like '195/65 R15'.")],
    pulses_per_turn: Annotated[
        float, typer.Option(metavar="N", help="Pulses for each turn of the shaft with the sensor.")
    ],
    axle_ratio: Annotated[
        float,
        typer.Option(metavar="R", help="Turns of that shaft for one of the wheel."),
    ] = 1.0,
    as_json: AsJson = False,
) -> None:
    """Work out the nominal pulses per kilometre of a vehicle from its tyre and axle."""
    typed = {
        "by": "marking",
        "marking": tyre,
        "axle": repr(axle_ratio),
        "pulses": repr(pulses_per_turn),
    }
    answered = work_out(PULSE_CONSTANT, typed)
    found: PulseConstant = answered.result
    if as_json:
        console.emit_json(
            {
                "tyre": tyre,
                "pulses_per_turn": pulses_per_turn,
                "axle_ratio": axle_ratio,
                "rolling_mm": found.way_mm,
                "turns_per_km": 1e6 / found.way_mm,
                "pulses_per_km": found.a_km,
                "pulses_per_mile": pulses_a_mile(found.a_km),
            }
        )
        return
    shown = [one for one in answered.told.figures if one.name in OF_THE_CONSTANT]
    a_mile = with_unit(pulses_a_mile(found.a_km), "1/mile", 4)
    _say(
        f"{shown[0].words}: {figure_words(shown[0])}, {range_words(shown[0])}",
        [
            f"on a mile: {a_mile}",
            *(f"{one.words[0].lower()}{one.words[1:]}: {figure_words(one)}" for one in shown[1:]),
            "by the size alone; a way measured on the ground is better, and needlewright sums "
            "pulse-constant says whether a setting keeps the rule",
        ],
    )


def _say(head: str, lines: list[str]) -> None:
    console.out.print(Text(head, style="bold"))
    for line in lines:
        console.say_indented(line)


def _lamp_words(frame: FrameStimulus) -> list[str]:
    return instruction(Command("lamps", "", 0.0, 0.0, 0.0, frame))


def _lamp(text: str) -> tuple[str, Any]:
    name, mark, state = (part.strip() for part in text.partition("="))
    if not (name and mark and state):
        raise UsageError(f"--lamp {text}: expected a lamp and a state, like red_stop=on")
    return name, state


app.command()(send)
app.command()(ask)
app.command("replay")(replay_recording)
