"""Whether the needles have fallen to rest although they are told otherwise.

A cluster that hears nothing any more puts its needles at rest, where they stand as still as at any
check point. What is seen then is no reading of the check point.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from needlewright.errors import ScaleError, TransportError
from needlewright.families.model import Dial, Family
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
    """

    def __init__(self, family: Family) -> None:
        self._dials = {dial.id: dial for dial in family.dials}
        self._rest_deg = {dial.id: dial.rest_angle_deg for dial in family.dials}
        self._followed: set[str] = set()

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
        TransportError
            If every needle that is told to be away from rest, and was seen away before, is at rest.
        """
        told_away = 0
        fallen: list[str] = []
        for row in rows:
            if row.angle_deg is None:
                continue
            dial, off_deg = self._dials[row.dial], abs(row.angle_deg - self._rest_deg[row.dial])
            if row.approach == "rest":
                self._rest_deg[row.dial] = row.angle_deg
            elif self._is_away(dial, row.commanded):
                told_away += 1
                if off_deg < AT_REST_DEG and row.dial in self._followed:
                    fallen.append(row.dial)
                elif off_deg > AWAY_DEG:
                    self._followed.add(row.dial)
        if fallen and len(fallen) == told_away:
            raise TransportError(
                f"{', '.join(fallen)} fell to rest although told otherwise ({where}): the cluster "
                "hears nothing any more; check its plug and its power, then go on from the same "
                "check point"
            )
        return tuple(
            replace(row, flags=(*row.flags, FELL_TO_REST)) if row.dial in fallen else row
            for row in rows
        )

    def _is_away(self, dial: Dial, told: float | None) -> bool:
        if told is None:
            return False
        try:
            angle = dial.programme_angle_deg(told)
        except ScaleError:
            return True
        return abs(angle - dial.rest_angle_deg) > AWAY_DEG
