"""How the face's plane lies before the camera, from its marks alone.

The marks of a dial point at its centre and end on circles about it. Seen from the side they still
point at the centre's image, but circles become ellipses about another point, nearer on the far
side: that tells the tilt of the plane, from one photo, with nothing measured. Four numbers are
shared by all dials (tilt about x and y, focal length, one radial term of the lens), each dial adds
its centre and the radii its marks end at. Plane coordinates are pixels of the photo at its middle.

Source: derivation in docs/decisions/0040-drafting.md.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.readings.drafting.convergence import line_doubt
from needlewright.readings.drafting.descent import descend
from needlewright.readings.drafting.rounds import Round
from needlewright.readings.drafting.view import View
from needlewright.readings.projection import Array
from needlewright.readings.viewpoint import FOCAL_SPREAD

STATED_FOCAL_SPREAD: Final = 0.05
"""Standard deviation of the logarithm of a focal length that came with the photo."""
TILT_SPREAD: Final = 0.5
"""Prior standard deviation of a photo's tilt, radians: next to nothing is known."""
RADIAL_SPREAD: Final = 0.015
"""Prior standard deviation of the radial term at the half diagonal."""
AXIS_PX: Final = 0.15
"""Standard deviation of a mark's axis about what was printed, for points a pixel apart."""
END_PX: Final = 0.1
"""Standard deviation of where a mark is seen to end."""
PLACE_PX: Final = 0.06
"""Standard deviation of a mark's place along its circle."""
TRACK_PX: Final = 0.15
"""Standard deviation of a point of the line that marks stand on."""
TRACK_LEAST_PX: Final = 0.1
"""However well its points agree: they err together, along one stretch of blur and light."""
OUTLIER: Final = 4.0
"""Standard deviations, of all ends or lines, beyond which one is left out."""
SHARED: Final = 4
WEIGHINGS: Final = 3


@dataclass(frozen=True, slots=True)
class DialLines:
    """The marks of one dial as the fit takes them: ends in pixels of the photo.

    Parameters
    ----------
    inner_px, outer_px
        (n, 2).
    group
        (n,), marks of one group end on the same two circles.
    """

    inner_px: Array
    outer_px: Array
    group: NDArray[np.intp]
    seen: Array
    """(n,), share of each mark's length that its line was measured on."""
    clean: NDArray[np.bool_]
    """(n, 2), whether each mark's inner and outer end stand free."""
    steps: Array | None = None
    """(n,), which step of an evenly divided scale each mark stands at; None: not even."""
    track_px: Array | None = None
    """(m, 2), points of the line the marks stand on; None: there is none."""
    round: Round | None = None
    """What is printed all round the hub; None: nothing, or nobody looked."""


@dataclass(frozen=True, slots=True)
class FittedPlane:
    """What the marks of all dials say of the plane and of their own centres."""

    view: View
    centres: Array
    """(dials, 2), on the plane."""
    covariances: Array
    """(dials, 2, 2)."""
    tilt_doubt_deg: float
    """Standard uncertainty of the tilt (the larger of its two axes)."""
    line_rms_px: float
    """Of the lines' distances from their centres over what their lengths allow, times `AXIS_PX`."""
    end_rms_px: float
    """Of the ends about their circles."""


def fit_plane(
    dials: Sequence[DialLines],
    centres: Array,
    view: View,
    *,
    focal_stated: bool,
    flat: bool = False,
) -> FittedPlane:
    """Fit the plane and the centres.

    Parameters
    ----------
    dials
        Their marks.
    centres
        (dials, 2), first guesses on the plane of `view`.
    view
        First guess of the plane.
    focal_stated
        Whether the focal length came with the photo.
    flat
        A scan: there is no camera, and only the centres are sought.

    Returns
    -------
    FittedPlane
        Fitted twice: robustly, then by plain least squares without the outliers.
    """
    problem = _Problem.of(dials, view, focal_stated=focal_stated, flat=flat)
    start = problem.start(centres)
    scales = problem.scales(start)
    least = descend(problem.residuals, start, scales, robust=True)
    for _ in range(WEIGHINGS):
        problem = problem.weighed(least.x)
        least = descend(problem.residuals, least.x, scales, robust=False)
    return problem.fitted(least.x, least.jacobian)


class _Ends:
    """Points of the photo laid on the plane; kept while only centres and radii are moved."""

    def __init__(self, points_px: Array) -> None:
        self._points_px = points_px
        self._view: View | None = None
        self._points = points_px

    def on_plane(self, view: View) -> Array:
        if view != self._view:
            self._points = view.projection.to_face(self._points_px)
            self._view = view
        return self._points


@dataclass(frozen=True, slots=True)
class _Problem:
    """Ends of all marks stacked, and which dial and circles each belongs to."""

    inner_px: Array
    outer_px: Array
    dial: NDArray[np.intp]
    circle: NDArray[np.intp]
    count: int
    circles: int
    view: View
    focal_stated: bool
    flat: bool
    seen: Array
    clean: NDArray[np.bool_]
    use_line: NDArray[np.bool_]
    use_inner: NDArray[np.bool_]
    use_outer: NDArray[np.bool_]
    even: tuple[tuple[NDArray[np.intp], Array], ...]
    """Of each evenly divided dial: its marks, and their steps about their mean."""
    track_px: Array
    """(m, 2), points of all lines that marks stand on."""
    track: NDArray[np.intp]
    """(m,), whose line."""
    use_track: NDArray[np.bool_]
    rounds: tuple[tuple[int, Round], ...]
    """What is printed round a hub, and round whose."""
    ends: "_Ends"
    axis_px: float = AXIS_PX
    end_px: float = END_PX
    place_px: float = PLACE_PX
    spread_px: float = TRACK_PX

    @classmethod
    def of(
        cls, dials: Sequence[DialLines], view: View, *, focal_stated: bool, flat: bool
    ) -> "_Problem":
        circle, dial, before, even = [], [], 0, []
        for number, lines in enumerate(dials):
            names, which = np.unique(lines.group, return_inverse=True)
            circle.append(which + before)
            dial.append(np.full(len(which), number))
            before += len(names)
            if lines.steps is not None:
                first = sum(len(other.group) for other in dials[:number])
                marks = first + np.arange(len(lines.group))
                even.append((marks, lines.steps - lines.steps.mean()))
        tracks = [(n, lines.track_px) for n, lines in enumerate(dials)]
        points = [(n, at) for n, at in tracks if at is not None]
        total = sum(len(lines.group) for lines in dials)
        everything = np.ones(total, dtype=bool)
        clean = np.concatenate([lines.clean for lines in dials])
        inner = np.concatenate([lines.inner_px for lines in dials])
        outer = np.concatenate([lines.outer_px for lines in dials])
        track = np.concatenate([np.zeros((0, 2)), *(at for _, at in points)])
        return cls(
            inner,
            outer,
            np.concatenate(dial),
            np.concatenate(circle),
            len(dials),
            before,
            view,
            focal_stated,
            flat,
            np.concatenate([lines.seen for lines in dials]),
            clean,
            everything,
            clean[:, 0],
            clean[:, 1],
            tuple(even),
            track,
            np.concatenate([np.zeros(0, int), *(np.full(len(at), n) for n, at in points)]),
            np.ones(len(track), dtype=bool),
            tuple((n, one.round) for n, one in enumerate(dials) if one.round is not None),
            _Ends(np.concatenate([inner, outer, track])),
        )

    def start(self, centres: Array) -> Array:
        inner, outer = self._on_plane(self.view)
        own = centres[self.dial]
        radii = [np.linalg.norm(ends - own, axis=1) for ends in (inner, outer)]
        circles = [
            float(np.median(radius[self.circle == k]))
            for radius in radii
            for k in range(self.circles)
        ]
        shared = [*self.view.tilt, np.log(self.view.focal_px), self.view.radial]
        return np.array([*shared, *centres.ravel(), *circles])

    def scales(self, start: Array) -> Array:
        scales = np.ones_like(start)
        scales[:SHARED] = (0.01, 0.01, 0.05, 0.01)
        return scales

    def view_of(self, x: Array) -> View:
        if self.flat:
            return self.view
        return View((float(x[0]), float(x[1])), float(np.exp(x[2])), float(x[3]), self.view.size_px)

    def residuals(self, x: Array) -> Array:
        lines, inner, outer = self._misses(x)
        used = [lines[self.use_line], inner[self.use_inner], outer[self.use_outer]]
        spread = STATED_FOCAL_SPREAD if self.focal_stated else FOCAL_SPREAD
        priors = [
            x[0] / TILT_SPREAD,
            x[1] / TILT_SPREAD,
            (x[2] - np.log(self.view.focal_px)) / spread,
            x[3] / RADIAL_SPREAD,
        ]
        track = self._off_track(x)[self.use_track]
        return np.concatenate([*used, track, *self._uneven(x), *self._off_round(x), priors])

    def _off_round(self, x: Array) -> list[Array]:
        """Centres beside those of what is printed round them, in standard deviations."""
        if not self.rounds:
            return []
        own = x[SHARED : SHARED + 2 * self.count].reshape(-1, 2)
        projection = self.view_of(x).projection
        return [(own[n] - one.centre(projection)) / one.doubt for n, one in self.rounds]

    def _uneven(self, x: Array) -> list[Array]:
        """Marks beside the places of an even division, in standard deviations."""
        if not self.even:
            return []
        inner, outer = self._on_plane(self.view_of(x))
        out = (inner + outer) / 2 - x[SHARED : SHARED + 2 * self.count].reshape(-1, 2)[self.dial]
        misses = []
        for marks, steps in self.even:
            turn = np.unwrap(np.arctan2(out[marks, 0], -out[marks, 1]))
            pitch = float(steps @ turn) / float(steps @ steps)
            radius = float(np.median(np.linalg.norm(out[marks], axis=1)))
            misses.append((turn - turn.mean() - pitch * steps) * radius / self.place_px)
        return misses

    def _misses(self, x: Array) -> tuple[Array, Array, Array]:
        """Lines past their centres and ends off their circles, in standard deviations."""
        inner, outer = self._on_plane(self.view_of(x))
        own = x[SHARED : SHARED + 2 * self.count].reshape(-1, 2)[self.dial]
        along = outer - inner
        length = np.maximum(np.linalg.norm(along, axis=1), 1e-9)
        out = inner - own
        past = (along[:, 0] * out[:, 1] - along[:, 1] * out[:, 0]) / length
        radii = x[SHARED + 2 * self.count :].reshape(2, self.circles)[:, self.circle]
        return (
            past / line_doubt(inner, outer, self.axis_px, own, self.seen),
            (np.linalg.norm(out, axis=1) - radii[0]) / self.end_px,
            (np.linalg.norm(outer - own, axis=1) - radii[1]) / self.end_px,
        )

    def _on_plane(self, view: View) -> tuple[Array, Array]:
        points = self.ends.on_plane(view)
        count = len(self.inner_px)
        return points[:count], points[count : 2 * count]

    def _off_track(self, x: Array) -> Array:
        """Points of the lines off their circles, in standard deviations.

        A circle's best radius is the mean distance from its centre: it needs no number of its own.
        """
        points = self.ends.on_plane(self.view_of(x))[2 * len(self.inner_px) :]
        own = x[SHARED : SHARED + 2 * self.count].reshape(-1, 2)[self.track]
        distance = np.linalg.norm(points - own, axis=1)
        off = np.zeros(len(points))
        for dial in np.unique(self.track):
            mine = self.track == dial
            used = mine & self.use_track
            off[mine] = distance[mine] - (distance[used].mean() if used.any() else 0.0)
        return off / self.spread_px

    def weighed(self, x: Array) -> "_Problem":
        """Outliers left out, and lines and ends weighed by how well they in fact agree."""
        lines, inner, outer = self._misses(x)
        used = [
            np.abs(miss) < OUTLIER * max(1.4826 * float(np.median(np.abs(miss))), 0.3)
            for miss in (lines, inner, outer)
        ]
        used = [used[0], used[1] & self.clean[:, 0], used[2] & self.clean[:, 1]]
        ends = np.concatenate([inner[used[1]], outer[used[2]]])
        uneven = np.concatenate([np.zeros(0), *self._uneven(x)])
        off = self._off_track(x)
        on_track = np.abs(off) < OUTLIER * max(1.4826 * float(np.median(np.abs([0, *off]))), 0.3)
        return replace(
            self,
            use_line=used[0],
            use_inner=used[1],
            use_outer=used[2],
            axis_px=self.axis_px * max(_rms(lines[used[0]]), 0.2),
            end_px=self.end_px * max(_rms(ends), 0.2),
            use_track=on_track,
            spread_px=max(self.spread_px * _rms(off[on_track]), TRACK_LEAST_PX),
            place_px=self.place_px * max(_rms(uneven), 0.2) if len(uneven) else PLACE_PX,
        )

    def fitted(self, x: Array, jacobian: Array) -> FittedPlane:
        lines, inner, outer = self._misses(x)
        ends = np.concatenate([inner[self.use_inner], outer[self.use_outer]])
        used = np.concatenate([lines[self.use_line], ends])
        free = max(len(used) - len(x), 1)
        covariance = np.linalg.pinv(jacobian.T @ jacobian) * max(float(used @ used) / free, 1.0)
        at = SHARED + 2 * np.arange(self.count)
        return FittedPlane(
            self.view_of(x),
            x[SHARED : SHARED + 2 * self.count].reshape(-1, 2),
            np.stack([covariance[i : i + 2, i : i + 2] for i in at]),
            0.0 if self.flat else float(np.degrees(np.sqrt(np.diag(covariance)[:2].max()))),
            self.axis_px * _rms(lines[self.use_line]),
            self.end_px * _rms(ends),
        )


def _rms(values: Array) -> float:
    return float(np.sqrt(np.mean(values**2))) if len(values) else 1.0
