"""Reflow profiles: what a table may look like, what is measured, and what is marked."""

from itertools import pairwise
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from needlewright.composing.sums_drawn.solder import reflow as drawn
from needlewright.errors import SumError
from needlewright.papers.sums_profile import HEAD, PLOT_PX
from needlewright.plans.sums.catalogue import sum_named
from needlewright.plans.sums.recorded_text import text_of
from needlewright.plans.sums.reflow import Reflow, code_of, hold_profile
from needlewright.plans.sums.reflow_limits import LIMITS, expanded_k
from needlewright.plans.sums.reflow_measured import scatter_k, steepest, stretches_above
from needlewright.plans.sums.thermocouple_table import Track, read_tracks
from needlewright.plans.sums.typed import work_out

KNOTS = ((0, 25), (62, 149), (66, 152), (156, 198), (160, 202), (180, 217), (200, 240), (220, 240),
         (270, 217), (330, 60))  # fmt: skip


def track(knots=KNOTS, every=1.0, name="board") -> Track:
    times = np.arange(knots[0][0], knots[-1][0] + every / 2, every)
    c = np.interp(times, *zip(*knots, strict=True))
    return Track(name, tuple(times.tolist()), tuple(c.tolist()), 0)


def held(*tracks: Track, thermocouple="K-2", window_s=10.0, alloy="lead-free") -> Reflow:
    return hold_profile(tracks, LIMITS[alloy], thermocouple, 1.0, window_s)


def by_what(profile: Reflow):
    return {one.what: one for one in profile.held}


def table(one: Track, head="time_s,board_c") -> str:
    rows = "".join(f"{t:g},{c:.1f}\n" for t, c in zip(one.t_s, one.c, strict=True))
    return f"{head}\n{rows}"


def test_a_profile_of_known_lines_is_measured_exactly():
    seen = by_what(held(track(), thermocouple="none"))
    assert seen["above"].value == pytest.approx(90.0, abs=1e-9)
    assert seen["soak"].value == pytest.approx(158.0 - (62 + 4 / 3), abs=1e-9)
    assert seen["peak"].value == 240.0
    assert seen["rise"].value == 200.0
    assert seen["ramp"].value == pytest.approx(2.0, abs=1e-9)
    assert seen["cool"].value == pytest.approx(157 / 60, abs=1e-9)
    assert {one.code for one in seen.values()} == {"pass", "not_judged"}


def test_a_thermocouple_that_may_read_wrong_leaves_a_time_in_doubt():
    u = expanded_k("K-2", 1.0, 217.0)
    assert u == pytest.approx(2 * (2.5**2 + 1) ** 0.5 / 3**0.5, rel=1e-12)
    above = by_what(held(track()))["above"]
    # On the straight flanks, 15/20 and 23/50 K/s, U moves the two crossings by U over the slope.
    assert above.low == pytest.approx(90 - u / (23 / 20) - u / (23 / 50), abs=0.02)
    assert above.high == pytest.approx(90 + u / (15 / 20) + u / (157 / 60), abs=0.02)
    assert above.code == "pass"
    short = by_what(held(track((*KNOTS[:6], (195, 240), (215, 240), (243, 217), (330, 60)))))
    assert short["above"].value == pytest.approx(63.0, abs=1e-9)
    assert short["above"].code == "conditional_pass"


@pytest.mark.parametrize(
    ("value", "low", "high", "code"),
    [
        (70, 61, 80, "pass"),
        (70, 59, 80, "conditional_pass"),
        (58, 50, 61, "conditional_fail"),
        (50, 45, 59.9, "fail"),
        (151, 149, 160, "conditional_fail"),
    ],
)
def test_the_words_of_a_range(value, low, high, code):
    assert code_of(value, low, high, (60, 150)) == code
    assert code_of(value, low, high, (None, None)) == "not_judged"


def test_every_stretch_that_is_too_steep_is_marked():
    knots = ((0, 25), (20, 105), (60, 115), (80, 195), (120, 205), (200, 240), (240, 40), (280, 40))
    ramp = by_what(held(track(knots)))["ramp"]
    assert ramp.value == pytest.approx(4.0, abs=1e-9)
    assert ramp.code == "fail"
    assert len(ramp.spans) == 2
    for (first, last), (start, end) in zip(ramp.spans, ((0, 20), (60, 80)), strict=True):
        assert start - 10 < first <= start
        assert end <= last < end + 10


@given(st.lists(st.tuples(st.floats(0.5, 20), st.floats(20, 260)), min_size=5, max_size=20),
       st.floats(2.0, 8.0))  # fmt: skip
def test_no_window_is_steeper_than_the_steepest(steps, window_s):
    t_s = np.cumsum([step for step, _ in steps])
    c = np.array([value for _, value in steps])
    found = steepest(t_s, c, window_s, 3.0, 1)
    starts = np.linspace(t_s[0], t_s[-1] - window_s, 200)
    if t_s[-1] - t_s[0] < window_s * (1 + 1e-9):
        return
    assert found is not None
    rates = (np.interp(starts + window_s, t_s, c) - np.interp(starts, t_s, c)) / window_s
    assert rates.max() <= found.k_s + 1e-9
    for one, other in pairwise(found.past):
        assert one[1] < other[0]


@given(st.lists(st.floats(20, 260), min_size=3, max_size=30), st.floats(50, 250))
def test_time_above_a_level_is_what_a_fine_count_finds(values, level):
    t_s, c = np.arange(len(values), dtype=float), np.array(values)
    fine = np.linspace(0, len(values) - 1, 20_001)
    counted = (np.interp(fine, t_s, c) >= level).mean() * (len(values) - 1)
    spans = stretches_above(t_s, c, level)
    assert sum(b - a for a, b in spans) == pytest.approx(counted, abs=0.01 * len(values))


def test_scatter_of_readings_is_found_and_rounding_is_its_least():
    rng = np.random.default_rng(3)
    line = np.linspace(20, 240, 2000)
    assert scatter_k(line + rng.normal(0, 0.4, 2000)) == pytest.approx(0.4, rel=0.1)
    assert scatter_k(np.round(np.linspace(20, 21, 2000))) == pytest.approx(1 / 12**0.5)


def test_what_the_recording_does_not_hold_is_not_judged():
    seen = by_what(held(track(KNOTS[3:7])))
    assert {what: one.code for what, one in seen.items()} == {
        "ramp": "pass",
        "soak": "not_read",
        "above": "not_read",
        "peak": "not_judged",
        "rise": "not_read",
        "cool": "not_read",
    }
    assert "begins at 198 °C" in seen["soak"].why
    hot = by_what(held(track(KNOTS[:8])))["cool"]
    assert hot.why == "the recording ends at 240 °C, 0 K below its peak"
    assert hot.code == "not_read"


def test_a_profile_that_never_melts_the_solder_fails():
    seen = by_what(held(track(((0, 25), (80, 150), (150, 190), (170, 190), (250, 50)))))
    assert (seen["above"].value, seen["above"].code) == (0.0, "fail")
    assert "never reached" in seen["above"].why
    assert (seen["soak"].value, seen["soak"].code) == (0.0, "fail")


def test_minutes_fahrenheit_semicolons_and_decimal_commas_give_the_same():
    one = track(every=2.0)
    plain = read_tracks(table(one), 10.0)[0]
    rows = "".join(
        f"{t / 60:.9f};{c * 1.8 + 32:.9f}\r\n".replace(".", ",")
        for t, c in zip(plain.t_s, plain.c, strict=True)
    )
    other = read_tracks(f"Time [min];Board (°F)\r\n{rows}", 10.0)[0]
    assert other.name == "Board"
    assert other.t_s == pytest.approx(plain.t_s, abs=1e-6)
    assert other.c == pytest.approx(plain.c, abs=1e-6)


def test_what_a_value_may_be_holds_what_it_is():
    # Thermocouple and logger wrong all through, anywhere within their limits.
    rng = np.random.default_rng(11)
    plain = track(every=2.0)
    t_s, c = np.array(plain.t_s), np.array(plain.c)
    met, draws = 0, 150
    for _ in range(draws):
        off = rng.uniform(-2.5, 2.5) + rng.uniform(-1.0, 1.0)
        read = np.round(c + off + rng.normal(0, 0.1, len(c)), 1)
        above = by_what(held(Track("a", tuple(t_s.tolist()), tuple(read.tolist()), 0)))["above"]
        met += above.low <= 90.0 <= above.high
    assert met / draws >= 0.95


def test_noise_alone_seldom_fails_a_climb_that_just_keeps_its_limit():
    rng = np.random.default_rng(12)
    t_s = np.arange(0.0, 60.0, 1.0)
    codes = []
    for _ in range(200):
        c = 25 + 3.0 * t_s + rng.normal(0, 0.3, len(t_s))
        one = Track("a", tuple(t_s.tolist()), tuple(c.tolist()), 0)
        codes.append(by_what(held(one, thermocouple="none"))["ramp"].code)
    assert codes.count("fail") / len(codes) <= 0.025
    # and a climb that is clearly steeper is found
    c = 25 + 3.4 * t_s + rng.normal(0, 0.3, len(t_s))
    steep = Track("a", tuple(t_s.tolist()), tuple(c.tolist()), 0)
    assert by_what(held(steep, thermocouple="none"))["ramp"].code == "fail"


def test_clock_times_are_taken_for_seconds():
    rows = "".join(f"2026-03-01 11:59:{s:02},{20 + s}\n" for s in range(50))
    assert read_tracks(f"Time,a_c\n{rows}", 10.0)[0].t_s[-1] - 49 == 11 * 3600 + 59 * 60
    with pytest.raises(SumError, match="row 3: expected a time as a number, found '1:2:3:4'"):
        read_tracks("time,a_c\n1:02,20\n1:2:3:4,21\n", 10.0)


def clocked(seconds) -> str:
    return "time,a_c\n" + "".join(
        f"{s // 3600 % 24:02}:{s // 60 % 60:02}:{s % 60:02},{20 + i}\n"
        for i, s in enumerate(seconds)
    )


def test_a_recording_that_passes_midnight_goes_on():
    begins = 23 * 3600 + 59 * 60 + 44
    (one,) = read_tracks(clocked(range(begins, begins + 40, 2)), 10.0)
    assert one.t_s == tuple(float(begins + 2 * i) for i in range(20))
    dated = "".join(
        f"2026-03-{31 if s < 86400 else 1:02} {line}\n"
        for s, line in zip(
            range(begins, begins + 40, 2),
            clocked(range(begins, begins + 40, 2)).splitlines()[1:],
            strict=True,
        )
    )
    assert read_tracks(f"time,a_c\n{dated}", 10.0)[0].t_s == one.t_s


def test_a_profile_over_midnight_is_judged_as_at_noon():
    plain = track(every=2.0)
    heads = [clocked([at + int(t) for t in plain.t_s]).splitlines() for at in (43200, 86400 - 150)]
    noon, night = (
        read_tracks(
            "\n".join(
                [lines[0]]
                + [f"{line.split(',')[0]},{c}" for line, c in zip(lines[1:], plain.c, strict=True)]
            ),
            10.0,
        )
        for lines in heads
    )
    for one, other in zip(held(*noon).held, held(*night).held, strict=True):
        assert (one.what, one.code) == (other.what, other.code)
        assert one.value == pytest.approx(other.value, abs=1e-6)


@pytest.mark.parametrize(
    ("text", "row"),
    [
        # an hour is missing over midnight: the rows may be out of order as well
        ("time,a_c\n23:30:00,20\n00:30:00,21\n", 3),
        # the date says that it is the same day
        ("time,a_c\n2026-03-01 23:59:58,20\n2026-03-01 00:00:02,21\n", 3),
        # a step back that is no midnight
        ("time,a_c\n12:00:04,20\n12:00:02,21\n", 3),
        # minutes and seconds say no hour: it may be an hour later or a row out of order
        ("time,a_c\n59:58,20\n00:02,21\n", 3),
    ],
)
def test_a_clock_that_falls_otherwise_is_refused(text, row):
    with pytest.raises(SumError, match=rf"CSV, row {row}: the time .* is not after that of the"):
        read_tracks(text, 10.0)


def test_a_row_of_the_evening_after_midnight_is_a_gap():
    text = clocked([86390, 86395, 86400, 86405, 86410, 86390])
    with pytest.raises(SumError, match="there is no temperature between 86410 and 172790 s"):
        read_tracks(text, 10.0)


def test_a_long_recording_is_drawn_by_its_extremes():
    rng = np.random.default_rng(5)
    one = track(every=0.05)
    noisy = Track(
        "a", one.t_s, tuple((np.array(one.c) + rng.normal(0, 0.3, len(one.c))).tolist()), 0
    )
    document = ElementTree.fromstring(drawn(held(noisy)))
    line = max((mark.get("points") or "" for mark in document.iter()), key=len).split()
    assert len(line) < 650
    top = min(float(place.split(",")[1]) for place in line)
    highest = max(noisy.c)
    assert top == pytest.approx(HEAD + PLOT_PX * (1 - highest / (1.1 * highest + 8)), abs=0.01)


def as_a_german_spreadsheet(one: Track) -> str:
    rows = (f"{t:.1f};{c:.1f}\r\n".replace(".", ",") for t, c in zip(one.t_s, one.c, strict=True))
    return "Zeit [s];Platine [°C]\r\n" + "".join(rows)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_a_recording_is_read_however_it_was_saved(encoding):
    one = track(every=2.0)
    text = text_of(as_a_german_spreadsheet(one).encode(encoding))
    (found,) = read_tracks(text, 10.0)
    assert found.name == "Platine"
    assert found.t_s == one.t_s
    assert found.c == pytest.approx(one.c, abs=0.051)


def test_lines_about_the_logger_and_milliseconds_are_passed_over():
    one = track(every=2.0)
    rows = "".join(
        f"{1000 * t:g},{c * 1.8 + 32:.2f}\n" for t, c in zip(one.t_s, one.c, strict=True)
    )
    head = "\ufeffLogger,four channels\nTime,12:30:05\n\nTime (ms),Board (°F)\n"
    (found,) = read_tracks(head + rows, 10.0)
    assert (found.name, found.t_s) == ("Board", one.t_s)
    assert found.c == pytest.approx(one.c, abs=0.004)


def test_missing_values_are_bridged_and_counted():
    lines = table(track(every=2.0)).splitlines()
    lines[50] = lines[50].split(",")[0] + ","
    lines[51] = lines[51].split(",")[0] + ",NaN"
    found = read_tracks("\n".join(lines), 10.0)[0]
    assert (found.missing, len(found.t_s)) == (2, 164)
    told = work_out(sum_named("reflow"), {"csv": "\n".join(lines)}).told
    assert "board: 2 missing values bridged by a straight line." in told.notes


def broken(change) -> str:
    lines = table(track(every=2.0)).splitlines()
    change(lines)
    return "\n".join(lines)


def gap(lines):
    del lines[40:60]


def back(lines):
    lines[10], lines[11] = lines[11], lines[10]


def word(lines):
    lines[5] = "8,warm"


def narrow(lines):
    lines[5] = "8"


def fahrenheit(lines):
    lines[5] = "8,500"


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        (
            broken(gap),
            "'board': there is no temperature between 76 and 118 s, longer than the 10 s",
        ),
        (broken(back), "CSV, row 12: the time 18 is not after that of the row before"),
        (broken(word), "row 6, 'board': expected a temperature as a number, found 'warm'"),
        (broken(narrow), "CSV, row 6: expected 2 cells, found 1"),
        (broken(fahrenheit), "row 6, 'board': 500 °C is out of -60 to 400 °C; check the unit"),
        ("time_s\n1\n2\n", "there is only a column of times"),
        ("temperature_c\n25\n", "expected the columns' names, one that begins with time"),
        ("0,25\n1,26\n", "expected the columns' names, one that begins with time"),
        ("time,board_c\n0,25\n", "'time' has no unit of time; name it time_s or time_min"),
        ("time_s,board\n0,25\n", "column 2, 'board', says no unit"),
        ("time_s,a_c,a_f\n0,25,80\n", "each with a name of its own"),
        ("time_s,a_c\nsoon,25\n", "row 2: expected a time as a number, found 'soon'"),
        ("time_s,a_c\n0,25\n1,\n2,26\n", "'a': 2 temperatures are too few to judge"),
        ("\x00\x01\x02", "is no table of text"),
        ("time_s,a_c\n0,25\n1,\ufffd\n", "is no table of text"),
        (
            "time_s,a_c\n" + "".join(f"{30 - i},{25 + i}\n" for i in range(20)),
            "CSV, row 3: the times fall from row to row, so the newest stands first; turn the rows",
        ),
        ("Logger\ntime_s,a_c\n0,25\n1,hot\n", "CSV, row 4, 'a': expected a temperature"),
        ("Logger\ntime,a_c\n0,25\n", "CSV, row 2: 'time' has no unit of time"),
    ],
)
def test_a_table_that_cannot_be_used_is_said_in_a_sentence(text, sentence):
    with pytest.raises(SumError) as raised:
        work_out(sum_named("reflow"), {"csv": text})
    assert sentence in str(raised.value)
    assert "\n" not in str(raised.value)


def test_every_violation_has_its_number_on_the_drawing_and_in_words():
    knots = (
        (0, 25),
        (20, 105),
        (60, 115),
        (80, 195),
        (120, 205),
        (200, 252),
        (214, 240),
        (240, 60),
    )
    steep, slow = track(knots, name="steep"), track(name="slow")
    text = "time_s,steep_c,slow_c\n" + "".join(
        f"{t:g},{a:.2f},{b:.2f}\n" for t, a, b in zip(steep.t_s, steep.c, slow.c, strict=False)
    )
    answered = work_out(sum_named("reflow"), {"csv": text, "peak-most": "250"})
    marked = [one for one in answered.result.held if one.is_marked]
    assert [(one.track, one.what) for one in marked[:4]] == [
        ("steep", "ramp"), ("steep", "soak"), ("steep", "peak"), ("steep", "cool"),
    ]  # fmt: skip
    document = ElementTree.fromstring(drawn(answered.result))
    words = [one.text or "" for one in document.iter() if one.tag.endswith("text")]
    for i, one in enumerate(marked, 1):
        # once in the list underneath, and once at each stretch in the plot
        assert words.count(str(i)) == 1 + len(one.spans)
        assert answered.told.judged[i - 1].words.startswith(f"{i}. {one.track}, ")
    assert answered.told.figures[0].said == "does not conform"


@pytest.mark.parametrize(("slower", "alloy", "code"), [
    (1.0, "lead-free", "pass"), (2.3, "lead-free", "pass"), (2.5, "lead-free", "fail"),
    (1.7, "tin-lead", "pass"), (1.9, "tin-lead", "fail"),
])  # fmt: skip
def test_a_profile_that_creeps_to_its_peak_is_told(slower: float, alloy: str, code: str):
    crept = tuple((t * slower, c) for t, c in KNOTS)
    rise = by_what(held(track(((-30.0, 20.0), *crept)), alloy=alloy))["rise"]
    assert rise.value == pytest.approx(200 * slower, abs=1.0)
    assert rise.code == code
    assert rise.spans[0][1] == pytest.approx(200 * slower, abs=1.0)


def test_a_rise_that_was_not_recorded_from_its_beginning():
    warm = (*((t, max(c, 60.0)) for t, c in KNOTS[:1]), *KNOTS[1:])
    rise = by_what(held(track(warm)))["rise"]
    assert (rise.code, rise.value) == ("not_read", None)
    assert "begins at 60 °C, and not near 25 °C" in rise.why
    # what is too long without its beginning is too long with it
    crept = tuple((t * 3.0, c) for t, c in warm)
    assert by_what(held(track(crept)))["rise"].code == "fail"
