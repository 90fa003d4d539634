"""A sum worked out, as a document for programs and as a drawing."""

from collections.abc import Callable, Mapping
from dataclasses import asdict
from typing import Any, Final

from needlewright.composing.sums_drawn import (
    aging,
    boards,
    lamps,
    pulses,
    resistors,
    senders,
    solder,
    supplies,
)
from needlewright.plans.sums.bench_units import same_quantity
from needlewright.plans.sums.catalogue import SUMS
from needlewright.plans.sums.model import Amount, Answered, Choice, Figure, Input, Line, Sum

DRAWN: Final[Mapping[str, Callable[[Any], str]]] = {
    "lamp-life": lamps.lamp_life,
    "lamp-to-led": lamps.led_instead,
    "resistor-power": resistors.resistor_power,
    "filament-drop": resistors.filament_drop_drawing,
    "coil-resistance": boards.coil_resistance,
    "broken-trace": boards.broken_trace,
    "supply-fuse": supplies.supply_fuse,
    "solder": solder.solder,
    "reflow": solder.reflow,
    "solder-life": aging.solder_life,
    "arrhenius": aging.arrhenius,
    "sender-substitute": senders.sender_substitute,
    "sender-on-gauge": senders.sender_on_gauge,
    "thermistor": senders.thermistor,
    "pulse-constant": pulses.pulse_constant,
}
"""What draws the result of each sum, by its name; an SVG document each."""


def drawing(answered: Answered[Any]) -> str:
    """The drawing of a sum that was worked out, as an SVG document."""
    return DRAWN[answered.sum.name](answered.result)


def list_document() -> dict[str, Any]:
    """Every sum with what it asks for."""
    return {"sums": [_described(one) for one in SUMS]}


def answer_document(answered: Answered[Any]) -> dict[str, Any]:
    """A sum that was worked out: inputs, figures, working, source."""
    which, told = answered.sum, answered.told
    return {
        "sum": which.name,
        "title": which.title,
        "inputs": [
            {
                "name": one.name,
                "value": answered.given.numbers.get(one.name, answered.given.words.get(one.name)),
                "unit": one.unit if isinstance(one, Amount) else "",
            }
            for one in which.inputs
        ],
        "figures": [_figure(one) for one in told.figures],
        "judged": [asdict(one) for one in told.judged],
        "notes": list(told.notes),
        "working": [asdict(one) for one in told.steps],
        "source": which.source,
        "limits": which.limits,
        "cautions": list(which.cautions),
    }


def _figure(one: Figure) -> dict[str, Any]:
    return {
        "name": one.name,
        "words": one.words,
        "value": one.value,
        "unit": one.unit,
        "low": one.low,
        "high": one.high,
        "said": one.said,
        "held_to": None if one.held_to is None else asdict(one.held_to),
    }


def _described(which: Sum[Any]) -> dict[str, Any]:
    return {
        "name": which.name,
        "title": which.title,
        "what_for": which.what_for,
        "inputs": [_input(one) for one in which.inputs],
        "source": which.source,
        "limits": which.limits,
        "cautions": list(which.cautions),
    }


def _input(one: Input) -> dict[str, Any]:
    said: dict[str, Any] = {"name": one.name, "words": one.words, "hint": one.hint}
    if isinstance(one, Amount):
        return said | {
            "kind": "amount",
            "unit": one.unit,
            "units": list(same_quantity(one.unit)) if one.unit else [],
            "least": one.least,
            "most": one.most,
            "default": one.default,
            "group": one.group,
        }
    if isinstance(one, Choice):
        return said | {"kind": "choice", "choices": dict(one.choices), "default": one.default}
    if isinstance(one, Line):
        return said | {"kind": "line", "default": one.example}
    return said | {"kind": "pasted", "longest": one.longest}
