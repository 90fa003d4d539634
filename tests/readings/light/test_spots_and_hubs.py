"""Tell-tales, hubs and the room's light in drawn photos."""

import numpy as np
import pytest

from needlewright.findings.lamps.halo import judge_hubs
from needlewright.findings.lamps.signs import judge_signs
from needlewright.readings.light.hubs import hub_lights
from needlewright.readings.light.laying import lay_print
from needlewright.readings.light.room import room_share
from needlewright.readings.light.spots import Spot, spot_lights
from readings.light.lit_demo import FAMILY, SIGNS, SOUND, exposed, jpeg, laid, photo

SPOTS = [Spot(t.id, t.centre_mm, t.reach_mm, t.colour) for t in FAMILY.tell_tales]
LIT = {"stop": 1.0, "warning": 0.0, "turn": 1.0, "ready": 1.0}


@pytest.mark.parametrize(("with_backlight", "times"), [(False, 3.0), (True, 0.3), (True, 1.0)])
def test_the_tell_tale_that_did_not_light(with_backlight: bool, times: float) -> None:
    seen = photo({**LIT, **(SOUND if with_backlight else {})})
    states = judge_signs(spot_lights(laid(jpeg(exposed(seen, times), 90)), SPOTS), "tell_tale")
    dark = {state.id: state.dark for state in states}
    assert dark["warning"] > 0.9
    assert max(dark[name] for name in ("stop", "turn", "ready")) < 0.02


def test_where_none_lights_none_is_judged() -> None:
    states = judge_signs(spot_lights(laid(photo(SOUND)), SPOTS), "tell_tale")
    assert {state.dark for state in states} == {None}
    assert {state.why for state in states} == {"nothing of its group lights; was it switched on?"}


def test_what_cannot_be_seen_is_refused_with_why() -> None:
    here = laid(photo(LIT))
    outside = Spot("far", (-20.0, -20.0), 3.0)
    assert spot_lights(here, [outside])[0].why == "out of the photo"
    states = judge_signs(spot_lights(here, SPOTS), "tell_tale", not_lit=("turn",))
    assert {s.id: s.why for s in states}["turn"] == "nobody could switch it on"
    flooded = laid(photo({**LIT, **SOUND}))
    flooded.saturated[:] = True
    assert {one.why for one in spot_lights(flooded, SPOTS)} == {"overexposed all round"}


@pytest.mark.parametrize("times", [0.4, 1.5])
def test_a_halo_at_a_hub_and_at_no_other(times: float) -> None:
    here = laid(exposed(photo(SOUND, halo="speed"), times))
    lit = {dial.id: 0.48 * times for dial in FAMILY.dials}
    judged = judge_hubs(hub_lights(FAMILY, here, lay_print(FAMILY, here), lit))
    states = {one.dial: one for one in judged}
    assert states["speed"].halo > 0.99
    assert states["speed"].light == pytest.approx(0.3 * 0.55 / 0.48, abs=0.05)
    assert "speed's needle" in states["speed"].remedy
    for name in ("engine", "temp", "fuel"):
        assert states[name].halo < 0.05
        assert abs(states[name].light) < 0.02
        assert states[name].remedy is None


def test_a_healthy_hub_that_shines_too_is_taken_off() -> None:
    here = laid(photo(SOUND, halo="speed"))
    seen = hub_lights(FAMILY, here, lay_print(FAMILY, here), {"speed": 0.48})
    alike = judge_hubs(seen, {one.dial: one.light or 0.0 for one in seen})
    states = {one.dial: one for one in alike}
    assert states["speed"].halo < 0.05
    assert states["engine"].why == "its dial is not lit"


def test_the_rooms_light_is_told_by_signs_that_are_off() -> None:
    dark, light = (laid(photo(SOUND, room=room)) for room in (False, True))
    share, too_much = room_share(dark, lay_print(FAMILY, dark), 0.48, SPOTS)
    assert (0.01 < share < 0.05, too_much) == (True, False)
    share, too_much = room_share(light, lay_print(FAMILY, light), 0.8, SPOTS)
    assert (share > 0.3, too_much) == (True, True)
    assert len(SIGNS) == len(SPOTS)
    assert np.isfinite(share)
