"""How quick signals are made, and how evenly frames are sent: `python benchmarks/signals.py`.

The family is invented. Frames are counted from the value to the frame that is sent, with refusals,
counter and checksum. The jitter is that of a bus in the process, by its own time stamps.
"""

import argparse
import json
import time
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np

from needlewright.families.folder import FACE_FILE, load_family, write_family
from needlewright.families.model import Family
from needlewright.signals.captures import Change, trace_of
from needlewright.signals.model import FrameStimulus
from needlewright.signals.preferred import best_substitute
from needlewright.signals.settings import BusSettings
from needlewright.signals.signal import Signal
from needlewright.signals.transports.adapter import open_adapter
from needlewright.signals.transports.bus import BusTransport
from needlewright.signals.vpw import VpwSignal, with_check
from needlewright.signals.vpw_received import frames_in
from needlewright.signals.vpw_symbols import symbols_of
from needlewright.signals.wiring import signals_of

DEMO = Path(__file__).parents[1] / "src" / "needlewright" / "demo_data" / "family"
ASKED_FRAMES_A_S = 20_000
ROUNDS = 20_000
DATABASE = """VERSION ""
BU_: Bench
BO_ 256 Dash: 8 Bench
 SG_ Speed : 7|16@0+ (0.01,0) [0|300] "km/h" Bench
 SG_ Counter : 52|4@1+ (1,0) [0|15] "" Bench
 SG_ Check : 56|8@1+ (1,0) [0|255] "" Bench
"""
RULES = [{"kind": "counter", "signal": "Counter"}, {"kind": "crc8_j1850", "signal": "Check"}]
KINDS: dict[str, dict[str, Any]] = {
    "J1939 parameter": {"kind": "j1939", "spn": 84},
    "database, counter and CRC": {
        "kind": "can_database",
        "database": "dash.dbc",
        "message": "Dash",
        "signal": "Speed",
        "rules": RULES,
        "period_ms": 10,
    },
    "J1850 frame": {
        "kind": "j1850_vpw",
        "frame": "48 29 10 02 00 00",
        "first_byte": 5,
        "bytes": 2,
        "factor": 1 / 128,
        "period_ms": 100,
    },
    "OBD-II answer": {"kind": "obd", "pid": "0D"},
    "pulses": {"kind": "pulses", "per": "km", "pulses": 4000},
}


def family(folder: Path) -> Family:
    """The speedometer of the demonstration, once for each kind of signal."""
    document = json.loads((DEMO / "family.json").read_text(encoding="utf-8"))
    speed = next(dial for dial in document["dials"] if dial["id"] == "speed")
    document["dials"] = [
        speed | {"id": name.replace(" ", "-").replace(",", ""), "signal": signal}
        for name, signal in KINDS.items()
    ]
    write_family(document, folder)
    (folder / FACE_FILE).write_bytes((DEMO / FACE_FILE).read_bytes())
    (folder / "dash.dbc").write_text(DATABASE, encoding="utf-8")
    return load_family(folder)


def rate(action: Callable[[float], object]) -> float:
    """How often a second, best of three."""
    values = np.linspace(1.0, 200.0, ROUNDS).tolist()
    best = 0.0
    for _ in range(3):
        began = time.perf_counter()
        for value in values:
            action(value)
        best = max(best, len(values) / (time.perf_counter() - began))
    return best


def there(signal: Signal) -> Callable[[float], object]:
    """From a value to what is sent."""

    def encode(value: float) -> object:
        stimulus = signal.command(value).stimulus
        return stimulus.frame(7) if isinstance(stimulus, FrameStimulus) else stimulus

    return encode


def back(signal: Signal) -> Callable[[float], object]:
    """From what was received to the value."""
    stimulus = signal.command(80.0).stimulus
    received = stimulus.frame(7) if isinstance(stimulus, FrameStimulus) else stimulus
    return lambda value: signal.value_of(received)


def jitter(signals: dict[str, Signal], seconds: float) -> list[tuple[str, str, str]]:
    """How far the time between two frames is from their rate, by the bus's time stamps."""
    settings = BusSettings(interface="virtual", channel="benchmark")
    sent = [s for s in signals.values() if not isinstance(s, VpwSignal) and s.period_s]
    times: dict[int, list[float]] = {}
    with open_adapter(settings) as other, BusTransport(settings) as transport:
        commands = [signal.command(80.0) for signal in sent]
        transport.apply(*commands)
        ends = time.monotonic() + seconds
        while time.monotonic() < ends:
            message = other.recv(0.1)
            if message is not None:
                times.setdefault(message.arbitration_id, []).append(message.timestamp)
        latest_ms = transport.latest_s * 1e3
    rows = []
    for command in commands:
        stimulus = command.stimulus
        assert isinstance(stimulus, FrameStimulus)
        off_ms = 1e3 * np.abs(np.diff(times[stimulus.arbitration_id]) - stimulus.period_s)
        p50, p99 = np.percentile(off_ms, [50, 99])
        said = f"median {p50:.2f} ms, 99 % {p99:.2f} ms, most {off_ms.max():.2f} ms"
        rate_ms = f"every {stimulus.period_s * 1e3:g} ms"
        rows.append((f"{rate_ms}, {len(off_ms)} intervals", said, ""))
    return [*rows, ("latest after due", f"{latest_ms:.2f} ms", "")]


def measured(seconds: float) -> dict[str, list[tuple[str, str, str]]]:
    """All tables: what, reached, asked."""
    tables: dict[str, list[tuple[str, str, str]]] = {}
    with TemporaryDirectory() as folder:
        signals = signals_of(family(Path(folder)))
    names = dict(zip(KINDS, signals.values(), strict=True))
    asked = f">= {ASKED_FRAMES_A_S:,}"
    tables["encoded a second, one core"] = [
        (name, f"{rate(there(signal)):,.0f}", asked) for name, signal in names.items()
    ]
    tables["decoded a second, one core"] = [
        (name, f"{rate(back(signal)):,.0f}", "") for name, signal in names.items()
    ]
    tables["other"] = [substitutes(), captured()]
    tables[f"cyclic sending, {seconds:g} s"] = jitter(names, seconds)
    return tables


def substitutes() -> tuple[str, str, str]:
    """The best two resistors."""
    wanted = np.geomspace(5.0, 1e5, 40).tolist()
    best_substitute(100.0, "E96")
    began = time.perf_counter()
    for ohm in wanted:
        best_substitute(ohm, "E96")
    each_ms = (time.perf_counter() - began) / len(wanted) * 1e3
    return "best two resistors of E96", f"{each_ms:.1f} ms", ""


def captured() -> tuple[str, str, str]:
    """A long capture of J1850 frames."""
    frame = with_check(bytes.fromhex("48 29 10 02 28 00"))
    at_us, changes = 500.0, [Change(0.0, False)]
    count = 2000
    for symbol in symbols_of(frame) * count:
        changes.append(Change(at_us * 1e-6, symbol.active))
        at_us += symbol.us
    trace = trace_of("bus", changes, at_us * 1e-6)
    began = time.perf_counter()
    assert sum(each.sound for each in frames_in(trace)) == count
    taken_s = time.perf_counter() - began
    return "J1850 frames out of a capture", f"{count / taken_s:,.0f} a second", ""


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=10.0, help="of cyclic sending")
    parser.add_argument("--json", type=Path, metavar="FILE", help="write the tables there too")
    options = parser.parse_args()
    tables = measured(options.seconds)
    for title, rows in tables.items():
        print(f"\n{title}")
        for what, reached, asked in rows:
            print(f"  {what:<34} {reached:>44}  {asked}")
    if options.json:
        document = {"tables": [{"title": t, "rows": rows} for t, rows in tables.items()]}
        options.json.write_text(json.dumps(document, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
