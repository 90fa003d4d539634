"""What counts as right, wrong and how far off: pure functions over needles with known truth.

A needle is *clear* when 0.85 or more of it is visible and its tip is in the frame. It must be
read. A needle that is missing, of another family, or wholly out of sight must be refused. Between
the two (partly covered; a photo too blurred or too dark) a refusal is right, and so is an answer
within one degree.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from scipy.stats import binom, binomtest

from needlewright.families.model import Dial

CLEAR_FRACTION = 0.85
GROSS_DEG = 1.0
COVERAGE_95 = 1.959964
"""Half width of the central 95 % of a normal distribution, in standard deviations."""
BENIGN = frozenset({"straight-on", "tilt-10-20", "rolled", "far", "warm-white-balance"})
STATES = frozenset({"at-rest", "below-zero", "past-full-scale"})
"""Tags of where the needles stand, not of how the photo was taken."""
TOO_BAD = frozenset({"too blurred", "too dark"})

Duty = Literal["read", "either", "refuse"]
Row = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Needle:
    """One dial in one photo: what is true, what may be expected, and what the reader said."""

    family: str
    photo: str
    dial: str
    tags: tuple[str, ...]
    duty: Duty
    why: str
    """Why it need not, or must not, be read; empty for a clear needle."""
    truth_deg: float | None
    """None where there is no needle to read."""
    visible_px: float | None
    """From the hub's edge to the tip, in the photo."""
    angle_deg: float | None = None
    """What the reader says; None: refused."""
    u_deg: float | None = None
    reason: str | None = None

    @property
    def accepted(self) -> bool:
        return self.angle_deg is not None

    @property
    def error_deg(self) -> float | None:
        """Reader minus truth, within half a turn."""
        if self.angle_deg is None or self.truth_deg is None:
            return None
        return (self.angle_deg - self.truth_deg + 180.0) % 360.0 - 180.0

    @property
    def silent(self) -> bool:
        """Accepted and more than a degree off, or accepted where there is no needle."""
        if not self.accepted:
            return False
        error = self.error_deg
        return error is None or abs(error) > GROSS_DEG

    @property
    def handled_rightly(self) -> bool:
        """Read where it must be, refused where it must be, never silently wrong."""
        if self.duty == "read":
            return self.accepted and not self.silent
        return not self.accepted or (self.duty == "either" and not self.silent)


@dataclass(frozen=True, slots=True)
class Times:
    """Seconds of each of some runs, bound to one core."""

    cpu_s: list[float]
    """Spent by the processor: what the run takes when the core does nothing else."""
    wall_s: list[float]


def is_clear(truth: Row, width_px: int, height_px: int) -> bool:
    """Whether a needle is clear, from its entry in truth.json."""
    return truth["needle_visible_fraction"] >= CLEAR_FRACTION and _in_frame(
        truth["tip_px"], width_px, height_px
    )


def duty_of(photo: Row, dial: str) -> tuple[Duty, str]:
    """What is right for one dial of a photo, from the photo's entry in truth.json.

    Returns
    -------
    tuple
        The duty, and why it is not simply to read.
    """
    refuse, only = photo.get("refuse"), photo.get("refuse_dials")
    if refuse is not None and (only is None or dial in only):
        return ("either" if refuse in TOO_BAD else "refuse"), refuse
    truth = photo["dials"][dial]
    width, height = photo["camera"]["width"], photo["camera"]["height"]
    if is_clear(truth, width, height):
        return "read", ""
    if not _in_frame(truth["tip_px"], width, height):
        return ("refuse" if truth["needle_visible_fraction"] == 0 else "either"), "out of frame"
    if truth["needle_visible_fraction"] == 0:
        return "refuse", "wholly covered"
    return "either", "partly covered"


def _in_frame(point_px: Sequence[float], width_px: int, height_px: int) -> bool:
    x, y = point_px
    return 0 <= x <= width_px - 1 and 0 <= y <= height_px - 1


def project(photo: Row, points_mm: np.ndarray) -> np.ndarray:
    """Pixels of face points (x, y, height; shape n x 3), by the pose in truth.json.

    The pose is left-handed with z toward the viewer, as stated; r2 is taken before distortion.
    """
    pose, camera = np.array(photo["pose_world_to_camera"]), photo["camera"]
    seen = points_mm @ pose[:, :3].T + pose[:, 3]
    x, y = seen[:, 0] / seen[:, 2], seen[:, 1] / seen[:, 2]
    bend = 1 + camera["k1"] * (x * x + y * y)
    return np.stack(
        [camera["fx"] * x * bend + camera["cx"], camera["fy"] * y * bend + camera["cy"]], axis=1
    )


def visible_length_px(photo: Row, dial: Dial, angle_deg: float) -> float:
    """Length in the photo from the hub's edge to the tip of a needle at its height."""
    needle, direction = dial.needle, np.radians(angle_deg)
    points = [
        (
            dial.centre_mm[0] + radius_mm * np.sin(direction),
            dial.centre_mm[1] - radius_mm * np.cos(direction),
            needle.height_mm,
        )
        for radius_mm in (needle.hub_radius_mm, needle.length_mm)
    ]
    hub, tip = project(photo, np.array(points))
    return float(np.hypot(*(tip - hub)))


def is_benign(tags: Iterable[str]) -> bool:
    """Whether a photo was taken in none but the benign conditions."""
    conditions = set(tags) - STATES
    return bool(conditions) and conditions <= BENIGN


def summary(needles: Sequence[Needle]) -> Row:
    """Statistics of a group of needles; None where there is nothing to count."""
    clear = [n for n in needles if n.duty == "read"]
    read = [n for n in clear if n.accepted]
    accepted = [n for n in needles if n.accepted]
    errors = np.array([abs(n.error_deg) for n in accepted if n.error_deg is not None])
    silent = sum(n.silent for n in accepted)
    misses, judged = missed_intervals(needles)
    return {
        "clear": len(clear),
        "read": len(read),
        "read_share": len(read) / len(clear) if clear else None,
        "accepted": len(accepted),
        "median_deg": float(np.median(errors)) if len(errors) else None,
        "p95_deg": float(np.percentile(errors, 95)) if len(errors) else None,
        "max_deg": float(errors.max()) if len(errors) else None,
        "silent": silent,
        "silent_bound": upper_bound(silent, len(accepted)),
        "misses": misses,
        "judged": judged,
    }


def missed_intervals(needles: Iterable[Needle]) -> tuple[int, int]:
    """How many stated 95 % intervals miss the truth, and of how many."""
    judged = [n for n in needles if n.error_deg is not None and n.u_deg is not None]
    return sum(abs(n.error_deg) > COVERAGE_95 * n.u_deg for n in judged), len(judged)


def allowed_misses(count: int) -> tuple[int, int]:
    """Central 99 % range of the number of misses of a perfect 95 % interval."""
    low, high = binom.ppf([0.005, 0.995], count, 0.05)
    return int(low), int(high)


def upper_bound(events: int, trials: int) -> float | None:
    """Upper end of the two-sided 95 % Clopper-Pearson interval of a share."""
    if trials == 0:
        return None
    return float(binomtest(events, trials).proportion_ci(0.95, method="exact").high)


def widening_for_coverage(needles: Iterable[Needle]) -> float | None:
    """Factor on every stated uncertainty by which 95 % of these intervals hold the truth."""
    ratios = [
        abs(n.error_deg) / (COVERAGE_95 * n.u_deg)
        for n in needles
        if n.error_deg is not None and n.u_deg
    ]
    return float(np.percentile(ratios, 95)) if ratios else None


def misses_when_widened(needles: Iterable[Needle], factor: float) -> tuple[int, int]:
    """As `missed_intervals`, with every stated uncertainty multiplied."""
    judged = [n for n in needles if n.error_deg is not None and n.u_deg is not None]
    return (
        sum(abs(n.error_deg) > COVERAGE_95 * factor * n.u_deg for n in judged),
        len(judged),
    )


def grouped(
    needles: Iterable[Needle], key: Callable[[Needle], Iterable[str]]
) -> dict[str, list[Needle]]:
    """Needles by each of the keys they have, in the order of first appearance."""
    groups: dict[str, list[Needle]] = {}
    for needle in needles:
        for name in key(needle):
            groups.setdefault(name, []).append(needle)
    return groups


def length_class(needle: Needle) -> str:
    """The class of visible length a needle falls in."""
    if needle.visible_px is None:
        return "no needle"
    for edge in (50, 75, 100, 150, 250):
        if needle.visible_px < edge:
            return f"below {edge} px"
    return "250 px and more"


def error_by_length(needles: Iterable[Needle]) -> float | None:
    """Median of |error| x visible length, in degrees x pixels."""
    products = [
        abs(n.error_deg) * n.visible_px
        for n in needles
        if n.error_deg is not None and n.visible_px is not None
    ]
    return float(np.median(products)) if products else None
