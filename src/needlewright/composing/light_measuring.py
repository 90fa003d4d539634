"""One photo of a lit face after the other, measured: its zones, its signs, its hubs."""

from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.composing.lamp_photos import LampShot, is_backlit
from needlewright.errors import PictureError, UsageError
from needlewright.families.displays import Display, displays_of
from needlewright.families.model import Family
from needlewright.findings.lamps.evidence import Place
from needlewright.findings.lamps.signs import SignState, judge_signs
from needlewright.readings.face_art import FaceArt, art_of
from needlewright.readings.light.displays import box_of, piece_lights, pieces_of
from needlewright.readings.light.field import LightField, light_field
from needlewright.readings.light.hubs import HubLight, hub_lights
from needlewright.readings.light.laying import LaidLight, Mask, lay_photo, lay_print, scale_for
from needlewright.readings.light.linear import BLACK_LIGHT
from needlewright.readings.light.lit_face import FoundFace, find_lit_face, refuse_unusable
from needlewright.readings.light.room import room_share
from needlewright.readings.light.spots import Spot, discs, spot_lights
from needlewright.readings.light.zone_light import Exposure, FaceLight, zone_lights
from needlewright.readings.light.zones import zoning_of
from needlewright.readings.picture import Picture, open_picture

SIGN_MM: Final = 3.0
"""Reach of a tell-tale that states none."""
HUB_MM: Final = 2.5
"""About a hub: where its cap, higher than the face, may hide print."""
LIT_ENOUGH: Final = 0.25
"""Share of the brightest zones' light a dial needs for a halo to be looked for."""


@dataclass(frozen=True, slots=True)
class Wish:
    """How photos are to be taken."""

    exposure: Exposure = "cancelled"
    every_segment: bool = False
    """Every segment of the displays is on in the photos, and in the healthy one."""
    place: Place = "bench"


@dataclass(slots=True, eq=False)
class TakenShot:
    """A photo on its way: opened, found, measured, or why not."""

    shot: LampShot
    picture: Picture | None = None
    found: FoundFace | None = None
    problem: str | None = None
    missing: PictureError | None = None
    lights: FaceLight | None = None
    room: float | None = None


@dataclass(slots=True, eq=False)
class Gathered:
    """What the photos gave so far."""

    faces: list[FaceLight] = field(default_factory=list)
    face_photos: list[str] = field(default_factory=list)
    signs: list[tuple[str, tuple[SignState, ...]]] = field(default_factory=list)
    hubs: list[tuple[HubLight, ...]] = field(default_factory=list)
    healthy_hubs: dict[str, float] = field(default_factory=dict)
    first: LaidLight | None = None


class LightMeasuring:
    """Measures photos of one family's lit face.

    Parameters
    ----------
    family
        The cluster design.
    healthy
        A photo of a healthy unit with its backlight on; None: there is none.
    wish
        How the photos were taken.

    Raises
    ------
    PictureError
        If the healthy picture cannot be used.
    UsageError
        If what is wished does not fit the family.
    """

    def __init__(self, family: Family, healthy: Path | None, wish: Wish) -> None:
        self.family, self.healthy, self.wish = family, healthy, wish
        self.zoning = zoning_of(family)
        self.displays = displays_of(family)
        self.seen = Gathered()
        self._signs = tuple(
            Spot(lamp.id, lamp.centre_mm, lamp.reach_mm or SIGN_MM, lamp.colour)
            for lamp in family.tell_tales
            if lamp.centre_mm is not None
        )
        self._healthy: tuple[Picture, FoundFace] | None = None
        if healthy is not None:
            picture = open_picture(healthy)
            said = f"healthy picture {healthy}"
            refuse_unusable(_brightest(picture), said)
            self._healthy = picture, find_lit_face(picture, self.art, said, family.name)
        if wish.every_segment and not self.displays:
            raise UsageError(
                f"family '{family.name}' does not say where its displays are; state centre_mm and "
                "size_mm of each"
            )

    @cached_property
    def art(self) -> FaceArt:
        """What the face is found by; made when a photo turns out to be worth looking at."""
        return art_of(self.family)

    def find(self, one: TakenShot) -> None:
        """Find the face in a photo; a photo where it shows too little is left for later."""
        if one.picture is None:
            return
        said = str(one.shot.path)
        try:
            refuse_unusable(_brightest(one.picture), said)
            one.found = find_lit_face(one.picture, self.art, said, self.family.name)
        except PictureError as error:
            if "is not found" in str(error):
                one.missing = error
            else:
                one.problem = str(error)

    def measure(self, one: TakenShot) -> None:
        """Measure whatever was switched on in a photo."""
        if one.picture is None or one.found is None:
            return
        scale = scale_for(self.family, one.found.projection)
        if self._healthy is not None:
            scale = min(scale, scale_for(self.family, self._healthy[1].projection))
        photo = lay_photo(self.family, one.picture, one.found, str(one.shot.path), scale)
        healthy = None
        if self._healthy is not None:
            healthy = lay_photo(self.family, *self._healthy, str(self.healthy), scale)
        if is_backlit(self.family, one.shot):
            self._measure_face(one, photo, healthy)
        if one.problem is None:
            self._measure_signs(one, photo)
            if self.wish.every_segment:
                self._measure_displays(one, photo, healthy)

    def _measure_face(self, one: TakenShot, photo: LaidLight, healthy: LaidLight | None) -> None:
        print_of = lay_print(self.family, photo)
        zones = self.zoning.of_places(photo.seen.shape, photo.px_per_mm)
        out = self._left_out(photo)
        by_print = light_field(photo, print_of, zones, out)
        unlit = self._unlit(one.shot)
        rough = self._lights(by_print, photo, "print", 0.0, unlit)
        if rough is None:
            one.problem = (
                f"{photo.said}: no lamp behind the face gives light in it; switch the backlight "
                "on, expose longer, or say with --lit what is on"
            )
            return
        off = [spot for spot in self._signs if spot.id not in one.shot.lit]
        room, too_light = room_share(photo, print_of, rough.factor, off)
        if too_light:
            one.problem = (
                f"{photo.said}: the room's light lies on the face, and print shines in it without "
                "any lamp; make the bench dark and take the photo again"
            )
            return
        if healthy is None:
            lights = self._lights(by_print, photo, "print", room, unlit)
        else:
            compared = light_field(photo, healthy, zones, out)
            theirs = self._healthy_face(healthy, print_of, zones, out)
            lights = self._lights(compared, photo, "healthy", max(room, theirs), unlit)
        if lights is None:
            one.problem = f"{photo.said}: no zone of the face could be measured in it"
            return
        one.lights, one.room = lights, room
        self.seen.first = self.seen.first or photo
        self.seen.faces.append(lights)
        self.seen.face_photos.append(one.shot.path.name)
        self.seen.hubs.append(
            hub_lights(self.family, photo, print_of, self._lit_print(rough, zones, photo))
        )

    def backlight(self, photo: LaidLight, shot: LampShot) -> FaceLight | None:
        """The lit print of a photo against the family's own print.

        Parameters
        ----------
        photo
            Laid over the face plane.
        shot
            What is on in it.

        Returns
        -------
        FaceLight or None
            None: no lamp behind the face gives light.
        """
        zones = self.zoning.of_places(photo.seen.shape, photo.px_per_mm)
        print_of = lay_print(self.family, photo)
        cells = light_field(photo, print_of, zones, self._left_out(photo))
        return self._lights(cells, photo, "print", 0.0, self._unlit(shot))

    def _lights(
        self,
        cells: LightField,
        photo: LaidLight,
        kind: str,
        room: float,
        unlit: frozenset[int],
    ) -> FaceLight | None:
        return zone_lights(
            cells,
            self.zoning.zones,
            reference="healthy" if kind == "healthy" else "print",
            room=room,
            exposure=self.wish.exposure if kind == "healthy" else "cancelled",
            floor=BLACK_LIGHT / max(cells.contrast, 1e-6),
            unlit=unlit,
        )

    def _healthy_face(
        self, healthy: LaidLight, print_of: LaidLight, zones: NDArray[np.int16], out: Mask
    ) -> float:
        """Refuse a healthy picture that is none; its room's light, and the light round its hubs."""
        cells = light_field(healthy, print_of, zones, out)
        lights = self._lights(cells, healthy, "print", 0.0, frozenset())
        said = f"healthy picture {self.healthy}"
        if lights is None:
            raise PictureError(
                f"{said}: no lamp behind the face gives light in it; give a photo of a healthy "
                "unit with its backlight on"
            )
        room, too_light = room_share(healthy, print_of, lights.factor, self._signs)
        if too_light:
            raise PictureError(
                f"{said}: the room's light lies on the face; take it on a dark bench"
            )
        hubs = hub_lights(self.family, healthy, print_of, self._lit_print(lights, zones, healthy))
        self.seen.healthy_hubs = {one.dial: max(one.light or 0.0, 0.0) for one in hubs}
        return room

    def _lit_print(
        self, lights: FaceLight, zones: NDArray[np.int16], photo: LaidLight
    ) -> dict[str, float]:
        """Light of each dial's white print: of the zone its hub lies in, if that is lit."""
        share = {one.zone.number: one.light or 0.0 for one in lights.zones}
        found = {}
        for dial in self.family.dials:
            column, row = (int(at * photo.px_per_mm) for at in dial.centre_mm)
            number = int(zones[min(row, zones.shape[0] - 1), min(column, zones.shape[1] - 1)])
            if share.get(number, 0.0) > LIT_ENOUGH:
                found[dial.id] = lights.factor * share[number]
        return found

    def _unlit(self, shot: LampShot) -> frozenset[int]:
        return frozenset(
            zone.number
            for zone in self.zoning.zones
            if zone.lamp is not None and zone.lamp not in shot.lit
        )

    def _left_out(self, photo: LaidLight) -> Mask:
        hubs = [(d.centre_mm, d.needle.hub_radius_mm + HUB_MM) for d in self.family.dials]
        signs = [(spot.centre_mm, 1.3 * spot.reach_mm) for spot in self._signs]
        out = discs(photo, [*hubs, *signs])
        for display in self.displays:
            out |= box_of(display, photo)
        return out

    def _measure_signs(self, one: TakenShot, photo: LaidLight) -> None:
        told = [spot for spot in self._signs if spot.id in one.shot.lit | one.shot.not_lit]
        nowhere = [
            lamp.id
            for lamp in self.family.tell_tales
            if lamp.centre_mm is None and lamp.id in one.shot.lit | one.shot.not_lit
        ]
        judged = judge_signs(spot_lights(photo, told), "tell_tale", not_lit=tuple(one.shot.not_lit))
        unplaced = tuple(
            SignState(name, "tell_tale", None, None, None, "the family does not say where it is")
            for name in nowhere
        )
        if judged or unplaced:
            self.seen.signs.append((one.shot.path.name, (*judged, *unplaced)))

    def _measure_displays(
        self, one: TakenShot, photo: LaidLight, healthy: LaidLight | None
    ) -> None:
        for display in self.displays:
            states = self._display(display, photo, healthy)
            self.seen.signs.append((one.shot.path.name, states))

    def _display(
        self, display: Display, photo: LaidLight, healthy: LaidLight | None
    ) -> tuple[SignState, ...]:
        pieces = pieces_of(display, photo, healthy)
        if not pieces:
            why = (
                "it is dark in the healthy picture"
                if healthy is not None
                else "neither the family nor a healthy picture says where its segments are"
            )
            return (SignState(display.id, "segment", None, None, None, why, display.id),)
        known = None
        if healthy is not None:
            shown = piece_lights(healthy, display, pieces)
            known = {p.spot.id: p.light for p in shown if p.light is not None and p.light > 0.01}
        lights = piece_lights(photo, display, pieces)
        return judge_signs(lights, "segment", healthy=known, of=display.id)


def _brightest(picture: Picture) -> NDArray[np.uint8]:
    """Of each pixel the brightest colour: a red sign alone is hardly grey."""
    return np.asarray(picture.pixels.max(axis=2), np.uint8)
