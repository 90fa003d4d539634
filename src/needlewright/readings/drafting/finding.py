"""From rough clicks to the marks of every dial and the plane they lie on.

Dial by dial: the ink about the clicked hub, the marks under the clicks, the marks like them, and
the point they converge at, several times over as the centre grows better. Then all dials together:
the plane's tilt from where marks end. Then once more, in that plane and with finer measures.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.errors import PictureError
from needlewright.readings.drafting.axes import refine
from needlewright.readings.drafting.clicked import CLICK_PX, levels_at, shade_of, wide_ring
from needlewright.readings.drafting.convergence import converge, line_doubt
from needlewright.readings.drafting.even import even_steps
from needlewright.readings.drafting.grouping import (
    Chain,
    chain_of,
    distance_px,
    groups_of,
    like_clicked,
)
from needlewright.readings.drafting.ink import (
    Shade,
    Unrolled,
    angle_of,
    ink_plane,
    unroll,
)
from needlewright.readings.drafting.inputs import TypedDial
from needlewright.readings.drafting.plane import AXIS_PX, DialLines, FittedPlane, fit_plane
from needlewright.readings.drafting.progress import Progress, tell_nobody
from needlewright.readings.drafting.rounds import Round, agrees, find_round
from needlewright.readings.drafting.ticks import Tick, find_ticks
from needlewright.readings.drafting.track import track_points
from needlewright.readings.drafting.view import View
from needlewright.readings.projection import Array, Projection

ROUNDS: Final = 3
FITS: Final = (False, True)
"""Fits of the plane after looks in it: whether each is the last, in which even spacing counts."""
CLICK_SHARE: Final = 0.03
"""How far from a mark its click may be on a large dial, in the dial's radius."""
LOOK_INSIDE: Final = 0.66
"""How far inside the ring the ink is unrolled: a needle shows there."""
SLACK: Final = 0.06
TIGHT: Final = 0.012
"""How far the ends of marks may lie outside those clicked, in radii: at first, and in the plane."""
MOST_TILT_DEG: Final = 35.0
FARTHEST: Final = 0.3
"""How far from the clicked hub marks may converge, in radii."""


@dataclass(frozen=True, slots=True)
class FoundDial:
    """The marks of one dial in one picture."""

    typed: TypedDial
    shade: Shade
    centre: Array
    """(2,), on the plane."""
    covariance: Array
    """2 x 2."""
    chain: Chain


@dataclass(frozen=True, slots=True)
class FoundFace:
    """The marks of all dials, and the plane."""

    dials: tuple[FoundDial, ...]
    plane: FittedPlane


@dataclass(frozen=True, slots=True)
class _Seen:
    """A dial while it is looked for."""

    typed: TypedDial
    shade: Shade
    centre: Array
    ring: tuple[float, float] | None = None
    slack: float = SLACK
    chain: Chain | None = None
    track_px: Array | None = None
    round: Round | None = None


def find_dials(
    pixels: NDArray[np.uint8],
    typed: Sequence[TypedDial],
    view: View,
    *,
    focal_stated: bool,
    flat: bool = False,
    bare: bool = False,
    on_progress: Progress = tell_nobody,
) -> FoundFace:
    """Find the marks of every dial.

    Parameters
    ----------
    pixels
        The picture that was clicked in, height x width x 3, blue, green, red.
    typed
        Clicks and values.
    view
        The plane before anything is known of it (`plane.first_view`).
    focal_stated
        Whether the focal length came with the picture.
    flat
        A scan, or a rectified face: nothing is tilted.
    bare
        Every needle is pulled, hubs too: what is printed round a hub can be seen.
    on_progress
        Told after each look at a dial.

    Returns
    -------
    FoundFace
        Marks, centres and the plane.

    Raises
    ------
    PictureError
        One sentence: which dial, which click, what to do.
    """
    planes: dict[Shade, NDArray[np.uint8]] = {
        "light": ink_plane(pixels, "light"),
        "dark": ink_plane(pixels, "dark"),
    }
    seen = [
        _Seen(
            dial,
            shade_of(planes, dial, view.projection),
            view.projection.to_face(np.array(dial.hub_px)),
        )
        for dial in typed
    ]
    looks = _Looks(pixels, planes, on_progress, (ROUNDS + len(FITS)) * len(seen))
    for number in range(ROUNDS):
        seen = [looks(each, view.projection, finely=number > 0) for each in seen]
        seen = [_converged(each, view.projection) for each in seen]
    plane = _fit(seen, view, focal_stated=focal_stated, flat=flat, final=False)
    for final in FITS:
        _check_tilt(plane, flat=flat)
        projection = plane.view.projection
        seen = [
            _in_plane(s, centre, view.projection, projection)
            for s, centre in zip(seen, plane.centres, strict=True)
        ]
        seen = [looks(each, projection, finely=True) for each in seen]
        if bare and final:
            seen = _with_rounds(seen, pixels, plane)
        view = plane.view
        plane = _fit(seen, view, focal_stated=focal_stated, flat=flat, final=final)
    dials = [
        FoundDial(s.typed, s.shade, centre, covariance, s.chain)
        for s, centre, covariance in zip(seen, plane.centres, plane.covariances, strict=True)
        if s.chain is not None
    ]
    return FoundFace(tuple(dials), plane)


class _Looks:
    """Looks at dials in one picture, each told when it is done."""

    def __init__(
        self,
        pixels: NDArray[np.uint8],
        planes: dict[Shade, NDArray[np.uint8]],
        on_progress: Progress,
        count: int,
    ) -> None:
        self._pixels, self._planes = pixels, planes
        self._tell, self._done, self._count = on_progress, 0, count

    def __call__(self, seen: _Seen, projection: Projection, *, finely: bool) -> _Seen:
        found = _look(self._pixels, self._planes[seen.shade], seen, projection, finely)
        self._done += 1
        self._tell("marks", self._done, self._count)
        return found


def _look(
    pixels: NDArray[np.uint8],
    plane: NDArray[np.uint8],
    seen: _Seen,
    projection: Projection,
    finely: bool,
) -> _Seen:
    """Find the marks of one dial about its present centre."""
    dial = seen.typed
    at = projection.to_face(np.array([mark.at_px for mark in dial.marks]))
    radii = np.linalg.norm(at - seen.centre, axis=1)
    ring = seen.ring or wide_ring(radii)
    unrolled = unroll(plane, projection, seen.centre, (LOOK_INSIDE * ring[0], 1.02 * ring[1]))
    level = float(levels_at(unrolled, at).min())
    slack = seen.slack * float(radii.mean()) / 2 + 2.0
    ticks, clicked = _clicked(unrolled, projection, dial, (ring, slack), level)
    turned = _turned_deg(ticks, projection, seen.centre)
    likely = like_clicked(ticks, clicked, 2 * slack, turned)
    kept = [tick for tick, ok in zip(ticks, likely, strict=True) if ok or tick in clicked]
    chain = chain_of(kept, clicked, [mark.value for mark in dial.marks])
    if chain is None:
        raise PictureError(
            f"dial '{dial.id}': only {len(kept)} marks are found about the clicked hub, at least "
            "three are needed; check the clicks, or measure this dial by hand and type its "
            "family.json"
        )
    if finely:
        chain = replace(chain, ticks=tuple(refine(tick, pixels) for tick in chain.ticks))
    inner, outer = min(t.inner for t in clicked), max(t.outer for t in clicked)
    track = None
    if finely:
        track = track_points(pixels, (seen.shade, plane, level), projection, seen.centre, chain)
    return replace(seen, chain=chain, ring=(inner, outer), track_px=track)


def _clicked(
    unrolled: Unrolled,
    projection: Projection,
    dial: TypedDial,
    where: tuple[tuple[float, float], float],
    level: float,
) -> tuple[list[Tick], list[Tick]]:
    """All ticks of the ring, and the one under each click; numerals may hide one of them at first.

    Where a mark runs into a numeral the two are one thing in a wide ring. The ring of the marks
    that stand free parts them.
    """
    ring, slack = where
    reach = max(CLICK_PX, CLICK_SHARE * (ring[0] + ring[1]) / 2)
    ticks = find_ticks(unrolled, projection, ring, level)
    free = [t for mark in dial.marks for t in ticks if distance_px(t, np.array(mark.at_px)) < reach]
    if free:
        narrow = (min(t.inner for t in free) - slack, max(t.outer for t in free) + slack)
        ticks = find_ticks(unrolled, projection, narrow, level)
    clicked = []
    for mark in dial.marks:
        at = np.array(mark.at_px)
        near = [t for t in ticks if distance_px(t, at) < reach]
        if not near:
            raise PictureError(
                f"dial '{dial.id}': no mark that points at the hub is found within {reach:.0f} px "
                f"of the click for {mark.value:g} at {at[0]:.0f}, {at[1]:.0f}; click on the middle "
                "of the mark, or choose one that no needle or numeral touches"
            )
        best = max(near, key=lambda t: t.area * np.exp(-distance_px(t, at) / (0.8 * CLICK_PX)))
        if best in clicked:
            raise PictureError(
                f"dial '{dial.id}': the click for {mark.value:g} at {at[0]:.0f}, {at[1]:.0f} meets "
                "the same mark as another click; click on two different marks"
            )
        clicked.append(best)
    return ticks, clicked


def ends_on_plane(ticks: Sequence[Tick], projection: Projection) -> tuple[Array, Array]:
    """Inner and outer ends of ticks on the plane, (n, 2) each."""
    inner = projection.to_face(np.array([tick.inner_px for tick in ticks]).reshape(-1, 2))
    outer = projection.to_face(np.array([tick.outer_px for tick in ticks]).reshape(-1, 2))
    return inner, outer


def _turned_deg(ticks: Sequence[Tick], projection: Projection, centre: Array) -> Array:
    """By how much each tick's axis is turned from the direction to the centre."""
    inner, outer = ends_on_plane(ticks, projection)
    along, out = outer - inner, (inner + outer) / 2 - centre
    cross = along[:, 0] * out[:, 1] - along[:, 1] * out[:, 0]
    sizes = np.linalg.norm(along, axis=1) * np.linalg.norm(out, axis=1)
    return np.asarray(np.degrees(np.arcsin(np.clip(np.abs(cross) / sizes, 0, 1))))


def _converged(seen: _Seen, projection: Projection) -> _Seen:
    """The dial about the point its marks converge at."""
    if seen.chain is None:
        return seen
    inner, outer = ends_on_plane(seen.chain.ticks, projection)
    radius = float(np.median(np.linalg.norm(outer - seen.centre, axis=1)))
    met = converge(inner, outer, line_doubt(inner, outer, AXIS_PX, seen.centre))
    if met is None or np.sqrt(np.linalg.eigvalsh(met.covariance)[-1]) > 0.1 * radius:
        raise PictureError(
            f"dial '{seen.typed.id}': its {len(inner)} marks do not converge at one point; "
            "click on marks that are lines, further apart along the scale"
        )
    hub = projection.to_face(np.array(seen.typed.hub_px))
    off = float(np.linalg.norm(met.centre - hub))
    if off > FARTHEST * radius:
        raise PictureError(
            f"dial '{seen.typed.id}': its marks converge {off:.0f} px from the clicked hub; click "
            "on the middle of the hub and on marks of this dial; a face whose marks are no lines "
            "is measured by hand"
        )
    return replace(seen, centre=met.centre)


def _check_tilt(plane: FittedPlane, *, flat: bool) -> None:
    if not flat and plane.view.tilt_deg > MOST_TILT_DEG:
        raise PictureError(
            f"the photo is taken {plane.view.tilt_deg:.0f} degrees from straight above, at most "
            f"{MOST_TILT_DEG:g} can be drafted from; take one from straight above"
        )


def _in_plane(seen: _Seen, centre: Array, before: Projection, now: Projection) -> _Seen:
    """A dial carried over to another plane, its ring tightened about the clicked marks there."""
    if seen.chain is None:
        return seen
    clicked = [seen.chain.ticks[i] for i in seen.chain.clicked]
    inner, outer = ends_on_plane(clicked, now)
    low = float(np.linalg.norm(inner - centre, axis=1).min())
    high = float(np.linalg.norm(outer - centre, axis=1).max())
    ring = ((1 - TIGHT) * low - 1.0, (1 + TIGHT) * high + 1.5)
    return replace(seen, centre=centre, ring=ring, slack=TIGHT)


def _with_rounds(
    seen: Sequence[_Seen], pixels: NDArray[np.uint8], plane: FittedPlane
) -> list[_Seen]:
    """Dials with what is printed round their hubs, where it is about the same point."""
    projection, result = plane.view.projection, []
    for each, covariance in zip(seen, plane.covariances, strict=True):
        found = None
        if each.ring is not None:
            found = find_round(pixels, projection, each.centre, each.ring)
        if found is not None and not agrees(found, projection, each.centre, covariance):
            found = None
        result.append(replace(each, round=found))
    return result


def _fit(
    seen: Sequence[_Seen], view: View, *, focal_stated: bool, flat: bool, final: bool
) -> FittedPlane:
    lines = []
    for each in seen:
        if each.chain is None:
            continue
        ticks = each.chain.ticks
        inner, outer = ends_on_plane(ticks, view.projection)
        middle = (inner + outer) / 2
        radius = float(np.median(np.linalg.norm(middle - each.centre, axis=1)))
        angles = np.unwrap(angle_of(each.centre, middle), period=360.0)
        lines.append(
            DialLines(
                np.array([tick.inner_px for tick in ticks]),
                np.array([tick.outer_px for tick in ticks]),
                groups_of(each.chain),
                np.array([tick.seen for tick in ticks]),
                np.array([tick.clean for tick in ticks]),
                even_steps(angles, radius) if final else None,
                each.track_px,
                each.round,
            )
        )
    centres = np.array([each.centre for each in seen])
    return fit_plane(lines, centres, view, focal_stated=focal_stated, flat=flat)
