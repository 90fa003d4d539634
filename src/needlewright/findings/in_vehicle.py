"""Does a cluster show what it is told? Photos of the dashboard beside the diagnostic port.

Two explanations of a dial's rows are weighed: a sound unit, whose needle stands anywhere within
what programme and rule allow, and a wrong one, in the ways needles are wrong. Derivation:
docs/decisions/0054.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, sqrt
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from needlewright.families.model import Dial
from needlewright.findings.evidence import Evidence
from needlewright.findings.port_and_photo import Look, PortRow, compare
from needlewright.findings.wording import share_words
from needlewright.rules.decision import COVERAGE_K
from needlewright.signals.port_log.dial_pid import FedBy, fed_by, pid_of
from needlewright.units import unit_for_people

Array = NDArray[np.float64]
Verdict = Literal["shows_what_it_is_told", "does_not", "undecided", "not_comparable"]

FINDING: Final = "port_is_right"
TOGETHER: Final = "wrong_together"
SURE: Final = 0.9
"""Probability from which a sentence names one side (common practice, no source)."""
MOST: Final = 200.0
"""Largest ratio of likelihoods that is claimed: what the error rate measured on drawn cases bears
out (docs/in-vehicle.md)."""
BROKEN: Final = 0.02
"""Probability that the comparison itself is broken: a clock set wrongly, another vehicle's log
(common practice, no source)."""
MISREAD: Final = 0.002
"""Probability that one needle was grossly misread (common practice, no source; of the drawn photos
the reader is measured with, it misread none)."""
OFFSET_DEG: Final = 8.0
"""Mean of how far beyond the tolerance a needle stands that is off by the same everywhere."""
GAIN: Final = 0.3
"""Spread (k = 1) of the logarithm of a wrong scale factor."""
WAYS: Final = {"offset": 0.4, "gain": 0.2, "anywhere": 0.2, "stuck": 0.2}
"""How often a wrong dial is wrong in which way (common practice, no source)."""
SHARED: Final = (
    "The port's value comes from the control unit that feeds the cluster too: a wrong sender makes "
    "both wrong alike, and this check does not see it."
)


@dataclass(frozen=True, slots=True)
class DialInVehicle:
    """What the photos of one log say of one dial."""

    dial: str
    unit: str
    pid: int | None
    """Number of OBD-II mode 01; None: the port has none for this dial."""
    fed_by: FedBy
    rows: tuple[PortRow, ...]
    verdict: Verdict
    words: str
    """For people."""
    ratio: float | None = None
    """How much likelier the rows are with a dial that shows something else; None: nothing to
    compare."""
    size_deg: float | None = None
    """Where the needle stands less where it should, clockwise, over the comparable photos."""
    u_size_deg: float | None = None

    @property
    def probability(self) -> float | None:
        """That the dial shows what it is told, where both were equally likely beforehand."""
        return None if self.ratio is None else 1.0 / (1.0 + self.ratio)


def judge_in_vehicle(
    dial: Dial, looks: Sequence[Look], ecc_mm: float, *, max_speed: float | None = None
) -> DialInVehicle:
    """Judge one dial by every photo of one log.

    Parameters
    ----------
    dial
        The dial.
    looks
        One for each photo.
    ecc_mm
        Standard deviation of shaft to printed centre.
    max_speed
        The vehicle's maximum design speed in the speedometer's unit.

    Returns
    -------
    DialInVehicle
        Verdict, ratio and sentence.

    Raises
    ------
    RuleError
        If the dial's rule does not fit it.
    """
    pid, feeding = pid_of(dial), fed_by(dial)
    if pid is None:
        words = f"not comparable: mode 01 of the port has no number for {dial.quantity}"
        return DialInVehicle(dial.id, dial.unit, None, feeding, (), "not_comparable", words)
    rows = tuple(compare(dial, look, ecc_mm, max_speed=max_speed) for look in looks)
    known = [row for row in rows if row.comparable]
    if not known:
        why = "; ".join(dict.fromkeys(row.why_not or "" for row in rows)) or "no photo"
        words = f"not comparable: {why}"
        return DialInVehicle(dial.id, dial.unit, pid.number, feeding, rows, "not_comparable", words)
    ratio = _ratio(dial, known)
    size, u_size = _mean(known)
    sound = 1.0 / (1.0 + ratio)
    verdict: Verdict = "undecided"
    if sound >= SURE:
        verdict = "shows_what_it_is_told"
    elif sound <= 1.0 - SURE:
        verdict = "does_not"
    return DialInVehicle(
        dial=dial.id,
        unit=dial.unit,
        pid=pid.number,
        fed_by=feeding,
        rows=rows,
        verdict=verdict,
        words=_words(dial, feeding, known, verdict, sound) + _unseen(known, verdict, u_size),
        ratio=ratio,
        size_deg=dial.scale.sense * size,
        u_size_deg=u_size,
    )


def evidence_in_vehicle(judged: Sequence[DialInVehicle], seen_in: str) -> tuple[Evidence, ...]:
    """What a check in the vehicle says of causes.

    Parameters
    ----------
    judged
        Its dials.
    seen_in
        Name of the check, for people.

    Returns
    -------
    tuple of Evidence
        For and against `port_is_right`: the port says the right value while the dial shows a wrong
        one. A dial on a wire of its own that disagrees gives none: its own sender may be the one
        that is wrong. Then, of the whole, for or against `wrong_together`: that all dials are
        wrong at once. The dial that is soundest speaks for all: with it right, not all are wrong;
        only where it too is wrong, of two at least, are they wrong together.
    """
    found = []
    for one in judged:
        if one.ratio is None or (one.fed_by == "own_wire" and one.ratio > 1.0):
            continue
        found.append(
            Evidence(
                finding=FINDING,
                dial=one.dial,
                ratio=one.ratio,
                words=one.words,
                seen_in=seen_in,
                size=one.size_deg,
                u_size=one.u_size_deg,
                unit="deg",
            )
        )
    return (*found, *_together(found))


def _together(found: Sequence[Evidence]) -> tuple[Evidence, ...]:
    """For or against all being wrong at once; nothing of one wrong dial alone."""
    soundest = min(found, key=lambda one: one.ratio, default=None)
    if soundest is None or soundest.ratio == 1.0 or (soundest.ratio > 1.0 and len(found) < 2):
        return ()
    words = f"all {len(found)} gauges that could be compared are wrong at once"
    if soundest.ratio < 1.0:
        words = f"not all gauges are wrong at once: {soundest.dial} shows what it is told"
    return (Evidence(TOGETHER, None, soundest.ratio, words, soundest.seen_in),)


def _ratio(dial: Dial, rows: Sequence[PortRow]) -> float:
    """Likelihood of the rows with a wrong dial over that with a sound one, within `MOST`."""
    error = np.array([row.error_deg for row in rows], dtype=np.float64)
    u = np.array([row.u_error_deg for row in rows], dtype=np.float64)
    seen = np.array([row.seen_deg for row in rows], dtype=np.float64)
    low = np.array([row.low_deg for row in rows])
    high = np.array([row.high_deg for row in rows])
    travel = 2.0 * dial.scale.reach_deg + 2.0 * dial.scale.beyond_deg
    flat = 1.0 / travel

    def of(means: Array) -> Array:
        """Likelihood of all rows for each line of means, states x rows."""
        near = np.exp(-0.5 * ((error - means) / u) ** 2) / (u * sqrt(2 * np.pi))
        return np.asarray(((1 - MISREAD) * near + MISREAD * flat).prod(axis=-1))

    share = (np.arange(80)[:, None] + 0.5) / 40 - 1.0
    sound = float(of(np.where(share < 0, share * low, share * high)).mean())
    beyond = -OFFSET_DEG * np.log1p(-(np.arange(400) + 0.5) / 400)[:, None]
    offset = float((of(high + beyond).mean() + of(-low - beyond).mean()) / 2)
    zero = dial.scale.sense * dial.scale.angles_deg[0]
    should = seen - error
    factor = np.exp(GAIN * np.linspace(-3, 3, 401))[:, None]
    weight = np.exp(-0.5 * np.linspace(-3, 3, 401) ** 2)
    gain = float(np.average(of((factor - 1) * (should - zero)), weights=weight))
    anywhere = flat ** len(rows)
    at = zero - dial.scale.beyond_deg + (np.arange(1500)[:, None] + 0.5) / 1500 * travel
    stuck = float(of(at - should).mean())
    ways = {"offset": offset, "gain": gain, "anywhere": anywhere, "stuck": stuck}
    wrong = sum(WAYS[name] * likely for name, likely in ways.items())
    broken = BROKEN * anywhere
    ratio = ((1 - BROKEN) * wrong + broken) / ((1 - BROKEN) * sound + broken)
    return float(min(max(ratio, 1.0 / MOST), MOST))


def _mean(rows: Sequence[PortRow]) -> tuple[float, float]:
    """Weighted mean of the errors and its standard uncertainty, widened where they scatter."""
    errors = np.array([row.error_deg for row in rows], dtype=np.float64)
    weights = np.array([row.u_error_deg for row in rows], dtype=np.float64) ** -2.0
    mean = float(np.average(errors, weights=weights))
    u = float(weights.sum() ** -0.5)
    if len(rows) > 1:
        scatter = float((weights * (errors - mean) ** 2).sum() / (len(rows) - 1))
        u *= max(1.0, sqrt(scatter))
    return mean, u


def _words(
    dial: Dial, feeding: FedBy, rows: Sequence[PortRow], verdict: Verdict, sound: float
) -> str:
    # the photo that says most stands for the others
    telling = max(rows, key=lambda row: abs(row.error_deg or 0.0) / (row.u_error_deg or 1.0))
    what = _told_shown(dial, telling)
    if len(rows) > 1:
        what = f"over {len(rows)} photos, the most different: {what}"
    if verdict == "shows_what_it_is_told":
        then = "the cluster shows what it is told: test the sender, not the cluster"
        if feeding == "own_wire":
            then = (
                "the cluster shows what the port says, though it has a wire of its own: that wire, "
                "its sender and the cluster agree with the port"
            )
    elif verdict == "does_not":
        then = "the cluster"
        if feeding == "own_wire":
            then = "the cluster, or the sender and wire of its own that this dial has"
        elif feeding == "not_stated":
            then = "the cluster, if it is told by the bus (the family does not say)"
    else:
        then = f"undecided, {share_words(sound)} for a cluster that shows what it is told"
    return f"{what}: {then}"


def _unseen(rows: Sequence[PortRow], verdict: Verdict, u_size: float) -> str:
    """What a sound verdict does not cover: faults beyond the tolerance, but within U."""
    expanded = COVERAGE_K * u_size
    room = min((row.low_deg + row.high_deg) / 2 for row in rows)
    if verdict != "shows_what_it_is_told" or expanded <= room:
        return ""
    return (
        f"; no gross fault is seen, but faults smaller than about {expanded:.1f} degrees of needle "
        f"cannot be seen here, and a sound unit keeps within {room:.1f}: not decidable within the "
        "tolerance"
    )


def _told_shown(dial: Dial, row: PortRow) -> str:
    unit = unit_for_people(dial.unit)
    told, expected = row.told or 0.0, row.expected or 0.0
    places = _places(hypot(row.u_told or 0.0, row.u_shown or 0.0), dial.scale.span)
    said = f"told {told:.{places}f} {unit}"
    if row.shown is None or row.u_shown is None:
        return f"{said}, shows a place beyond the scale where {expected:.{places}f} is right"
    shown = f"{row.shown:.{places}f} ± {2 * row.u_shown:.{places}f}"
    return f"{said}, shows {shown} where {expected:.{places}f} is right"


def _places(u: float, span: float) -> int:
    """Decimals that show half of an uncertainty, three at most."""
    step = max(u, span / 1000) / 2
    return int(np.clip(np.ceil(-np.log10(step)), 0, 3))
