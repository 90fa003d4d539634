"""A track holds a number exactly where a needle was seen, and one time for all dials."""

import numpy as np
import pytest

from needlewright.readings.track import DialTrack, Track, track_of_angles

T_S = np.array([0.0, 0.04, 0.1])
ANGLES = np.array([1.0, np.nan, 2.0])


def test_what_was_not_seen_has_a_reason_and_no_number() -> None:
    track = track_of_angles("speed", T_S, ANGLES, 0.1, 0.05)
    assert track.seen.tolist() == [True, False, True]
    assert track.reasons == (None, "needle_missing", None)
    assert np.isnan(track.u_angle_deg[1])
    assert track.u_apart_deg[2] == 0.05
    assert track.share_seen == pytest.approx(2 / 3)


@pytest.mark.parametrize("times", [[0.0, 0.0, 0.1], [0.1, 0.05, 0.2]])
def test_times_must_rise(times: list[float]) -> None:
    with pytest.raises(ValueError, match="rise"):
        track_of_angles("speed", np.array(times), ANGLES, 0.1, 0.05)


def test_a_number_that_was_not_seen_is_refused() -> None:
    seen = np.array([True, True, True])
    numbers = np.full(3, 0.1)
    with pytest.raises(ValueError, match="seen"):
        DialTrack("speed", T_S, ANGLES, numbers, numbers, seen, (None, None, None))


def test_dials_share_their_times() -> None:
    one = track_of_angles("speed", T_S, ANGLES, 0.1, 0.05)
    other = track_of_angles("fuel", T_S + 0.01, ANGLES, 0.1, 0.05)
    assert Track("invented", {"speed": one}, (640, 426)).frames == 3
    with pytest.raises(ValueError, match="same times"):
        Track("invented", {"speed": one, "fuel": other}, (640, 426))
