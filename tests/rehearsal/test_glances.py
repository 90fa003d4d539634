"""A frame that is drawn later, or from what was drawn before, is the frame to the bit."""

from pathlib import Path

import numpy as np

import needlewright
from needlewright.families.folder import load_family
from needlewright.families.lamps import lamp_groups
from needlewright.rehearsal.cluster.camera import view_of
from needlewright.rehearsal.cluster.rehearsal import Rehearsal, Unit

FAMILY = load_family(Path(needlewright.__file__).parent / "demo_data" / "family")
SIZE_PX = (96, 64)


def test_a_glance_is_what_was_to_be_seen_then_whenever_it_is_drawn():
    seen, glanced = [], []
    for drawn_later in (False, True):
        rehearsal = Rehearsal(FAMILY, Unit(seed=4), size_px=SIZE_PX)
        taken = glanced if drawn_later else seen
        with rehearsal.transport:

            def look(taken=taken, rehearsal=rehearsal, drawn_later=drawn_later) -> None:
                camera = rehearsal.camera
                taken.append(camera.glance() if drawn_later else camera.frame())

            look()
            rehearsal.key(on=True)
            look()
            for group in lamp_groups((*FAMILY.lamps, *FAMILY.tell_tales)):
                rehearsal.light(group, on=True)
            look()
            look()
            rehearsal.darken(dark=True)
            look()
            rehearsal.darken(dark=False)
            rehearsal.key(on=False)
            look()
        rehearsal.close()
    # in another order than they were taken in, and one of them twice
    late = {n: glanced[n][0]() for n in (4, 2, 5, 1, 0, 3)} | {2: glanced[2][0]()}
    for number, (pixels, t_s) in enumerate(seen):
        assert glanced[number][1] == t_s
        assert np.array_equal(late[number], pixels)
    assert not np.array_equal(seen[2][0], seen[3][0]), "each frame has its own noise"


def test_needles_that_stand_are_not_drawn_anew_and_leave_nothing_behind():
    names = [dial.id for dial in FAMILY.dials]
    places = [
        dict.fromkeys(names, -100.0),
        dict.fromkeys(names, -100.0),
        {names[0]: 30.0},
        {},
        dict.fromkeys(names, 12.5) | {names[1]: -40.0},
    ]
    view = view_of(FAMILY, size_px=SIZE_PX, seed=4)
    glow = np.full((SIZE_PX[1], SIZE_PX[0], 3), 0.1, np.float32)
    for angles in places:
        for light in (None, glow):
            grain = view.next_grain()
            frame = view.frame(angles, glow=light, grain=grain)
            fresh = view_of(FAMILY, size_px=SIZE_PX, seed=4)
            assert np.array_equal(frame, fresh.frame(angles, glow=light, grain=grain))
