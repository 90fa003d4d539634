"""Whether the needles have fallen to rest although they are told otherwise.

A cluster that hears nothing any more puts its needles at rest, where they stand as still as at any
check point. What is seen then is no reading of the check point.
"""

from collections.abc import Collection, Sequence
from dataclasses import replace
from typing import Final

from needlewright.errors import ScaleError, SilentClusterError
from needlewright.families.model import Dial, Family
from needlewright.readings.live import LiveLook
from needlewright.readings.runs import RunRow

FELL_TO_REST: Final = "fell_to_rest"
"""Flag of a needle at rest that is told to be elsewhere, and followed before."""
AWAY_DEG: Final = 6.0
"""A needle told to be further than this from its rest, or seen further, is away from it."""
AT_REST_DEG: Final = 2.0
"""A needle nearer than this to where it was seen at rest is at rest."""


class Fallen:
    """Remembers where needles rest and which have followed.

    Parameters
    ----------
    family
        The cluster design.
    before
        Rows that a run taken up has already.
    """

    def __init__(self, family: Family, before: Sequence[RunRow] = ()) -> None:
        self._dials = {dial.id: dial for dial in family.dials}
        self._rest_deg = {dial.id: dial.rest_angle_deg for dial in family.dials}
        self._followed: set[str] = set()
        for row in before:
            if row.angle_deg is not None and FELL_TO_REST not in row.flags:
                self._learn(row, row.angle_deg)

    def judge(self, rows: Sequence[RunRow], where: str) -> tuple[RunRow, ...]:
        """Look at the rows of one step.

        Parameters
        ----------
        rows
            With the angles seen.
        where
            The step, for people.

        Returns
        -------
        tuple of RunRow
            The same; a needle that fell to rest while others followed has the flag
            `fell_to_rest`.

        Raises
        ------
        SilentClusterError
            If every needle that is told to be away from rest, and was seen away before, is at rest.
        """
        told_away = 0
        fallen: list[str] = []
        for row in rows:
            if row.angle_deg is None:
                continue
            dial, off_deg = self._dials[row.dial], abs(row.angle_deg - self._rest_deg[row.dial])
            is_told_away = self._is_away(dial, row.commanded)
            told_away += is_told_away
            if is_told_away and off_deg < AT_REST_DEG and row.dial in self._followed:
                fallen.append(row.dial)
            elif is_told_away or row.approach == "rest":
                self._learn(row, row.angle_deg)
        if fallen and len(fallen) == told_away:
            raise _hears_nothing(fallen, where)
        return tuple(
            replace(row, flags=(*row.flags, FELL_TO_REST)) if row.dial in fallen else row
            for row in rows
        )

    def judge_look(self, look: LiveLook, dials: Collection[str], where: str) -> None:
        """Look at needles in a picture, all of them told to be away from rest.

        Parameters
        ----------
        look
            The picture.
        dials
            Ids of those that are told.
        where
            What is being done, for people.

        Raises
        ------
        SilentClusterError
            If every one of them that followed before, and is seen, is at rest.
        """
        seen = {
            one.dial: one.angle_deg
            for one in look.dials
            if one.dial in dials and one.dial in self._followed and one.angle_deg is not None
        }
        at_rest = [n for n, angle in seen.items() if abs(angle - self._rest_deg[n]) < AT_REST_DEG]
        if seen and len(at_rest) == len(seen):
            raise _hears_nothing(at_rest, where)

    def _learn(self, row: RunRow, angle_deg: float) -> None:
        if row.approach == "rest":
            self._rest_deg[row.dial] = angle_deg
        elif abs(angle_deg - self._rest_deg[row.dial]) > AWAY_DEG:
            self._followed.add(row.dial)

    def _is_away(self, dial: Dial, told: float | None) -> bool:
        if told is None:
            return False
        try:
            angle = dial.programme_angle_deg(told)
        except ScaleError:
            return True
        return abs(angle - dial.rest_angle_deg) > AWAY_DEG


def _hears_nothing(dials: Sequence[str], where: str) -> SilentClusterError:
    return SilentClusterError(
        f"{', '.join(dials)} fell to rest although told otherwise ({where}): the cluster hears "
        "nothing any more; check its plug and its power, then go on from the same check point"
    )
