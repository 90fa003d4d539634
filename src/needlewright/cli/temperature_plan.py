"""`needlewright temperature-series plan`: what a series asks of the bench, said beforehand."""

from typing import Final

from needlewright.bench.soak import (
    COVERAGE_K,
    Conditions,
    cautions,
    in_order,
    refuse_out_of_reach,
)
from needlewright.bench.stays import Cooling, opening_words
from needlewright.bench.warming import Known
from needlewright.cli import console
from needlewright.cli.temperature_conditions import (
    FREEZER,
    HUMIDITY,
    PLACE_U_DEGC,
    ROOM,
    WITHIN_DEGC,
    AsJson,
    Asked,
    At,
    FamilyDir,
    Freezer,
    Humidity,
    Mass,
    PlaceU,
    Room,
    TimeConstantOption,
    WayOption,
    Within,
    conditions_of,
    temperatures_of,
)
from needlewright.cli.temperature_documents import (
    conditions_document,
    protocol_document,
    protocol_table,
)
from needlewright.families.folder import load_family

WELL_KNOWN_DEGC: Final = 2.0
"""A standard uncertainty above this is worth a thermometer."""
KNOWN_BETTER: Final = (
    "how warm it is becomes better known by a thermometer beside the movements (--thermometer), or "
    "by a time constant that was measured (--time-constant)"
)


def plan(
    *,
    family: FamilyDir,
    at: At,
    way: WayOption = "freezer-bag",
    freezer: Freezer = FREEZER,
    room: Room = ROOM,
    humidity: Humidity = HUMIDITY,
    time_constant: TimeConstantOption = None,
    mass: Mass = None,
    place_u: PlaceU = PLACE_U_DEGC,
    within: Within = WITHIN_DEGC,
    as_json: AsJson = False,
) -> None:
    """Say beforehand how the cluster is cooled, how fast it warms, and how well that is known."""
    cluster = load_family(family)
    asked = Asked(way, freezer, room, humidity, time_constant, mass, place_u, within)
    conditions = conditions_of(asked, cluster)
    temperatures = in_order(temperatures_of(at), conditions.way)
    refuse_out_of_reach(temperatures, conditions)
    coolings = _coolings(temperatures, conditions)
    if as_json:
        console.emit_json(
            {
                "family": cluster.name,
                "conditions": conditions_document(conditions),
                "protocol": [protocol_document(each) for each in coolings],
            }
        )
        return
    _say_plan(coolings, conditions)


def _say_plan(coolings: list[Cooling], conditions: Conditions) -> None:
    tau = conditions.time_constant
    console.out.print(
        f"time constant {tau.seconds.value / 60:.1f} ± {COVERAGE_K * tau.seconds.u / 60:.1f} min "
        f"(k = 2), {tau.source}",
        markup=False,
    )
    if conditions.way == "chamber":
        for each in coolings:
            head, *rest = each.words()
            console.out.print(head, markup=False)
            for line in rest:
                console.say_indented(line)
    else:
        first = coolings[0]
        head, done, *_ = first.words()
        console.out.print(head.partition(": ")[2], markup=False)
        console.out.print(done, markup=False)
        console.out.print(protocol_table(coolings))
        console.out.print(opening_words(first.stay, conditions.dew_point_degc), markup=False)
    if max(each.stay.at(each.begins_s).u_degc for each in coolings) > WELL_KNOWN_DEGC:
        console.out.print(KNOWN_BETTER, markup=False)
    for line in cautions(conditions.way):
        console.out.print(f"caution: {line}", markup=False)


def _coolings(temperatures: tuple[float, ...], conditions: Conditions) -> list[Cooling]:
    """A bag is cooled once from the room; a chamber goes on from the temperature before."""
    coolings: list[Cooling] = []
    for degc in temperatures:
        before = conditions.room
        if coolings and conditions.way == "chamber":
            before = Known(coolings[-1].degc, conditions.cold.u)
        coolings.append(Cooling(degc, conditions, before))
    return coolings
