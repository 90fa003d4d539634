"""A dial's rows on the scales: laws of their noise, models weighed where it matters."""

from collections.abc import Callable
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.findings.signatures.knowledge import Knowledge
from needlewright.findings.signatures.noise import Noise, log_marginal, log_on_stop
from needlewright.findings.signatures.rows import Array, DialRows
from needlewright.findings.signatures.weighed import Zoomed, cell_widths, places_of_size

SEATS: Final = ("offset", "slight", "turned")
"""Parts of a law that are a needle's seat: as usual, slipped a little, pressed on anyhow."""
PLAY_DEG: Final = 1.5
"""Width of the half difference of rising and falling where play is one of a pair."""
_PIN_DEG: Final = 0.5
"""How far a pin may lie from where the family says (common practice, no source)."""
_STRAY_STOP: Final = -8.0
_STAGES: Final = 3
_PLACES: Final = 25


class Weigher:
    """The rows of one dial, and what is known beforehand.

    Parameters
    ----------
    rows
        Of the dial.
    knowledge
        What is taken to be known.
    """

    def __init__(self, rows: DialRows, knowledge: Knowledge) -> None:
        self.rows = rows
        self.knowledge = knowledge
        self.movement_deg = rows.dial.movement.repeatability_deg
        self.error_deg = rows.error_deg
        self._laws: dict[str, Noise] = {}
        ones, way = np.ones(len(self.error_deg)), rows.way
        gears = rows.dial.movement.kind == "stepper"
        sound = knowledge.sound
        self.approach_deg = sound.approach_deg if gears else sound.approach_without_gears_deg
        self._parts = {
            "loose": np.diag(np.full(len(ones), (rows.dial.movement.cycle_deg / 2) ** 2)),
            "offset": knowledge.sizes.offset_deg**2 * np.outer(ones, ones),
            "slight": knowledge.sizes.slight_deg**2 * np.outer(ones, ones),
            "turned": knowledge.sizes.turned_deg**2 * np.outer(ones, ones),
            "play": PLAY_DEG**2 * np.outer(way, way),
        }

    @property
    def count(self) -> int:
        """Rows, those on a stop included."""
        return len(self.error_deg)

    @property
    def row_u_deg(self) -> Array:
        """Standard uncertainty of each row about a model: reading, stimulus and movement."""
        return np.hypot(self.rows.u_read_deg, self.movement_deg)

    @property
    def stops(self) -> float:
        """Logarithm of how well the rows on a stop fit where the family says the stop is.

        One at the expected height is one; a needle that lies far from any stop speaks against
        every model in which it moves.
        """
        rows, dial = self.rows, self.rows.dial
        seats = _PIN_DEG if dial.rest_pin else self.knowledge.sizes.offset_deg
        away = rows.seen_deg[rows.on_stop] - rows.lower_stop_deg
        wide = np.hypot(rows.u_read_deg[rows.on_stop], seats)
        return float(np.maximum(-0.5 * (away / wide) ** 2, _STRAY_STOP).sum())

    def law(self, name: str = "") -> Noise:
        """The law of a sound gauge's errors, with linear parts added: `offset`, `play`, or both.

        Parameters
        ----------
        name
            Parts, joined by `+`; of shapes `shape WIDTH LENGTH`.

        Returns
        -------
        Noise
            Kept for the next time.
        """
        if name not in self._laws:
            sound = self.knowledge.sound
            ones, way = np.ones(self.count), self.rows.way
            covariance = (
                np.diag(self.rows.u_seen_deg**2 + self.movement_deg**2)
                + self.rows.told_covariance
                + sound.seat_deg**2 * np.outer(ones, ones)
                + self.approach_deg**2 * np.outer(way, way)
            )
            for part in filter(None, name.split("+")):
                covariance = covariance + self.part(part)
            self._laws[name] = Noise.of(covariance, self.rows.free)
        return self._laws[name]

    def loosened(self, where: NDArray[np.bool_]) -> str:
        """Name of the law in which those rows stand anywhere within a cycle."""
        name = "loose " + "".join("1" if one else "0" for one in where)
        wide = self.rows.dial.movement.cycle_deg / 2
        self._parts[name] = np.diag(np.where(where, wide**2, 0.0))
        return name

    def part(self, name: str) -> Array:
        """Covariance of one linear part of all rows."""
        if name.startswith("shape"):
            _, width, length = name.split()
            at = self.rows.told_deg
            apart = (at[:, np.newaxis] - at[np.newaxis, :]) / (float(length) * self.rows.span_deg)
            return np.asarray(float(width) ** 2 * np.exp(-0.5 * apart**2))
        return self._parts[name]

    def evidence(self, means_deg: Array, law: str = "") -> Array:
        """Logarithm of the likelihood of all rows under means, one a place.

        Parameters
        ----------
        means_deg
            Places x all rows.
        law
            Of what is left.

        Returns
        -------
        Array
            One for each place.
        """
        noise = self.law(law)
        left = self.error_deg - means_deg
        free, stopped = left[:, self.rows.free], left[:, self.rows.on_stop]
        marginal, wild = log_marginal(noise, free, self.knowledge.wild)
        return marginal + log_on_stop(noise, free, stopped, wild) + self.stops

    def zoom(
        self,
        means: Callable[[Array], Array],
        first: Array,
        log_density: Callable[[Array], Array],
        law: str = "",
    ) -> Zoomed:
        """Weigh one parameter, more finely where the rows want it.

        Parameters
        ----------
        means
            Of places: places x all rows.
        first
            Places to begin with, rising.
        log_density
            Prior density.
        law
            Of what is left.

        Returns
        -------
        Zoomed
            The first places, and twice finer ones around the best so far.
        """
        at = first
        log_value = log_density(at) + self.evidence(means(at), law)
        for _ in range(_STAGES - 1):
            best = int(np.argmax(log_value))
            low, high = at[max(best - 1, 0)], at[min(best + 1, len(at) - 1)]
            finer = np.linspace(low, high, _PLACES)[1:-1]
            finer = finer[~np.isin(finer, at)]
            value = log_density(finer) + self.evidence(means(finer), law)
            at = np.concatenate([at, finer])
            order = np.argsort(at)
            at, log_value = at[order], np.concatenate([log_value, value])[order]
        return Zoomed(at, log_value + np.log(cell_widths(at)))

    def zoom_sizes(
        self,
        means: Callable[[NDArray[np.int_], Array], Array],
        forms: Array,
        log_density: Callable[[Array], Array],
        law: str = "",
    ) -> list[Zoomed]:
        """Weigh the size of forms that grow about in proportion to it, all forms at once.

        Parameters
        ----------
        means
            Of the number of a form and a size, for each place: places x all rows.
        forms
            Forms x all rows: the mean of each at a size of one, to find the places by.
        log_density
            Prior density of the size, which is above zero.
        law
            Of what is left.

        Returns
        -------
        list of Zoomed
            For each form places about what the free rows want, and about what they want without
            the one that speaks most against it.
        """
        noise, free = self.law(law), self.rows.free
        pulled = forms[:, free] @ noise.inverse
        own = np.maximum((pulled * forms[:, free]).sum(axis=1), 1e-9)
        wanted, u = (pulled @ self.error_deg[free]) / own, own**-0.5
        left = (self.error_deg - wanted[:, np.newaxis] * forms)[:, free] @ noise.inverse
        wanted_without = self._without_worst(noise, forms[:, free], left, wanted)
        places = [places_of_size(*one) for one in zip(wanted, wanted_without, u, strict=True)]
        at = np.concatenate(places)
        form = np.repeat(np.arange(len(forms)), [len(one) for one in places])
        value = log_density(at) + self.evidence(means(form, at), law)
        return [
            Zoomed(one, value[form == i] + np.log(cell_widths(one))) for i, one in enumerate(places)
        ]

    def _without_worst(
        self, noise: Noise, forms: Array, pulled_left: Array, wanted: Array
    ) -> Array:
        """The sizes wanted when the row furthest from what the others say of it is left out."""
        if forms.shape[1] < 2:
            return wanted
        precision = np.diag(noise.inverse)
        worst = np.argmax(pulled_left**2 / precision, axis=1)
        error = self.error_deg[self.rows.free]
        found = []
        for form, row, size in zip(forms, worst, wanted, strict=True):
            # removing a row from a normal law: its column is taken out of the inverse
            column = noise.inverse[:, row] / precision[row]
            inverse = noise.inverse - np.outer(column, noise.inverse[row])
            own = float(form @ inverse @ form)
            found.append(float(form @ inverse @ error) / own if own > 1e-9 else size)
        return np.array(found)

    def linear(self, mean_deg: Array, law: str, part: str) -> tuple[Array, Array]:
        """What a linear part of a law makes of the rows once they were seen.

        Parameters
        ----------
        mean_deg
            Of all rows.
        law
            The law.
        part
            One of its parts.

        Returns
        -------
        tuple
            Mean and standard deviation at every row, a wild row left out.
        """
        keep = self.rows.free.copy()
        wild = self.wild_row(mean_deg, law)
        if wild >= 0:
            keep[wild] = False
        covariance = self.law(law).covariance
        inside = np.linalg.inv(covariance[np.ix_(keep, keep)])
        own = self.part(part) + self._shared(part)
        reach = own[:, keep] @ inside
        expected = reach @ (self.error_deg - mean_deg)[keep]
        variance = np.diag(own) - np.einsum("ij,ij->i", reach, own[:, keep])
        return expected, np.sqrt(np.maximum(variance, 0.0))

    def _shared(self, part: str) -> float | Array:
        """What a sound gauge has of the same part: the rows cannot tell the two from each other."""
        if part in SEATS:
            return self.knowledge.sound.seat_deg**2
        if part == "play":
            way = self.rows.way
            return np.asarray(self.approach_deg**2 * np.outer(way, way))
        return 0.0

    def wild_row(self, mean_deg: Array, law: str = "") -> int:
        """The row most probably wild under one mean, counted among all rows; -1: none."""
        free = np.flatnonzero(self.rows.free)
        left = (self.error_deg - mean_deg)[free][np.newaxis, :]
        if not len(free):
            return -1
        _, first = log_marginal(self.law(law), left, self.knowledge.wild)
        return int(free[first[0]]) if first[0] >= 0 else -1
