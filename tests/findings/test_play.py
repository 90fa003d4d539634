"""Play of a needle that follows a command, where it can be told and where it cannot."""

import numpy as np

from findings.test_sweep_events import dial_of
from needlewright.findings.event import Event
from needlewright.findings.sweep_events import find_events
from needlewright.readings.track import track_of_angles


def events_of(
    moves_s: tuple[float, ...], moves_deg: tuple[float, ...], off_deg: float
) -> list[Event]:
    t_s = np.arange(int(25 * moves_s[-1])) / 25
    told = np.interp(t_s, moves_s, moves_deg)
    dial = dial_of()
    way = np.where(np.gradient(told) > 0, -off_deg, off_deg)
    above = dial.stop_angle_deg + 20.0 + told
    noise = np.random.default_rng(3).normal(0, 0.03, len(t_s))
    track = track_of_angles(dial.id, t_s, above + way + noise, 0.03, 0.0)
    return [one for one in find_events(track, dial, (t_s, above)) if one.fault == "backlash"]


def test_up_and_down_at_one_rate_each_name_no_play() -> None:
    """A lag at the same rate looks as play does; nothing in the video parts the two."""
    assert events_of((0.0, 6.0, 12.0), (0.0, 200.0, 0.0), 0.6) == []


def test_at_two_rates_play_is_told_from_a_lag() -> None:
    (found,) = events_of((0.0, 2.0, 8.0, 10.0, 16.0), (0.0, 100.0, 200.0, 100.0, 0.0), 0.6)
    assert abs(found.size_deg - 1.2) < max(0.1, 2 * found.u_size_deg)
