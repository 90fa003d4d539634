"""`needlewright signal send`, `ask`, `replay`: what goes out by an adapter, a supply, a person."""

import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any, Final

import typer

from needlewright.cli import console
from needlewright.cli.signal_documents import command_document
from needlewright.cli.signal_told import commands_told
from needlewright.errors import UsageError
from needlewright.families.folder import load_family
from needlewright.signals.model import Command, Frame
from needlewright.signals.obd import ANSWER, PIDS, payload_of, request, value_in
from needlewright.signals.settings import BenchSettings, load_settings
from needlewright.signals.transports.bench import Bench
from needlewright.signals.transports.bus import BusTransport
from needlewright.signals.transports.bus_link import BusStatus
from needlewright.signals.transports.recording import Recorder, replay
from needlewright.signals.transports.vehicle import IN_VEHICLE_CAUTION
from needlewright.signals.words import BENCH_CAUTION, instruction, value_words
from needlewright.units import unit_for_people

LOOK_S: Final = 0.1
"""How often the devices are asked whether all is well."""
ANSWER_S: Final = 1.0
NO_BUS: Final = "the bench's settings name no bus adapter; add a table [bus] with its interface"

BenchFile = Annotated[
    Path, typer.Option(metavar="BENCH.toml", help="Settings of the bench: adapter, supply.")
]
InVehicle = Annotated[
    bool,
    typer.Option("--in-vehicle", help="Sending on a vehicle's bus is meant; the caution is shown."),
]
AsJson = Annotated[bool, typer.Option("--json", help="One JSON document.")]


def send(
    told: Annotated[
        list[str],
        typer.Argument(metavar="DIAL=VALUE...", help="Like speed=80 fuel=0.5, in the dial's unit."),
    ],
    *,
    family: Annotated[Path, typer.Option(metavar="DIR", help="The family's folder.")],
    bench: BenchFile,
    seconds: Annotated[
        float | None,
        typer.Option("--for", metavar="SECONDS", help="How long; until Ctrl-C by default."),
    ] = None,
    record: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Record what is received: .asc, .blf or .csv."),
    ] = None,
    in_vehicle: InVehicle = False,
    beyond_dial: Annotated[
        bool, typer.Option("--beyond-dial", help="Values past a dial's end marks are meant.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Put values on the wires and keep them there: by adapter, by supply, the rest by hand."""
    if seconds is not None and not 0 <= seconds < float("inf"):
        raise UsageError(f"--for {seconds:g}: expected a number of seconds, 0 or more")
    cluster, settings = load_family(family), load_settings(bench)
    commands = commands_told(told, cluster, settings.instruments(), beyond_dial=beyond_dial)
    _caution(in_vehicle, BENCH_CAUTION)
    recorder = None if record is None else _recorder(settings, record)
    transport = Bench(
        settings,
        cluster.supply,
        show=show_lines,
        wait=done_by_hand,
        in_vehicle=in_vehicle,
        recorder=recorder,
    )
    with transport:
        transport.power()
        transport.apply(*commands)
        if not as_json:
            _say_on(transport, commands)
        stopped = _hold(transport, seconds)
        status = None if transport.bus is None else transport.bus.status
        latest_s = None if transport.bus is None else transport.bus.latest_s
    if as_json:
        console.emit_json(
            {
                "family": cluster.name,
                "commands": [command_document(each) for each in commands],
                "ended": "stopped" if stopped else "time",
                "bus": _bus_document(status),
                "latest_s": latest_s,
                "record": None if record is None else str(record),
            }
        )
    elif status is not None:
        console.out.print(_bus_words(status), markup=False)


def ask(
    numbers: Annotated[
        list[str],
        typer.Argument(metavar="PID...", help="Of mode 01: 05, 0C, 0D, 2F, 42."),
    ],
    *,
    bench: BenchFile,
    wide: Annotated[
        bool, typer.Option("--29-bit", help="Identifiers of 29 bits; 11 by default.")
    ] = False,
    in_vehicle: InVehicle = False,
    as_json: AsJson = False,
) -> None:
    """Ask the vehicle what it measures, while the needle shows something else."""
    pids = [_pid(text) for text in numbers]
    _caution(in_vehicle, "")
    answers: list[dict[str, Any]] = []
    with _bus(load_settings(bench), in_vehicle) as bus:
        for number in pids:
            question = request(number, 29 if wide else 11)
            frame = bus.ask(question, _answer_to(number), ANSWER_S)
            pid = PIDS[number]
            answers.append(
                {
                    "pid": f"{number:02X}",
                    "name": pid.name,
                    "value": value_in(payload_of(frame)),
                    "unit": pid.unit,
                    "frame": frame.text,
                }
            )
    if as_json:
        console.emit_json({"answers": answers})
        return
    for each in answers:
        unit = unit_for_people(each["unit"])
        line = f"{each['pid']}  {each['name']}: {each['value']:.6g} {unit}   {each['frame']}"
        console.out.print(line, markup=False)


def replay_recording(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A recording, .asc, .blf or .csv.")],
    *,
    bench: BenchFile,
    at_once: Annotated[
        bool, typer.Option("--at-once", help="Do not keep the time between the frames.")
    ] = False,
    in_vehicle: InVehicle = False,
    as_json: AsJson = False,
) -> None:
    """Send a recording again, in its own time; total distance is left out."""
    _caution(in_vehicle, "")
    with _bus(load_settings(bench), in_vehicle) as bus:
        frames = replay(file, bus.send_once, None if at_once else time.sleep)
        status = bus.status
    if as_json:
        console.emit_json({"file": str(file), "frames": frames, "bus": _bus_document(status)})
    else:
        console.out.print(f"{file}: {frames} frame(s); {_bus_words(status)}", markup=False)


def _recorder(settings: BenchSettings, record: Path) -> Recorder:
    if settings.bus is None:
        raise UsageError(f"--record: {NO_BUS}")
    return Recorder(record)


def _bus(settings: BenchSettings, in_vehicle: bool) -> BusTransport:
    if settings.bus is None:
        raise UsageError(NO_BUS)
    return BusTransport(settings.bus, in_vehicle=in_vehicle)


def _pid(text: str) -> int:
    known = ", ".join(f"{number:02X}" for number in PIDS)
    try:
        number = int(text, 16)
    except ValueError:
        number = -1
    if number not in PIDS:
        raise UsageError(f"'{text}' is no number this asks for; use one of {known}")
    return number


def _answer_to(number: int) -> Callable[[Frame], bool]:
    head = bytes((ANSWER, number))
    return lambda frame: frame.data[1:3] == head


def _caution(in_vehicle: bool, otherwise: str) -> None:
    words = IN_VEHICLE_CAUTION if in_vehicle else otherwise
    if words:
        console.err.print(words, markup=False)


def _say_on(bench: Bench, commands: list[Command]) -> None:
    for command in commands:
        by = bench.part_for(command).name
        console.out.print(f"{command.dial}: {value_words(command)}, by {by}", markup=False)
        console.say_indented(instruction(command)[0])


def _hold(bench: Bench, seconds: float | None) -> bool:
    """Keep everything on the wires; whether somebody stopped it."""
    ends_s = None if seconds is None else time.monotonic() + seconds
    tick = threading.Event()
    try:
        while ends_s is None or time.monotonic() < ends_s:
            bench.check()
            left_s = LOOK_S if ends_s is None else max(ends_s - time.monotonic(), 0.0)
            tick.wait(min(LOOK_S, left_s))
    except KeyboardInterrupt:
        return True
    return False


def show_lines(lines: list[str]) -> None:
    """Put lines before the person at the bench."""
    for line in lines:
        console.err.print(line, markup=False)


def done_by_hand() -> bool:
    """Wait until the person has done it; False: given up."""
    console.err.print("Enter when it is done, q and Enter to give up: ", end="", markup=False)
    try:
        return input().strip().lower() not in ("q", "quit")
    except EOFError:
        return False


def _bus_words(status: BusStatus) -> str:
    words = f"{status.sent} sent, {status.received} received, bus lost {status.drops} time(s)"
    return words + (f", {status.withheld} of total distance withheld" if status.withheld else "")


def _bus_document(status: BusStatus | None) -> dict[str, Any] | None:
    if status is None:
        return None
    return {
        "sent": status.sent,
        "received": status.received,
        "withheld": status.withheld,
        "drops": status.drops,
    }
