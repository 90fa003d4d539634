"""Captures of a drawn J1850 bus."""

from collections.abc import Iterable, Iterator
from pathlib import Path

from needlewright.signals.vpw_symbols import Symbol, symbols_of

IDLE = Symbol(False, 500.0)


def widths(frames: Iterable[bytes]) -> list[Symbol]:
    """An idle bus, the frames, and the end of the last."""
    return [IDLE, *(symbol for frame in frames for symbol in symbols_of(frame))]


def edges(symbols: Iterable[Symbol]) -> Iterator[tuple[float, bool]]:
    """Time in microseconds and level from there on; the last time is only an end."""
    at_us, active = 0.0, False
    for symbol in symbols:
        yield at_us, symbol.active
        at_us, active = at_us + symbol.us, symbol.active
    yield at_us, active


def vcd_text(symbols: Iterable[Symbol], timescale: str = "1 us", tick_us: float = 1.0) -> str:
    """A value change dump of one line `bus` beside another."""
    head = (
        f"$date today $end\n$timescale {timescale} $end\n$scope module top $end\n"
        "$var wire 1 ! bus $end\n$var wire 8 & wide [7:0] $end\n$upscope $end\n"
        "$enddefinitions $end\n$dumpvars\n0!\nb00000000 &\n$end\n"
    )
    changes = "".join(f"#{round(at / tick_us)}\n{int(on)}!\n" for at, on in edges(symbols))
    return head + changes


def csv_text(symbols: Iterable[Symbol]) -> str:
    """A table of times in microseconds and levels."""
    return "time_us,bus\n" + "".join(f"{at:g},{int(on)}\n" for at, on in edges(symbols))


def write_vcd(path: Path, frames: Iterable[bytes]) -> Path:
    """A dump of whole frames."""
    path.write_text(vcd_text(widths(frames)), encoding="utf-8")
    return path
