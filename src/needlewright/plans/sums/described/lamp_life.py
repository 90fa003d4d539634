"""Lamp life and light at a voltage: what is asked and told."""

from typing import Final

from needlewright.plans.sums.lamp_life import LIFE_EXPONENT, LIGHT_EXPONENT, LampAtVoltage, lamp_at
from needlewright.plans.sums.model import Amount, Figure, Given, Step, Sum, Told
from needlewright.plans.sums.wording import number


def _work(given: Given) -> LampAtVoltage:
    return lamp_at(
        given.number("voltage"),
        given.number("rated-voltage"),
        given.maybe("rated-life"),
        given.maybe("rated-power"),
    )


def _told(lamp: LampAtVoltage) -> Told:
    figures = [
        _ranged("light", "Light, of what it gives at its rated voltage", lamp.light),
        _ranged("life", "Life, of what it lives at its rated voltage", lamp.life),
        Figure("current", "Current, of the rated one", lamp.current),
        Figure("power", "Power, of the rated one", lamp.power),
    ]
    if lamp.life_h is not None:
        figures.append(_ranged("life_h", "Life", lamp.life_h, "h"))
    if lamp.watts is not None:
        figures.append(Figure("power_w", "Power", lamp.watts, "W"))
    v = number(lamp.ratio, 4)
    return Told(
        tuple(figures),
        (
            Step(
                "Share of the rated voltage",
                "v = U / U₀",
                f"{lamp.volts:g} / {lamp.rated_v:g} = {v}",
            ),
            _power("Light", LIGHT_EXPONENT, v, lamp.light),
            _power("Life", (-LIFE_EXPONENT[0], -LIFE_EXPONENT[1]), v, lamp.life),
            Step("Current", "v^0.55", f"{v}^0.55 = {number(lamp.current)}"),
            Step("Power", "v^1.6", f"{v}^1.6 = {number(lamp.power)}"),
        ),
    )


def _ranged(name: str, words: str, range_: tuple[float, float], unit: str = "") -> Figure:
    low, high = range_
    return Figure(name, words, (low * high) ** 0.5, unit, low, high)


def _power(words: str, exponents: tuple[float, float], v: str, shares: tuple[float, float]) -> Step:
    first, second = (f"{one:g}".replace("-", "−") for one in exponents)
    return Step(
        words,
        f"v^{first} to v^{second}",
        f"{v}^{first} to {v}^{second}: {number(shares[0])} to {number(shares[1])}",
    )


LAMP_LIFE: Final = Sum(
    name="lamp-life",
    title="Lamp life and light at a voltage",
    what_for=(
        "How long a lamp lives and how bright it is when it runs above or below what it is rated "
        "for, as when the supply is set a little lower to spare lamps."
    ),
    inputs=(
        Amount("voltage", "Voltage at the lamp", "V", 0.5, 60.0, 13.5),
        Amount("rated-voltage", "Rated voltage of the lamp", "V", 0.5, 60.0, 14.0),
        Amount("rated-life", "Rated life", "h", 1.0, 100_000.0, None, "may be left empty"),
        Amount("rated-power", "Rated power", "W", 0.01, 100.0, None, "may be left empty"),
    ),
    work=_work,
    told=_told,
    source=(
        "Standard Handbook for Electrical Engineers, 11th ed. (1978), 22-8, as an encyclopedia "
        "quotes it: light with the power 3.4 to 3.5 of the voltage, life with −12 to −16, current "
        "with 0.55, power with 1.6"
    ),
    limits=(
        "Filament lamps between 80 and 120 % of their rated voltage (from memory). The value told "
        "is the middle of the range by ratio; single lamps scatter more than the exponents do, and "
        "vibration and switching shorten a life no voltage spares."
    ),
    drawing="Light and life over the voltage, each a band, with the voltage given marked.",
    cautions=("Lamps get hot; let them cool, and do not touch halogen glass with bare fingers.",),
)
