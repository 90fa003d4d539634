"""What lamps give in a burn-in, and whether one goes out or comes and goes while it is watched."""

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.bench.burn_in.noticed import Noticed
from needlewright.families.lamps import Lamp
from needlewright.families.model import Family
from needlewright.readings.frame import Pixels
from needlewright.readings.outline import ToPhoto

OUT_SHARE: Final = 0.25
"""A lamp with less than this share of the light it had at first is out."""
BACK_SHARE: Final = 0.5
"""One that was out is back with more than this share."""
SEEN_LIGHT: Final = 0.05
"""Light of a lamp, 1 the photo's white, below which it is not watched."""
LENS_MM: Final = 15.0
"""A lamp that reaches further lights a part of the face from behind."""
LENS_PERCENT: Final = 75.0
PRINT_PERCENT: Final = 92.0
"""So much of a lamp's disc is darker than what is taken for its light: print covers little of it,
and what shines over from lamps beside it, or a needle that passes, still less."""
HALO: Final = 1.5
"""So many times its own reach a lens shines into the face around it."""
TWICE: Final = 2
"""So many looks in a row must show a lamp dark, or so many dips in one dwell that it flickers."""
ROOM_SHARE: Final = 0.1
"""Where the whole picture changed by more, the room's light changed: lamps are not judged by it."""
ROOM_STEP: Final = 8
"""Every so many pixels are looked at for that."""
Light = NDArray[np.float64]


def watched_lamps(family: Family) -> tuple[Lamp, ...]:
    """The lamps whose place on the face is known.

    Parameters
    ----------
    family
        The cluster design.

    Returns
    -------
    tuple of Lamp
        Tell-tales among them.
    """
    lamps = (*family.lamps, *family.tell_tales)
    return tuple(one for one in lamps if one.centre_mm is not None and one.reach_mm is not None)


class LampPlaces:
    """Where lamps are seen by a camera that stands; worked out once for all its pictures.

    Parameters
    ----------
    lamps
        With their places.
    projection
        Where the face lies in the pictures.
    size_px
        Rows and columns of the pictures.
    """

    def __init__(
        self, lamps: Sequence[Lamp], projection: ToPhoto, size_px: tuple[int, int]
    ) -> None:
        discs = {one.id: _disc_of(one, projection) for one in lamps if one.centre_mm is not None}
        lenses = [discs[one.id] for one in lamps if one.id in discs and not _is_broad(one)]
        self._seen: dict[str, _Place] = {}
        for lamp in lamps:
            if lamp.id in discs:
                is_broad = _is_broad(lamp)
                place = _place_of(discs[lamp.id], lenses if is_broad else (), size_px)
                if place is not None:
                    percent = PRINT_PERCENT if is_broad else LENS_PERCENT
                    self._seen[lamp.id] = _Place(*place, percent)

    def light(self, lit: Pixels, unlit: Pixels) -> dict[str, float]:
        """How much light each lamp gives.

        Parameters
        ----------
        lit
            Picture with the lamps on; blue, green, red.
        unlit
            The same with lamps off.

        Returns
        -------
        dict
            Difference of the brightest colour, 1 the photo's white, by lamp: upper quartile over
            the disc of a lens; of a lamp that lights a part of the face from behind, whose print
            alone shines, the brightest twelfth without the lenses in it. A lamp outside the
            picture is left out.
        """
        return {lamp: one.light(lit, unlit) for lamp, one in self._seen.items()}


@dataclass(frozen=True, slots=True, eq=False)
class _Place:
    """The pixels one lamp is seen by."""

    at: tuple[slice, slice]
    inside: NDArray[np.bool_]
    percent: float

    def light(self, lit: Pixels, unlit: Pixels) -> float:
        """By how much they are brighter."""
        more = lit[self.at].astype(np.int16) - unlit[self.at]
        brightest = np.maximum(np.maximum(more[..., 0], more[..., 1]), more[..., 2])
        return float(np.percentile(brightest[self.inside] / 255.0, self.percent))


@dataclass(frozen=True, slots=True)
class _Disc:
    """A lamp's place in the picture, pixels."""

    x: float
    y: float
    reach: float

    def holds(self, x: Light, y: Light, wider: float = 1.0) -> NDArray[np.bool_]:
        """Which pixels lie in it."""
        return np.asarray(np.hypot(x - self.x, y - self.y) <= wider * self.reach)


def _is_broad(lamp: Lamp) -> bool:
    return lamp.reach_mm is not None and lamp.reach_mm > LENS_MM


def _disc_of(lamp: Lamp, projection: ToPhoto) -> _Disc:
    x_mm, y_mm = lamp.centre_mm or (0.0, 0.0)
    reach_mm = lamp.reach_mm or 0.0
    ends = np.array([[x_mm, y_mm], [x_mm + reach_mm, y_mm], [x_mm, y_mm + reach_mm]])
    at, along, down = projection.to_photo(ends)
    reach_px = max(float(np.hypot(*(along - at))), float(np.hypot(*(down - at))), 1.0)
    return _Disc(float(at[0]), float(at[1]), reach_px)


def _place_of(
    disc: _Disc, without: Sequence[_Disc], size_px: tuple[int, int]
) -> tuple[tuple[slice, slice], NDArray[np.bool_]] | None:
    """The pixels of a disc, in a picture's own corner of it; None: there are none."""
    high, wide = size_px
    left, right = max(int(disc.x - disc.reach), 0), min(int(disc.x + disc.reach) + 2, wide)
    top, bottom = max(int(disc.y - disc.reach), 0), min(int(disc.y + disc.reach) + 2, high)
    if left >= right or top >= bottom:
        return None
    down, along = np.mgrid[top:bottom, left:right]
    inside = disc.holds(along, down)
    for lens in without:
        inside &= ~lens.holds(along, down, HALO)
    return ((slice(top, bottom), slice(left, right)), inside) if inside.any() else None


def lamps_out(first: Mapping[str, float], now: Mapping[str, float]) -> list[Noticed]:
    """Which lamps went out.

    Parameters
    ----------
    first
        Light of each when it was first seen.
    now
        Light of each now.

    Returns
    -------
    list of Noticed
        Those of less than a quarter of their light.
    """
    found = []
    for lamp, light in now.items():
        was = first.get(lamp, 0.0)
        if was >= SEEN_LIGHT and light < OUT_SHARE * was:
            found.append(_out(lamp, light, was))
    return found


def _out(lamp: str, light: float, was: float) -> Noticed:
    share = max(light / was, 0.0)
    words = f"the lamp gives {share:.0%} of the light it gave at first"
    return Noticed("lamp_out", lamp, words, share)


class LampWatch:
    """Watches lamps through a dwell, look for look, against a picture with the power off.

    Parameters
    ----------
    first
        Light of each lamp when it was first seen, 1 the photo's white.
    unlit
        The picture with the power off, taken just before.
    out
        Lamps that were out already.
    """

    def __init__(
        self, first: Mapping[str, float], unlit: Pixels, out: Collection[str] = ()
    ) -> None:
        self._first = {lamp: light for lamp, light in first.items() if light >= SEEN_LIGHT}
        self.unlit, self.out = unlit, set(out)
        self.looks = 0
        """How many were judged."""
        self.not_judged = 0
        """How many were not, because the room's light had changed."""
        self.dark = Counter[str]()
        """Looks in which each lamp was dark, out or not."""
        self._dips, self._row = Counter[str](), Counter[str]()
        self._room: float | None = None

    def look(self, lit: Pixels, light: Mapping[str, float]) -> list[Noticed]:
        """Take a look in.

        Parameters
        ----------
        lit
            The picture.
        light
            What each lamp gives in it, against `unlit`.

        Returns
        -------
        list of Noticed
            `lamp_out` where one is dark twice in a row, `lamp_flickers` where one comes back or
            was dark again and again.
        """
        room = float(np.mean(lit[::ROOM_STEP, ::ROOM_STEP]))
        self._room = room if self._room is None else self._room
        if abs(room - self._room) > ROOM_SHARE * self._room:
            self.not_judged += 1
            self._row.clear()
            return []
        self.looks += 1
        found = []
        for lamp, was in self._first.items():
            now = light.get(lamp)
            if now is None:
                continue
            if now < OUT_SHARE * was:
                found += self._is_dark(lamp, now, was)
            elif now > BACK_SHARE * was:
                found += self._is_lit(lamp)
        return found

    def _is_dark(self, lamp: str, now: float, was: float) -> list[Noticed]:
        self.dark[lamp] += 1
        self._row[lamp] += 1
        if self._row[lamp] != TWICE or lamp in self.out:
            return []
        self.out.add(lamp)
        return [_out(lamp, now, was)]

    def _is_lit(self, lamp: str) -> list[Noticed]:
        if not self._row[lamp]:
            return []
        was_out, self._row[lamp] = lamp in self.out, 0
        self.out.discard(lamp)
        self._dips[lamp] += 1
        if not (was_out or self._dips[lamp] == TWICE):
            return []
        words = f"the lamp went dark and came back, in {self.dark[lamp]} of {self.looks} looks"
        return [Noticed("lamp_flickers", lamp, words, self.dark[lamp] / self.looks)]
