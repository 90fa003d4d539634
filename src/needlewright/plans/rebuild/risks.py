"""What may be wrong now or fail later, thing by thing, and what that costs when it does."""

from dataclasses import dataclass
from fractions import Fraction

from needlewright.amounts import figure
from needlewright.findings.troubleshooting.model import Knowledge, code_of, part_of
from needlewright.plans.catalogue.model import WeakPoint
from needlewright.plans.rebuild.findings import LEAST, Findings, Place, exact
from needlewright.plans.rebuild.work import Task, Workshop


@dataclass(frozen=True, slots=True)
class Life:
    """How old a cluster is; what is not known is None.

    Parameters
    ----------
    years, km
        Age and mileage.
    """

    years: float | None = None
    km: float | None = None


@dataclass(frozen=True, slots=True)
class FaultNow:
    """A fault that may be there now."""

    place: Place
    state: str
    chance: Fraction


@dataclass(frozen=True, slots=True)
class Wear:
    """A weak point that may fail later."""

    place: Place
    point: WeakPoint
    age: float
    """Until now, in what the law counts."""
    warranty: float
    horizon: float
    """How far ahead, in the same."""

    @property
    def state(self) -> str:
        """The fault it becomes."""
        return self.point.leads_to

    def chances(self, age_left: Fraction = Fraction(1)) -> tuple[Fraction, Fraction]:
        """Probability of failing within the warranty, and after it until the horizon.

        Parameters
        ----------
        age_left
            Share of its age that it still has after what is done to it now.

        Returns
        -------
        tuple of Fraction
            The two probabilities.
        """
        age = self.age * float(age_left)
        early = self.point.law.fails_within(self.warranty, age)
        return exact(early), exact(self.point.law.fails_within(self.horizon, age) - early)


@dataclass(frozen=True, slots=True)
class Thing:
    """What is decided on: a part of a dial, or a system of the whole.

    Parameters
    ----------
    place
        The dial; None: of the whole.
    part
        A part of the knowledge file; the fault's code where it has no parts.
    faults, wear
        What may be wrong with it now, and what may fail.
    """

    place: Place
    part: str
    faults: tuple[FaultNow, ...]
    wear: tuple[Wear, ...]

    @property
    def name(self) -> str:
        """`speed:movement`, `lamp_out`."""
        return self.part if self.place is None else f"{self.place}:{self.part}"

    @property
    def chance_now(self) -> Fraction:
        """Probability that it is at fault now."""
        if self.place is not None:
            return sum((fault.chance for fault in self.faults), Fraction(0))
        return max((fault.chance for fault in self.faults), default=Fraction(0))

    @property
    def counts(self) -> bool:
        """Whether it is worth a line."""
        return bool(self.wear) or self.chance_now >= LEAST

    def treated_by(self, task: Task) -> bool:
        """Whether a task does anything about it."""
        return task.place == self.place and task.treats(
            (fault.state for fault in self.faults), ((w.point.id, w.state) for w in self.wear)
        )


def things_of(
    findings: Findings, workshop: Workshop, life: Life
) -> tuple[tuple[Thing, ...], tuple[str, ...]]:
    """Gather what is decided on.

    Parameters
    ----------
    findings
        What may be wrong now.
    workshop
        Of the catalogue and the dials.
    life
        Age and mileage; one stands in for the other by the yearly distance.

    Returns
    -------
    tuple of Thing
        By place, in the order of the dials, the whole last.
    tuple of str
        Sentences on what was assumed or left out.
    """
    notes = list(workshop.catalogue.not_used)
    worn = _worn(workshop, life, notes)
    found: dict[tuple[Place, str], tuple[list[FaultNow], list[Wear]]] = {}
    for (place, state), p in findings.states.items():
        key = (place, part_of(state) or code_of(state))
        found.setdefault(key, ([], []))[0].append(FaultNow(place, state, p))
    for wear in worn:
        key = (wear.place, part_of(wear.state) or code_of(wear.state))
        found.setdefault(key, ([], []))[1].append(wear)
    order = {place: number for number, place in enumerate(workshop.places)}
    things = [Thing(place, part, tuple(f), tuple(w)) for (place, part), (f, w) in found.items()]
    things.sort(key=lambda one: (order[one.place], -one.chance_now))
    return tuple(things), tuple(notes)


def _worn(workshop: Workshop, life: Life, notes: list[str]) -> list[Wear]:
    terms = workshop.terms
    per_year = float(terms.km_per_year)
    years, km = life.years, life.km
    if years is None and km is None:
        notes.append(
            "wear is not counted: neither age nor mileage is known; give --age-years or --mileage"
        )
        return []
    if years is None and km is not None:
        years = km / per_year
        driven, yearly = (figure(one) for one in (km, per_year))
        notes.append(f"age taken as {years:.3g} years: {driven} km at {yearly} km a year")
    elif km is None and years is not None:
        km = years * per_year
    assert years is not None
    assert km is not None
    horizon = max(terms.horizon_years, terms.warranty_years)
    ahead = float(terms.warranty_years), float(horizon)
    found = []
    for point in workshop.catalogue.weak_points.values():
        unit = 1.0 if point.clock == "years" else per_year
        age = years if point.clock == "years" else km
        places = [None] if point.scope == "whole" else [*(point.dials or workshop.dials)]
        found += [Wear(place, point, age, ahead[0] * unit, ahead[1] * unit) for place in places]
    return found


def words_of(thing: Thing, knowledge: Knowledge) -> str:
    """A thing for people: `movement`, `backlight lamps`, `corrosion on the board`."""
    if thing.part in knowledge.parts:
        return knowledge.parts[thing.part].partition(":")[0]
    if thing.wear:
        return thing.wear[0].point.words
    return knowledge.causes[thing.part].words
