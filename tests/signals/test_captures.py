"""Logic captures back to frames, every violation named."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from needlewright.errors import SignalError
from needlewright.signals.capture_csv import read_capture
from needlewright.signals.captures import Change, trace_of
from needlewright.signals.vpw import with_check
from needlewright.signals.vpw_received import frames_in
from needlewright.signals.vpw_symbols import Symbol, symbols_of
from signals.captured import IDLE, csv_text, edges, vcd_text, widths

FRAME = with_check(bytes.fromhex("48 29 10 02 28 00"))
SPOILT = list(symbols_of(FRAME))
EOF = Symbol(False, 280.0)


def received(symbols, inverted=False):
    changes = [Change(at * 1e-6, on != inverted) for at, on in edges(symbols)]
    trace = trace_of("bus", changes, changes[-1].time_s)
    return frames_in(trace, inverted=inverted)


@given(st.lists(st.binary(min_size=1, max_size=11).map(with_check), max_size=4), st.booleans())
def test_what_is_sent_is_received(frames, inverted):
    got = received(widths(frames), inverted)
    assert [each.data for each in got] == frames
    assert all(each.sound for each in got)


@given(st.lists(st.floats(-25, 25), min_size=60, max_size=60))
def test_widths_within_the_receivers_windows_are_taken(off_us):
    symbols = [Symbol(s.active, s.us + off) for s, off in zip(SPOILT[:-1], off_us, strict=False)]
    (frame,) = received([IDLE, *symbols, EOF])
    assert (frame.data, frame.violations) == (FRAME, ())


@pytest.mark.parametrize("kind", ["vcd", "csv"])
def test_both_forms_of_a_capture_say_the_same(tmp_path, kind):
    path = tmp_path / f"bus.{kind}"
    symbols = widths([FRAME, FRAME])
    path.write_text({"vcd": vcd_text, "csv": csv_text}[kind](symbols), encoding="utf-8")
    trace = read_capture(path)
    assert trace.channel == "bus"
    first, second = frames_in(trace)
    assert first.data == second.data == FRAME
    assert first.start_s == pytest.approx(500e-6)
    length_us = sum(s.us for s in symbols_of(FRAME))
    assert second.start_s == pytest.approx((500 + length_us) * 1e-6)
    assert first.sound
    assert second.sound


def with_width(number: int, us: float) -> list[Symbol]:
    """The frame with one width changed; 0 is its start."""
    spoilt = list(SPOILT)
    spoilt[number] = Symbol(spoilt[number].active, us)
    return [IDLE, *spoilt]


@pytest.mark.parametrize(
    ("symbols", "code", "words"),
    [
        (with_width(0, 120), "no_start", "active for 163 to 239 us, found 120 us"),
        (with_width(0, 300), "break", "break: active for 300 us"),
        (with_width(5, 20), "too_short", "passive for 20 us, shorter than any bit (34 us)"),
        (with_width(6, 20), "too_short", "active for 20 us, shorter than any bit (34 us)"),
        (with_width(6, 200), "start_inside", "active for 200 us, inside a frame"),
        (with_width(6, 400), "break", "active for 400 us inside a frame"),
        (
            [IDLE, *SPOILT[:-3], EOF],
            "left_over_bits",
            "6 bit(s) are left over after 6 byte(s)",
        ),
        ([IDLE, SPOILT[0], EOF], "no_data", "the frame has no byte"),
        (widths([FRAME[:-1] + b"\x00"]), "wrong_check", "the check byte is 00, expected 79"),
        (
            [IDLE, *symbols_of(with_check(bytes(11)) + b"\x00")],
            "too_many_bytes",
            "the frame has 13 bytes, at most 12 are allowed",
        ),
        ([IDLE, *SPOILT[:9]], "cut_off", "ends before the end of the frame"),
        (
            [IDLE, *SPOILT[:-1], Symbol(False, 200), Symbol(True, 20), EOF],
            "too_short",
            "expected a normalisation bit of 34 to 163 us, found 20 us",
        ),
        (
            [IDLE, *SPOILT[:-1], Symbol(False, 200), Symbol(True, 200), EOF],
            "too_long",
            "expected a normalisation bit of 34 to 163 us, found 200 us",
        ),
        (
            [
                IDLE,
                *SPOILT[:-1],
                Symbol(False, 200),
                Symbol(True, 64),
                Symbol(False, 200),
                Symbol(True, 64),
                EOF,
            ],
            "too_long",
            "passive for 200 us inside a response",
        ),
    ],
)
def test_every_violation_has_its_name(symbols, code, words):
    frames = received([*symbols, *widths([FRAME])])
    if code == "cut_off":
        frames = received(symbols)
    found = [(v.code, words in v.words) for v in frames[0].violations]
    assert (code, True) in found
    assert not frames[0].sound
    if code != "cut_off":  # and the next frame is received all the same
        assert frames[-1].data == FRAME
        assert frames[-1].sound


def test_a_response_in_the_same_frame():
    bits = symbols_of(b"\x10")[1:-1]
    (frame,) = received([IDLE, *SPOILT[:-1], Symbol(False, 200), Symbol(True, 64), *bits, EOF])
    assert (frame.data, frame.response, frame.violations) == (FRAME, b"\x10", ())


def test_an_unknown_level_is_named():
    changes = [Change(at * 1e-6, on) for at, on in edges(widths([FRAME]))]
    changes[6] = Change(changes[6].time_s, None)
    (frame,) = frames_in(trace_of("bus", changes, changes[-1].time_s))
    assert [v.code for v in frame.violations] == ["unknown_level"]
    assert "the level is unknown for" in frame.violations[0].words


def test_a_dump_with_a_fine_timescale_scopes_vectors_and_comments(tmp_path):
    text = vcd_text(widths([FRAME]), "10 ns", 0.01).replace(
        "$upscope $end", "$scope module low $end $var wire 1 % bus $end $upscope $end $upscope $end"
    )
    text = text.replace("0!\nb0", "0!\n1%\n$comment any words #5 $end\nb0")
    path = tmp_path / "bus.vcd"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(SignalError, match=r"name one of: top\.bus, top\.low\.bus"):
        read_capture(path)
    (frame,) = frames_in(read_capture(path, "top.bus"))
    assert frame.data == FRAME
    assert read_capture(path, "top.low.bus").changes == (Change(0.0, True),)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("hello", "line 1: expected a keyword"),
        ("$timescale 1 us $end\n", "ends before $enddefinitions"),
        ("$timescale 3 us $end\n", "expected a $timescale such as 10 ns, found '3 us'"),
        ("$var wire 1 ! bus", "$var has no $end"),
        ("$var wire 1 ! bus $end $enddefinitions $end", "has no $timescale"),
        ("$timescale 1us $end $enddefinitions $end", "has no channel of one bit"),
        (vcd_text([IDLE]).replace("0!\n#", "q!\n#"), "expected a level 0, 1, x or z, found 'q'"),
        (vcd_text([IDLE]) + "#3\n1!\n", "time runs back from #500 to #3"),
        (vcd_text([IDLE]) + "#later\n", "expected a time, found '#later'"),
        (vcd_text([IDLE]).split("#")[0].replace("0!\n", ""), "has no samples"),
    ],
)
def test_a_damaged_dump_is_one_sentence(tmp_path, text, says):
    path = tmp_path / "bus.vcd"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(SignalError) as refused:
        read_capture(path)
    assert says in str(refused.value)
    assert str(refused.value).startswith(str(path))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "expected one column whose name begins with time"),
        ("time,a,b\n0,1,1\n", "has several channels; name one of: a, b"),
        ("time,a\n0,1\n1\n", "row 3: expected 2 cells, found 1"),
        ("time,a\nnow,1\n", "row 2: 'now' is no time"),
        ("time,a\nnan,1\n", "row 2: 'nan' is no time"),
        ("time,a\n0,2\n", "row 2: expected a level 0 or 1, found '2'"),
        ("time,a\n1,0\n0,1\n", "row 3: time runs back to 0"),
        ("time,a\n", "has no samples"),
    ],
)
def test_a_damaged_table_is_one_sentence(tmp_path, text, says):
    path = tmp_path / "bus.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(SignalError) as refused:
        read_capture(path)
    assert says in str(refused.value)


@pytest.mark.parametrize(
    ("head", "seconds"),
    [("Time [s]", 1.0), ("time", 1.0), ("time_ms", 1e-3), ("Time (us)", 1e-6), ("Time[ns]", 1e-9)],
)
def test_the_unit_of_a_tables_times(tmp_path, head, seconds):
    path = tmp_path / "bus.csv"
    path.write_text(f"{head};bus\n0;0\n\n2;1\n", encoding="utf-8")
    assert read_capture(path).changes == (Change(0.0, False), Change(2 * seconds, True))


def test_other_files_are_refused(tmp_path):
    for name, content in (("bus.txt", b"x"), ("bus.vcd", b"\xff\xfe\x00"), ("bus.csv", b"\xff")):
        (tmp_path / name).write_bytes(content)
        with pytest.raises(SignalError, match=name):
            read_capture(tmp_path / name)
    for name in ("gone.vcd", "gone.csv"):
        with pytest.raises(SignalError, match=f"{name}: cannot be opened"):
            read_capture(tmp_path / name)
