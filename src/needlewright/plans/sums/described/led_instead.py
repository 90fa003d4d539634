"""A lamp replaced by LEDs: what is asked and told."""

from typing import Final, cast

from needlewright.plans.sums.led_instead import (
    Dimmed,
    Dimming,
    LampMonitor,
    LedString,
    led_string,
)
from needlewright.plans.sums.model import (
    SUPPLY_OFF,
    Amount,
    Choice,
    Figure,
    Given,
    Judged,
    Step,
    Sum,
    Told,
)
from needlewright.plans.sums.wording import number, with_unit
from needlewright.signals.preferred import TOLERANCE, Series


def _work(given: Given) -> LedString:
    monitor_ma = given.maybe("monitor")
    way = cast(Dimming, given.word("dimming"))
    at = given.number("duty") / 100 if way == "pulses" else given.number("dimmed-to")
    return led_string(
        given.number("supply"),
        given.number("forward"),
        round(given.number("count")),
        given.number("current") / 1000,
        series=cast(Series, given.word("series")),
        lowest_v=given.number("lowest"),
        highest_v=given.number("highest"),
        monitor_a=None if monitor_ma is None else monitor_ma / 1000,
        dimming=(way, at),
    )


def _told(leds: LedString) -> Told:
    if leds.exact_ohm is None:
        return _dark(leds)
    figures = [
        Figure(
            "resistor_ohm",
            f"Series resistor, {leds.series}, the nearest that lets no more through",
            leds.ohm,
            "ohm",
        ),
        Figure("exact_ohm", "Resistance by the formula", leds.exact_ohm, "ohm"),
        Figure(
            "current_ma",
            "Current",
            leds.current_a * 1000,
            "mA",
            leds.lowest_a * 1000,
            leds.highest_a * 1000,
        ),
        Figure("heat_w", "Heat in the resistor, at the highest supply", leds.resistor_w, "W"),
        Figure("rating_w", "Rating of the resistor, at least", leds.rating_w, "W"),
        Figure(
            "led_w", "Heat and light of each LED, at most", leds.highest_a * leds.forward_v, "W"
        ),
    ]
    steps = [
        Step(
            "Series resistor",
            "R = (U − n Uf) / I",
            f"({leds.supply_v:g} − {leds.count} × {leds.forward_v:g}) / {leds.wanted_a:g} = "
            f"{with_unit(leds.exact_ohm, 'ohm')}, so {with_unit(leds.ohm, 'ohm')}",
        ),
        Step(
            "Current at most",
            "I = (U − n Uf) / R",
            f"({leds.highest_v:g} − {number(leds.string_v)}) / ({leds.ohm:g} × "
            f"{1 - TOLERANCE[leds.series]:g}) = {with_unit(leds.highest_a * 1000, 'mA')}",
        ),
        Step(
            "Heat in the resistor",
            "P = I^2 R",
            f"{number(leds.highest_a)}^2 × {leds.ohm:g} × {1 - TOLERANCE[leds.series]:g} = "
            f"{with_unit(leds.resistor_w, 'W')}",
        ),
    ]
    judged = [Judged("good", f"The LEDs light from {with_unit(leds.string_v, 'V')} on.")]
    if leds.lowest_a == 0:
        judged = [
            Judged(
                "bad",
                f"The LEDs need {with_unit(leds.string_v, 'V')}: at the lowest supply, "
                f"{leds.lowest_v:g} V, they are dark.",
            )
        ]
    if leds.dimmed is not None:
        figures += _dimmed_figures(leds.dimmed)
    if leds.monitor is not None:
        more, said = _monitored(leds.monitor)
        figures += more
        judged.append(said)
    return Told(tuple(figures), tuple(steps), tuple(judged), _notes(leds))


def _dark(leds: LedString) -> Told:
    needs, has = with_unit(leds.string_v, "V"), f"{leds.supply_v:g} V"
    return Told(
        (Figure("resistor_ohm", "Series resistor", None, said="none: it does not light"),),
        (
            Step(
                "Left for the resistor",
                "U − n Uf",
                f"{leds.supply_v:g} − {leds.count} × {leds.forward_v:g} = "
                f"{with_unit(leds.supply_v - leds.string_v, 'V')}",
            ),
        ),
        (
            Judged(
                "bad",
                f"The string needs {needs} and the supply gives {has}: nothing is left for a "
                "resistor, and it does not light. Put fewer in a row.",
            ),
        ),
    )


def _dimmed_figures(dimmed: Dimmed) -> list[Figure]:
    lamp = dimmed.lamp
    lamp_words = "Light of a lamp dimmed the same way"
    return [
        Figure("dimmed_led", "Light when dimmed, of the undimmed", dimmed.led),
        Figure("dimmed_lamp", lamp_words, None, said="too far down for its powers to hold")
        if lamp is None
        else Figure("dimmed_lamp", lamp_words, (lamp[0] * lamp[1]) ** 0.5, "", *lamp),
    ]


def _monitored(monitor: LampMonitor) -> tuple[list[Figure], Judged]:
    seen = with_unit(monitor.seen_a * 1000, "mA")
    least = f"{monitor.least_a * 1000:g} mA"
    if monitor.sees_a_lamp:
        return [], Judged("good", f"The lamp monitor sees {seen} and asks for {least}: a lamp.")
    missed = f"The lamp monitor asks for {least} and sees {seen}: it takes the lamp for broken."
    if monitor.load_ohm is None or monitor.load_w is None:
        return [], Judged("bad", f"{missed} No resistor of those kept makes up for it.")
    return [
        Figure("load_ohm", "Resistor beside the LEDs for the monitor", monitor.load_ohm, "ohm"),
        Figure("load_w", "Heat in that resistor, at the highest supply", monitor.load_w, "W"),
    ], Judged(
        "bad",
        f"{missed} {with_unit(monitor.load_ohm, 'ohm')} beside them makes it see one, and turns "
        f"{with_unit(monitor.load_w, 'W')} into heat.",
    )


def _notes(leds: LedString) -> tuple[str, ...]:
    notes = []
    if leds.dimmed is not None and leds.dimmed.led == 0:
        notes.append(
            f"Dimmed to {leds.dimmed.at:g} V the LEDs are dark: they need "
            f"{with_unit(leds.string_v, 'V')}."
        )
    if leds.dimmed is not None and leds.dimmed.way == "voltage" and leds.dimmed.at > leds.supply_v:
        notes.append("The voltage that is dimmed to is above the supply: that is not dimming.")
    if leds.monitor is None:
        notes.append(
            "Where a lamp monitor watches the lamp, give the current it asks for: LEDs draw a "
            "tenth of a lamp's, and it may take them for a broken lamp or check the cold filament."
        )
    return tuple(notes)


LED_INSTEAD: Final = Sum(
    name="lamp-to-led",
    title="LEDs in the place of a lamp",
    what_for=(
        "Which series resistor stands before the LEDs that replace a lamp, how hot it gets, how "
        "they dim, and whether a lamp monitor still sees a lamp."
    ),
    inputs=(
        Amount("supply", "Supply", "V", 1.0, 60.0, 13.5, "where the current wanted flows"),
        Amount("lowest", "Lowest supply", "V", 0.5, 60.0, 9.0),
        Amount("highest", "Highest supply", "V", 1.0, 60.0, 15.0),
        Amount("forward", "Forward voltage of one LED", "V", 0.5, 10.0, 3.0),
        Amount("count", "LEDs in a row", "", 1.0, 20.0, 1.0, whole=True),
        Amount("current", "Current wanted", "mA", 0.1, 2000.0, 10.0),
        Choice("series", "Resistor series", (("E24", "E24, 5 %"), ("E96", "E96, 1 %")), "E24"),
        Choice(
            "dimming",
            "Dimmed by",
            (
                ("none", "not dimmed"),
                ("pulses", "pulses: switched on and off"),
                ("voltage", "a lower voltage"),
            ),
            "none",
        ),
        Amount("duty", "Share of the time that is on", "%", 0.1, 100.0, 20.0, "of pulses"),
        Amount("dimmed-to", "Dimmed to", "V", 0.1, 60.0, 8.0, "of a lower voltage"),
        Amount(
            "monitor",
            "Current the lamp monitor asks for",
            "mA",
            0.01,
            5000.0,
            None,
            "may be left empty",
        ),
    ),
    work=_work,
    told=_told,
    source=(
        "Ohm's law; preferred values and tolerances IEC 60063; a lamp's dimming by the powers of "
        "lamp-life; resistor loaded to at most half its rating: SD-18 of the US Navy, see "
        "resistor-power"
    ),
    limits=(
        "A forward voltage that is the same at every current, which is right to some tenths of a "
        "volt. Light of an LED is taken as its mean current, right to about 10 % (common practice, "
        "no source). A reverse voltage, and peaks of a vehicle's supply, are not in it: add a "
        "diode where the polarity may turn."
    ),
    drawing="The supply, the resistor and the LEDs with their voltages, and the current over the "
    "supply with the range that is to be expected.",
    cautions=(
        SUPPLY_OFF,
        "Fuse and polarity first: an LED stands only a few volts the wrong way round.",
    ),
)
