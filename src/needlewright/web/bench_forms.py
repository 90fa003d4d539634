"""What is typed before a run at the bench begins: which bench, which check points."""

from dataclasses import dataclass
from typing import Final

from pydantic import ValidationError

from needlewright.bench.steps import KEY_ONS, RunPlan, plan_run
from needlewright.composing.bench_choice import HAND, BenchChoice, benches_of, settings_of
from needlewright.composing.bench_plan import points_in, proposed_values
from needlewright.errors import NeedlewrightError, RunError, UnitError
from needlewright.families.model import Dial, Family
from needlewright.plans.decimal_comma import pointed
from needlewright.records.opening import Shop
from needlewright.web.posted import SentForm

REHEARSAL: Final = "rehearsal"
BY_HAND: Final = "hand"
MOST_POINTS: Final = 60
MOST_KEY_ONS: Final = 10
LONGEST_FAULTS: Final = 2_000


@dataclass(frozen=True, slots=True)
class BenchOffer:
    """One bench, as it is offered."""

    value: str
    """In the form."""
    devices: tuple[str, ...] = ()
    """What it has, in words."""
    wrong: str = ""
    """Why it cannot be chosen; empty: it can."""


@dataclass(frozen=True, slots=True)
class DialOffer:
    """One dial, as it is offered."""

    dial: Dial
    points: str
    is_told: bool


def offers(shop: Shop) -> tuple[BenchOffer, ...]:
    """The benches there are: those of the shop's settings, by hand, and the rehearsal.

    Parameters
    ----------
    shop
        The shop.

    Returns
    -------
    tuple of BenchOffer
        One whose settings cannot be used says why.
    """
    return (
        *(_offer(shop, name) for name in benches_of(shop)),
        BenchOffer(BY_HAND),
        BenchOffer(REHEARSAL),
    )


def dial_offers(family: Family, sent: SentForm | None, max_speed: float | None) -> list[DialOffer]:
    """The dials with their check points, as typed or by rule and marks.

    Parameters
    ----------
    family
        The cluster design.
    sent
        What was typed; None: nothing yet.
    max_speed
        The vehicle's maximum design speed.

    Returns
    -------
    list of DialOffer
        In the family's order.
    """
    if sent is not None:
        return [
            DialOffer(dial, sent.text(f"points-{dial.id}"), sent.ticked(f"told-{dial.id}"))
            for dial in family.dials
        ]
    values = proposed_values(family, max_speed)
    return [
        DialOffer(dial, ", ".join(f"{one:g}" for one in values[dial.id]), True)
        for dial in family.dials
    ]


def choice_in(sent: SentForm) -> BenchChoice:
    """The bench that was chosen.

    Parameters
    ----------
    sent
        The form.

    Returns
    -------
    BenchChoice
        Its settings and faults are not looked at yet.

    Raises
    ------
    RunError
        If none was chosen, or a number is none.
    """
    bench = sent.text("bench")
    if not bench:
        raise RunError("bench: none was chosen; choose one")
    faults = sent.text("faults")
    if len(faults) > LONGEST_FAULTS:
        raise RunError("faults: too much was typed; one fault stands in each line")
    typed: dict[str, object] = {
        "kind": REHEARSAL if bench == REHEARSAL else "bench",
        "settings": HAND if bench in (REHEARSAL, BY_HAND) else bench[:60],
        "camera": _whole(sent.text("camera") or "0", "camera"),
        "temperature_c": degc_in(sent.text("temperature_c")),
    }
    if bench == REHEARSAL:
        typed |= {
            "camera": 0,
            "faults": tuple(line.strip() for line in faults.splitlines() if line.strip()),
            "seed": _whole(sent.text("seed") or "0", "seed"),
        }
    try:
        return BenchChoice.model_validate(typed)
    except ValidationError as error:
        wrong = error.errors(include_url=False)[0]
        raise RunError(
            f"{wrong['loc'][0]}: cannot be {wrong['input']!r}; correct it, or choose again"
        ) from error


def plan_in(sent: SentForm, family: Family) -> RunPlan:
    """The run as found that was laid out.

    Parameters
    ----------
    sent
        Fields `told-DIAL`, `points-DIAL`, `key_ons`.
    family
        The cluster design.

    Returns
    -------
    RunPlan
        Its values are not held against the signals yet.

    Raises
    ------
    RunError
        If nothing is to be told, or numbers cannot be used.
    """
    values = {
        dial.id: points_in(sent.text(f"points-{dial.id}"), f"dial '{dial.id}'", MOST_POINTS)
        for dial in family.dials
        if sent.ticked(f"told-{dial.id}")
    }
    empty = [dial for dial, one in values.items() if not one]
    if empty:
        raise RunError(
            f"dial '{empty[0]}': has no check point; type its values, or leave the dial out"
        )
    if not values:
        raise RunError("dials: none is chosen; choose at least one dial that is told something")
    key_ons = points_in(sent.text("key_ons"), "key-ons", MOST_KEY_ONS)
    if any(one != int(one) or not 0 <= one <= 1000 for one in key_ons):
        raise RunError("key-ons: expected whole numbers from 0, like 0, 1, 3, 5; correct them")
    return plan_run(values, tuple(int(one) for one in key_ons))


def key_ons_text(sent: SentForm | None) -> str:
    """The key-ons as typed, or as usual."""
    return ", ".join(map(str, KEY_ONS)) if sent is None else sent.text("key_ons")


def _offer(shop: Shop, name: str) -> BenchOffer:
    try:
        settings = settings_of(shop, name)
    except NeedlewrightError as error:
        return BenchOffer(name, wrong=str(error))
    devices = []
    if settings.supply is not None:
        devices.append(f"supply {settings.supply.resource}")
    if settings.bus is not None:
        channel = "" if settings.bus.channel is None else f" {settings.bus.channel}"
        devices.append(f"bus adapter {settings.bus.interface}{channel}")
    return BenchOffer(name, tuple(devices))


def _whole(text: str, where: str) -> int:
    plain = text.strip()
    if not plain.isdecimal() or len(plain) > 10:
        raise RunError(f"{where}: expected a whole number from 0, found '{plain[:20]}'; correct it")
    return int(plain)


def degc_in(text: str) -> float | None:
    """A temperature as typed, degC; None where nothing is. Raises RunError if it is none."""
    plain = text.strip().replace("\u2212", "-")
    if not plain:
        return None
    try:
        value = float(pointed(plain))
    except UnitError as error:
        raise RunError(f"temperature: {error}") from error
    except ValueError as error:
        raise RunError(
            f"temperature: expected a number in °C, found '{plain[:20]}'; correct it, or leave it "
            "empty"
        ) from error
    if not -100 <= value <= 200:
        raise RunError(f"temperature: {value:g} °C is none of a cluster on a bench; correct it")
    return value
