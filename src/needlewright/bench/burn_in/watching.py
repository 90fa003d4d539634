"""What is watched while needles stand: the needles and the current."""

from collections import deque
from collections.abc import Collection, Sequence
from typing import Final

import numpy as np

from needlewright.bench.burn_in.noticed import Noticed
from needlewright.readings.live import LiveLook

MOVED_DEG: Final = 1.0
"""A needle told to stand that moves by more has moved; half a cycle of a stepper of 2 degrees."""
AWAY_DEG: Final = 6.0
"""All needles at once further than this from where they stand: the cluster has started anew."""
TWICE: Final = 2
"""So many looks must show it."""
JUMP_A: Final = 0.02
JUMP_SHARE: Final = 0.05
"""The current jumps where it changes by more than both; common practice, no source."""
FEWEST_A: Final = 5
LAST_A: Final = 30


class StandWatch:
    """Watches needles that are told to stand, dwell for dwell at the same places.

    Parameters
    ----------
    dials
        Ids of those that are told something.
    """

    def __init__(self, dials: Sequence[str]) -> None:
        self._dials = tuple(dials)
        self._stood: dict[str, float] = {}
        self._off: dict[str, int] = dict.fromkeys(self._dials, 0)
        self._without: frozenset[str] = frozenset()
        self.is_away = False
        """Whether the cluster has started anew, and the needles are not back yet."""

    def begin(self, without: Collection[str] = ()) -> None:
        """Another dwell begins; a needle that stands elsewhere than in the one before has moved.

        Parameters
        ----------
        without
            Ids of the dials that would not come to stand in it.
        """
        self.is_away, self._without = False, frozenset(without)
        self._off = dict.fromkeys(self._dials, 0)

    def look(self, look: LiveLook) -> list[Noticed]:
        """Take a look in.

        Parameters
        ----------
        look
            One frame.

        Returns
        -------
        list of Noticed
            `reset` where all needles left their places at once, `needle_moved` where one did.
        """
        seen = {
            one.dial: one.angle_deg
            for one in look.dials
            if one.dial in self._dials
            and one.dial not in self._without
            and one.angle_deg is not None
        }
        for dial, angle in seen.items():
            self._stood.setdefault(dial, angle)
        off = {dial: angle - self._stood[dial] for dial, angle in seen.items()}
        away = [dial for dial, by in off.items() if abs(by) > AWAY_DEG]
        if len(away) > 1 and len(away) == len(off):
            self._off = dict.fromkeys(self._dials, 0)
            was, self.is_away = self.is_away, True
            words = "all needles left their places at once: the cluster has started anew"
            return [] if was else [Noticed("reset", "cluster", words)]
        if self.is_away:
            self.is_away = any(abs(by) > MOVED_DEG for by in off.values())
            return []
        found = []
        for dial, by in off.items():
            self._off[dial] = self._off[dial] + 1 if abs(by) > MOVED_DEG else 0
            if self._off[dial] == TWICE:
                self._stood[dial], self._off[dial] = seen[dial], 0
                words = f"told to stand, the needle moved by {by:+.1f} deg"
                found.append(Noticed("needle_moved", dial, words, by))
        return found


class CurrentWatch:
    """Watches what a cluster draws in its dwells, all of which are told the same."""

    def __init__(self) -> None:
        self._before: deque[float] = deque(maxlen=LAST_A)
        self._jumped = 0

    def look(self, amperes: float | None) -> Noticed | None:
        """Take a value in.

        Parameters
        ----------
        amperes
            Of the supply; None: not known.

        Returns
        -------
        Noticed or None
            A jump, when two values in a row show it.
        """
        if amperes is None:
            return None
        if len(self._before) < FEWEST_A:
            self._before.append(amperes)
            return None
        usual = float(np.median(self._before))
        by = amperes - usual
        if abs(by) <= max(JUMP_A, JUMP_SHARE * usual):
            self._jumped = 0
            self._before.append(amperes)
            return None
        self._jumped += 1
        if self._jumped < TWICE:
            return None
        self._jumped = 0
        self._before.clear()
        words = f"the current jumped from {usual:.3f} to {amperes:.3f} A"
        return Noticed("current_jump", "cluster", words, by)
