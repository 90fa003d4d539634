"""What a plan is made of, so that it can be made once more with another assumption."""

from dataclasses import dataclass, replace
from fractions import Fraction

from needlewright.findings.troubleshooting.model import Knowledge, code_of
from needlewright.plans.rebuild.findings import Findings, Place
from needlewright.plans.rebuild.risks import Life, Thing, things_of
from needlewright.plans.rebuild.search import Search, search_of, with_things_at
from needlewright.plans.rebuild.work import Workshop


@dataclass(frozen=True, slots=True)
class Assumed:
    """What a plan is made of, so that it can be made again with something else.

    Parameters
    ----------
    findings, workshop, life
        As the plan has them.
    knowledge
        Words for causes.
    """

    findings: Findings
    workshop: Workshop
    life: Life
    knowledge: Knowledge

    def search(
        self,
        *,
        return_times: Fraction = Fraction(1),
        horizon: Fraction | None = None,
    ) -> Search:
        """Look again.

        Parameters
        ----------
        return_times
            Times what shipping and goodwill are taken to cost.
        horizon
            Years; None: as they are.

        Returns
        -------
        Search
            Of the same cluster.
        """
        terms = self.workshop.terms
        terms = replace(
            terms,
            ship_one_way=terms.ship_one_way * return_times,
            goodwill=terms.goodwill * return_times,
            horizon_years=terms.horizon_years if horizon is None else horizon,
        )
        shop = self.workshop
        shop = shop.with_terms(terms)
        return search_of(shop, things_of(self.findings, shop, self.life)[0])

    def search_with(self, search: Search, place: Place, code: str, chance: Fraction) -> Search:
        """Look again with another probability of a fault, split among its parts as it was.

        Parameters
        ----------
        search
            With everything as it is assumed; what it found at other places is used.
        place
            Whose fault; None: of the whole.
        code
            Which.
        chance
            What is taken for it.

        Returns
        -------
        Search
            Of the same cluster.
        """
        times = chance / self.chance(place, code)

        def changed(thing: Thing) -> Thing:
            faults = (
                replace(one, chance=one.chance * times) if code_of(one.state) == code else one
                for one in thing.faults
            )
            return replace(thing, faults=tuple(faults))

        own = map(changed, search.places[place].things)
        return with_things_at(search, place, sorted(own, key=lambda one: -one.chance_now))

    def chance(self, place: Place, code: str) -> Fraction:
        """Of a fault, in whichever part."""
        some = self.findings.of_place(place).items()
        return sum((p for state, p in some if code_of(state) == code), Fraction(0))

    def room(self, place: Place, code: str) -> Fraction:
        """How probable a fault could be at most: the causes of a dial exclude one another."""
        if place is None:
            return Fraction(1)
        others = sum(self.findings.of_place(place).values()) - self.chance(place, code)
        others += sum(p for at, p in self.findings.vehicle.items() if at[0] == place)
        return max(1 - others, self.chance(place, code))
