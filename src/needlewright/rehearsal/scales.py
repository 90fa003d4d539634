"""Scales of invented dials: what they show, from which angle to which, and how it is printed."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from needlewright.rehearsal.layout import Place

SMALL_QUANTITIES: Final = ("fuel", "temp", "oil", "volt", "boost", "oil-temp")


@dataclass(frozen=True, slots=True)
class InventedScale:
    """One dial's scale, before it has a needle."""

    id: str
    quantity: str
    unit: str
    values: tuple[float, ...]
    """Of the major marks."""
    angles_deg: tuple[float, ...]
    labels: tuple[str, ...]
    minor_parts: int
    """Intervals between two major marks."""
    legend: str
    warning_from: float | None = None
    """Value from which the scale is printed in the warning colour; to its end."""
    warning_to: float | None = None
    """Value up to which it is, from its beginning."""

    @property
    def sense(self) -> int:
        """+1 clockwise, -1 counter-clockwise."""
        return 1 if self.angles_deg[-1] > self.angles_deg[0] else -1


def invent_scale(rng: np.random.Generator, place: Place, quantity: str) -> InventedScale:
    """Invent the scale of a dial.

    Parameters
    ----------
    rng
        Where chance comes from.
    place
        Its room on the face.
    quantity
        `speed`, `engine` or one of `SMALL_QUANTITIES`.

    Returns
    -------
    InventedScale
        With two marks or more.
    """
    return _KINDS[quantity](rng, place)


def _speed(rng: np.random.Generator, place: Place) -> InventedScale:
    mph = rng.random() < 0.35
    step = int(rng.choice([10, 20])) if mph else 20
    top = (
        int(rng.choice([100, 120, 140, 160])) if mph else int(rng.choice([160, 180, 220, 240, 260]))
    )
    values = tuple(float(v) for v in range(0, top + 1, step))
    first, last = _large_sweep(rng)
    shares = np.linspace(0.0, 1.0, len(values))
    if rng.random() < 0.3:  # the lower half spread out, as for towns
        bend = len(values) // 2
        weights = np.where(np.arange(len(values) - 1) < bend, float(rng.uniform(1.3, 1.8)), 1.0)
        shares = np.concatenate([[0.0], np.cumsum(weights) / weights.sum()])
    skip = 2 if step == 10 or (len(values) > 11 and rng.random() < 0.4) else 1
    return InventedScale(
        "speed",
        "road speed",
        "mph" if mph else "km/h",
        values,
        _angles(first, last, shares),
        tuple(f"{v:g}" if i % skip == 0 else "" for i, v in enumerate(values)),
        int(rng.choice([2, 4])) if step == 20 else int(rng.choice([2, 5])),
        "mph" if mph else "km/h",
    )


def _engine(rng: np.random.Generator, place: Place) -> InventedScale:
    top = int(rng.choice([5, 6, 7, 8, 9]))
    in_thousands = rng.random() < 0.75
    factor = 1.0 if in_thousands else 1000.0
    values = tuple(float(v) * factor for v in range(top + 1))
    first, last = _large_sweep(rng)
    words: Callable[[float], str] = (
        (lambda v: f"{v:g}") if in_thousands or rng.random() < 0.5 else (lambda v: f"{v / 100:g}")
    )
    red = (top - float(rng.choice([0.5, 1.0, 1.5, 2.0]))) * factor
    return InventedScale(
        "engine",
        "engine speed",
        "1000 r/min" if in_thousands else "rpm",
        values,
        _angles(first, last, np.linspace(0.0, 1.0, len(values))),
        tuple(words(v) for v in values),
        int(rng.choice([2, 4, 5, 10])),
        str(rng.choice(["x1000 r/min", "r/min x1000", "1000/min"])) if in_thousands else "r/min",
        warning_from=red if rng.random() < 0.85 else None,
    )


def _fuel(rng: np.random.Generator, place: Place) -> InventedScale:
    parts = int(rng.choice([2, 4]))
    values = tuple(i / parts for i in range(parts + 1))
    ends, half = [("E", "F"), ("0", "1/1"), ("0", "1")][int(rng.integers(3))], "1/2"
    labels = tuple(
        ends[0] if v == 0 else ends[1] if v == 1 else half if v == 0.5 else "" for v in values
    )
    return InventedScale(
        "fuel",
        "fuel level",
        "fraction of full",
        values,
        _small_angles(rng, place, np.linspace(0.0, 1.0, len(values))),
        labels,
        int(rng.choice([1, 2, 4])),
        str(rng.choice(["FUEL", "fuel", ""])),
        warning_to=(1 / 8 if rng.random() < 0.6 else None),
    )


def _temperature(rng: np.random.Generator, place: Place) -> InventedScale:
    fahrenheit = rng.random() < 0.2
    values: tuple[float, ...] = (100.0, 160.0, 220.0, 280.0) if fahrenheit else (50.0, 90.0, 130.0)
    if not fahrenheit and rng.random() < 0.4:
        values = (50.0, 70.0, 90.0, 110.0, 130.0)
    shares = np.linspace(0.0, 1.0, len(values))
    if len(values) > 3 and rng.random() < 0.6:
        shares = shares + 0.07 * np.sin(2 * np.pi * shares) * float(rng.choice([-1, 1]))
    ends_only = rng.random() < 0.35
    labels = tuple(
        ("C" if i == 0 else "H" if i == len(values) - 1 else "") if ends_only else f"{v:g}"
        for i, v in enumerate(values)
    )
    return InventedScale(
        "temp",
        "coolant temperature",
        "degF" if fahrenheit else "degC",
        values,
        _small_angles(rng, place, shares),
        labels,
        int(rng.choice([1, 2, 4])),
        "°F" if fahrenheit else str(rng.choice(["°C", "TEMP °C", "TEMP"])),
        warning_from=values[-2] + (values[-1] - values[-2]) * 0.5 if rng.random() < 0.8 else None,
    )


def _oil(rng: np.random.Generator, place: Place) -> InventedScale:
    unit, top, step = [("bar", 5, 1), ("bar", 8, 2), ("psi", 100, 25), ("kPa", 600, 200)][
        int(rng.integers(4))
    ]
    values = tuple(float(v) for v in range(0, top + 1, step))
    return InventedScale(
        "oil",
        "oil pressure",
        unit,
        values,
        _small_angles(rng, place, np.linspace(0.0, 1.0, len(values))),
        tuple(f"{v:g}" for v in values),
        int(rng.choice([1, 2])),
        f"OIL {unit}",
        warning_to=values[1] * 0.5 if rng.random() < 0.5 else None,
    )


def _volt(rng: np.random.Generator, place: Place) -> InventedScale:
    values = (8.0, 10.0, 12.0, 14.0, 16.0) if rng.random() < 0.7 else (20.0, 24.0, 28.0, 32.0)
    return InventedScale(
        "volt",
        "supply voltage",
        "V",
        values,
        _small_angles(rng, place, np.linspace(0.0, 1.0, len(values))),
        tuple(f"{v:g}" for v in values),
        int(rng.choice([1, 2])),
        str(rng.choice(["VOLT", "V"])),
    )


def _boost(rng: np.random.Generator, place: Place) -> InventedScale:
    values = (0.0, 0.5, 1.0, 1.5, 2.0)
    return InventedScale(
        "boost",
        "boost pressure",
        "bar",
        values,
        _small_angles(rng, place, np.linspace(0.0, 1.0, len(values))),
        tuple(f"{v:g}" if v % 1 == 0 else "" for v in values),
        int(rng.choice([1, 5])),
        "BOOST bar",
        warning_from=1.5 if rng.random() < 0.6 else None,
    )


def _oil_temperature(rng: np.random.Generator, place: Place) -> InventedScale:
    values = (40.0, 80.0, 120.0, 160.0)
    return InventedScale(
        "oil-temp",
        "oil temperature",
        "degC",
        values,
        _small_angles(rng, place, np.linspace(0.0, 1.0, len(values))),
        tuple(f"{v:g}" for v in values),
        int(rng.choice([2, 4])),
        "OIL °C",
        warning_from=140.0 if rng.random() < 0.5 else None,
    )


def _large_sweep(rng: np.random.Generator) -> tuple[float, float]:
    first = -float(rng.uniform(100, 138))
    last = -first + float(rng.uniform(-12, 12))
    return (last, first) if rng.random() < 0.08 else (first, last)


def _small_angles(
    rng: np.random.Generator, place: Place, shares: np.ndarray[tuple[int], np.dtype[np.float64]]
) -> tuple[float, ...]:
    half = float(rng.uniform(30, 58))
    first, last = place.middle_deg - half, place.middle_deg + half
    return _angles(last, first, shares) if rng.random() < 0.3 else _angles(first, last, shares)


def _angles(
    first: float, last: float, shares: np.ndarray[tuple[int], np.dtype[np.float64]]
) -> tuple[float, ...]:
    return tuple(round(float(first + (last - first) * s), 3) for s in shares)


_KINDS: Final[dict[str, Callable[[np.random.Generator, Place], InventedScale]]] = {
    "speed": _speed,
    "engine": _engine,
    "fuel": _fuel,
    "temp": _temperature,
    "oil": _oil,
    "volt": _volt,
    "boost": _boost,
    "oil-temp": _oil_temperature,
}
