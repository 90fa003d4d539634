"""A temperature series rehearsed: a cluster that really warms, by what is only known within limits.

Its start, surroundings, time constant and thermometer differ from what is stated by chance, as far
as their stated uncertainties let them, so what a series says of its temperatures can be checked.
"""

from math import exp

import numpy as np

from needlewright.bench.series import KeptSeries
from needlewright.bench.series_run import READ_U_DEGC, Soaked
from needlewright.bench.series_state import Stay
from needlewright.bench.stays import Cooling
from needlewright.bench.warming import Known, Warming
from needlewright.rehearsal.warming import WarmingRehearsal


class RehearsedAttendant:
    """Cools a rehearsed cluster, keeps the clock, reads a thermometer that is a little off.

    Parameters
    ----------
    rehearsal
        The bench.
    seed
        Of what differs from what is stated.
    reads
        Whether there is a thermometer.
    """

    def __init__(self, rehearsal: WarmingRehearsal, seed: int, *, reads: bool = False) -> None:
        self._rehearsal, self._reads = rehearsal, reads
        self._rng = np.random.default_rng([seed, 31])
        self._off = self._rng.standard_normal(4)
        self.truth: dict[int, Warming] = {}
        """What each stay really is; the place of the thermometer is put into its surroundings and
        its start."""
        self._began_s: dict[int, float] = {}

    def now_s(self) -> float:
        """The rehearsal's thermal clock."""
        return self._rehearsal.thermal_s

    def cool(self, asked: Cooling) -> Soaked:
        """Leave the cluster in the cold as long as it is asked for.

        Parameters
        ----------
        asked
            How cold, how long.

        Returns
        -------
        Soaked
            The thermometer is read when the stay has begun, not here.
        """
        soaked_s = 0.0
        if asked.conditions.way == "freezer-bag":
            soaked_s = 60.0 * asked.soak_min
            self._rehearsal.rest(soaked_s)
        return Soaked(soaked_s, None)

    def begins(self, stay: int, kept: KeptSeries) -> None:
        """Let the cluster warm as it really does.

        Parameters
        ----------
        stay
            Which.
        kept
            The series.
        """
        self._really(stay, kept.state.stays[stay])

    def wait(self, seconds: float, words: str) -> None:
        """Let time pass.

        Parameters
        ----------
        seconds
            How much.
        words
            Not needed here.
        """
        del words
        self._rehearsal.rest(seconds)

    def thermometer_c(self, words: str) -> float | None:
        """What the thermometer shows.

        Parameters
        ----------
        words
            Not needed here.

        Returns
        -------
        float or None
            degC; None: there is none.
        """
        del words
        if not self._reads or not self.truth:
            return None
        stay = max(self.truth)
        off = float(self._off[3]) * self.truth[stay].place_u_degc
        degc = self.true_degc(stay, self.now_s() - self._began_s[stay]) - off
        return round(degc + float(self._rng.normal(0.0, READ_U_DEGC)), 1)

    def true_degc(self, stay: int, seconds: float) -> float:
        """How warm the movements really are.

        Parameters
        ----------
        stay
            Which.
        seconds
            Since it began.

        Returns
        -------
        float
            degC.
        """
        return self.truth[stay].degc_at(seconds)

    def _really(self, number: int, stay: Stay) -> None:
        stated, (start, around, tau, place) = stay.stated, (float(one) for one in self._off)
        apart = place * stated.place_u_degc
        tau_s = stated.time_constant_s
        truth = Warming(
            Known(stated.start.value + start * stated.start.u + apart, 0.0),
            Known(stated.surroundings.value + around * stated.surroundings.u + apart, 0.0),
            Known(tau_s.value * exp(tau * tau_s.u / tau_s.value), 0.0),
            stated.place_u_degc,
        )
        self.truth[number], self._began_s[number] = truth, stay.started_s
        self._rehearsal.warm_by(lambda now_s: truth.degc_at(max(now_s - stay.started_s, 0.0)))
