"""A movement without gears against its command: where it rests behind it, where it cannot go on.

In motion the oil of an air core keeps its needle behind, the more the faster; what friction adds is
seen only where the needle rests. Something in its way lets it rest further behind than friction
does, and lets it go when the command has come back to it; friction lets it go only when the command
is as far on the other side.
"""

from typing import Final

import numpy as np

from needlewright.findings.commanded import AT_STOP_DEG, Followed
from needlewright.findings.motion import Motion
from needlewright.findings.standing import Stand, joined

_MOVES_DEG_S: Final = 2.0
_BEHIND_DEG: Final = 1.0
_SURE: Final = 5.0
_RESTS_S: Final = 0.2
_REST_FRAMES: Final = 4
_BLOCK_DEG: Final = 5.0
_SHAKES_DEG: Final = 0.8
_LEAVES: Final = 0.5


def blocked_stand(motion: Motion, beside: Followed, standing: list[Stand]) -> Stand | None:
    """Find the first place where something kept the needle from following.

    Parameters
    ----------
    motion
        Its way.
    beside
        The command laid beside it.
    standing
        Where it stands.

    Returns
    -------
    Stand | None
        None where it was not kept.
    """
    for stand in joined(motion, standing, _SHAKES_DEG):
        ahead = -beside.off_deg[stand.first : stand.last + 1]
        furthest = float(ahead[np.argmax(np.abs(ahead))])
        ends = stand.last + 1 >= len(motion.t_s) - 1
        leaves = 0.0 if ends else abs(float(ahead[-1]))
        came = abs(float(ahead[0]))
        if (
            stand.angle_deg > AT_STOP_DEG
            and abs(furthest) > _BLOCK_DEG
            and max(leaves, came) < _LEAVES * abs(furthest)
        ):
            return stand
    return None


def left_behind(
    motion: Motion, beside: Followed, standing: list[Stand]
) -> tuple[Stand, float, float] | None:
    """Find where the needle rests furthest behind a resting command.

    Parameters
    ----------
    motion
        Its way.
    beside
        The command laid beside it.
    standing
        Where it stands.

    Returns
    -------
    tuple[Stand, float, float] | None
        The stand, how far behind it is and the uncertainty, deg; None where it follows.
    """
    worst: tuple[Stand, float, float] | None = None
    moves = np.abs(beside.rate_deg_s) > _MOVES_DEG_S
    for stand in standing:
        frames = np.arange(stand.first, stand.last + 1)
        frames = frames[~moves[frames] & (motion.angle_deg[frames] > AT_STOP_DEG)]
        came = np.flatnonzero(moves[: stand.last + 1])
        if len(frames) < _REST_FRAMES or not len(came) or came[0] > frames[0]:
            continue
        if motion.t_s[frames[-1]] - motion.t_s[frames[0]] < _RESTS_S:
            continue
        way = float(np.sign(beside.rate_deg_s[came[came < frames[0]][-1]]))
        behind_deg = -way * float(np.mean(beside.off_deg[frames]))
        u_deg = float(np.median(motion.u_deg[frames]) / np.sqrt(_REST_FRAMES))
        if behind_deg > max(_BEHIND_DEG, _SURE * u_deg, worst[1] if worst else 0.0):
            worst = stand, behind_deg, u_deg
    return worst
