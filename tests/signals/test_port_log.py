"""Logs of the diagnostic port: python-can's own writers as the reference, tables, slips."""

import time
from datetime import UTC, datetime
from math import sqrt
from pathlib import Path

import can
import pytest

from needlewright.errors import SignalError
from needlewright.signals.obd import PIDS
from needlewright.signals.port_log.answers import values_in
from needlewright.signals.port_log.dial_pid import fed_by, pid_of
from needlewright.signals.port_log.reading import read_port_log
from needlewright.signals.port_log.told import NothingSaid, PortValue, said_at, said_last
from readings.drawn_runs import FAMILY

BEGIN = datetime(2026, 3, 2, 9, 15, tzinfo=UTC).timestamp()
SPEED, ENGINE = PIDS[0x0D], PIDS[0x0C]


def messages(begin_s: float = BEGIN) -> list[can.Message]:
    """Requests, other frames of the bus, and answers: 40 to 50 km/h over ten seconds."""
    sent = []
    for i in range(11):
        at = begin_s + i
        for number, data, ahead in (
            (0x7DF, "02010D5555555555", 0.0),
            (0x7E8, f"03410D{40 + i:02X}55555555", 0.02),
            (0x7E8, "04410C0B30555555", 0.03),
            (0x123, "0102030405060708", 0.04),
        ):
            sent.append(
                can.Message(
                    timestamp=at + ahead,
                    arbitration_id=number,
                    is_extended_id=False,
                    data=bytes.fromhex(data),
                    channel=0,
                )
            )
    sent.append(
        can.Message(
            timestamp=begin_s + 10.5, arbitration_id=0x18DAF110, data=bytes.fromhex("0341055A5555")
        )
    )
    return sent


def logged(path: Path, sent: list[can.Message]) -> Path:
    with can.Logger(path) as writer:
        for message in sent:
            writer.on_message_received(message)
    return path


@pytest.mark.parametrize(
    ("name", "clock", "resolution_s"),
    [
        ("log.asc", "wall", 1e-3),
        ("log.blf", "utc", 1e-3),
        ("log.csv", "utc", 1e-6),
        ("log.log", "utc", 1e-5),
        ("log.log.gz", "utc", 1e-5),
        ("log.trc", "utc", 2e-3),
        ("log.db", "utc", 1e-6),
    ],
)
def test_every_form_python_can_writes_comes_back(tmp_path, name, clock, resolution_s):
    path = logged(tmp_path / name, messages())
    if name.endswith(".db"):  # its writer works beside us and is done when the file is whole
        assert len(list(can.LogReader(path))) == 45
    log = read_port_log(path)
    assert log.clock == clock
    shift = 0.0  # the .asc states this computer's wall clock
    if clock == "wall":
        shift = datetime.fromtimestamp(BEGIN).replace(tzinfo=UTC).timestamp() - BEGIN
    speeds = log.of_pid(0x0D)
    assert [one.value for one in speeds] == list(range(40, 51))
    for i, one in enumerate(speeds):
        assert one.time_s == pytest.approx(BEGIN + shift + i + 0.02, abs=resolution_s)
    assert {one.value for one in log.of_pid(0x0C)} == {716.0}
    assert [(one.value, one.source) for one in log.of_pid(0x05)] == [(50.0, "18DAF110")]


def test_a_log_by_a_computer_in_another_zone_states_the_same_wall_clock(tmp_path, monkeypatch):
    path = logged(tmp_path / "log.asc", messages())
    here = read_port_log(path)
    monkeypatch.setenv("TZ", "Etc/GMT-5")
    time.tzset()
    try:
        there = read_port_log(path)
    finally:
        monkeypatch.undo()
        time.tzset()
    assert there.begin_s == here.begin_s
    assert here.moment_words(here.begin_s) == f"{datetime.fromtimestamp(BEGIN):%Y-%m-%d %H:%M:%S}"


def test_a_log_that_begins_at_zero_has_no_clock(tmp_path):
    log = read_port_log(logged(tmp_path / "log.log", messages(0.0)))
    assert log.clock == "relative"
    assert log.range_words == "0.0 s to 10.5 s"


def test_several_numbers_in_one_answer():
    # SAE J1979: on a controller area network up to six numbers are asked and answered at once
    # (cross-read); the values are those of tests/published/test_signals_bus.py.
    assert list(values_in(bytes.fromhex("41 0C 0B 30 0D 50"))) == [(0x0C, 716.0), (0x0D, 80.0)]
    assert list(values_in(bytes.fromhex("41 0C 0D 80 55"))) == [(0x0C, 864.0)]
    assert list(values_in(bytes.fromhex("41 0C 12 13"))) == [(0x0C, 1156.75)]


TABLE = """\
time,pid,value,unit
0.0,0D,50,mph
0.5,0x0C,3.2,1000 r/min
1.0,2F,0.4,fraction of full
1.5,5,194,degF
2.0,10,5,g/s
2.5,42,13.5,V
"""


def test_a_table_of_values_in_the_quantitys_own_units(tmp_path):
    path = tmp_path / "t.csv"
    path.write_text(TABLE)
    log = read_port_log(path)
    found = {one.pid: one.value for one in log.answers}
    # International mile 1.609344 km; 194 degF is 90 degC.
    assert found == pytest.approx({0x0D: 80.4672, 0x0C: 3200, 0x2F: 40, 0x05: 90, 0x42: 13.5})
    assert log.remarks == ("answers of numbers that no dial shows were passed over: 10",)


def test_a_table_of_answers_in_hexadecimal(tmp_path):
    path = tmp_path / "t.csv"
    path.write_text(
        "time;answer\n2026-03-02T10:15:00.5+01:00;41 0C 0B 30\n"
        "2026-03-02T09:15:01Z;410C0D80\n2026-03-02T09:15:02+00:00;41 0C 12 13\n"
    )
    log = read_port_log(path)
    assert [one.value for one in log.answers] == [716.0, 864.0, 1156.75]
    assert (log.clock, log.begin_s) == ("utc", BEGIN + 0.5)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("time,pid,value,unit\n", "has no line of data"),
        ("time,pid,value\n0,0D,1\n", "column 'unit' is missing"),
        ("time,pid,value,unit\n0,0D,80,km/h\n1,0D,50,mph\n", "'mph' here and in 'km/h' on line 2"),
        ("time,pid,value,unit\n0,0D,80,V\n", "line 2: vehicle speed: 'V' is a unit of voltage"),
        ("time,pid,value,unit\n0,0D,80,knots\n", "unit 'knots' is not known"),
        ("time,pid,value,unit\n0,XY,80,km/h\n", "pid 'XY' is no number"),
        ("time,pid,value,unit\n0,10,80,g/s\n", "holds only answers of numbers 10; log the diag"),
        ("time,pid,value,unit\n0,0D,many,km/h\n", "value 'many' is no number"),
        ("time,pid,value,unit\n0,0D,nan,km/h\n", "value 'nan' is no number"),
        ("time,pid,value,unit\n0,0D,800,km/h\n", "reaches from 0 to 255 km/h"),
        ("time,pid,value,unit\n0,0D,80\n", "line 2: expected 4 cells, found 3"),
        ("time,pid,value,unit\n1,0D,80,km/h\n0,0D,80,km/h\n", "line 3: time runs back to 0"),
        ("time,pid,value,unit\nnoon,0D,80,km/h\n", "'noon' is no time; write seconds"),
        (
            "time,pid,value,unit\n0,0D,80,km/h\n2026-03-02T10:15:00,0D,80,km/h\n",
            "is written in another way than on the lines before",
        ),
        ("time,answer\n0,41 0C 0B\n", "line 2: answer 41 0C 0B: expected 2 data byte(s)"),
        ("time,answer\n0,41 0G\n", "answer '41 0G' is not hexadecimal"),
        ("time,answer\n0,7F 01 12\n", "no answer to OBD-II mode 01"),
        ("time,answer\n0,62 0C 0B 30\n", "expected 41, the answer to mode 01, first"),
    ],
)
def test_slips_in_a_table_are_said_with_their_line(tmp_path, text, says):
    path = tmp_path / "t.csv"
    path.write_text(text)
    with pytest.raises(SignalError, match=r"t\.csv") as told:
        read_port_log(path)
    assert says in str(told.value)
    assert "\n" not in str(told.value)


def test_logs_that_answer_nothing(tmp_path):
    (tmp_path / "empty.asc").write_text("")
    (tmp_path / "cut.blf").write_bytes(b"LOGG\x90")
    (tmp_path / "x.txt").write_text("something")
    other = [m for m in messages() if m.arbitration_id == 0x123]
    logged(tmp_path / "other.asc", other)
    for name, says in (
        ("empty.asc", "is empty"),
        ("cut.blf", "is damaged or no log of a bus"),
        ("x.txt", "expected a log that ends in .asc, .blf"),
        ("gone.asc", "is no file"),
        ("other.asc", "frames of 1 identifiers and none is an answer of the diagnostic port"),
    ):
        with pytest.raises(SignalError, match=name) as told:
            read_port_log(tmp_path / name)
        assert says in str(told.value)


def test_two_control_units_that_contradict_each_other(tmp_path):
    sent = messages()
    sent += [
        can.Message(
            timestamp=BEGIN + i,
            arbitration_id=0x7E9,
            is_extended_id=False,
            data=bytes.fromhex("03410D6455555555"),
        )
        for i in range(3)
    ]
    log = read_port_log(logged(tmp_path / "log.log", sent))
    assert {one.source for one in log.of_pid(0x0D)} == {"7E8"}
    assert log.remarks == (
        "vehicle speed: control units 7E8, 7E9 answer differently; 7E8, which answered most, is "
        "taken",
    )


def rising(tmp_path: Path, *seconds: float) -> PortValue | NothingSaid:
    """10 km/h a second; asked for at a time with a doubt."""
    path = tmp_path / "rise.csv"
    lines = [f"{t},0D,{10 * t:g},km/h" for t in range(11)]
    path.write_text("\n".join(("time,pid,value,unit", *lines, "30,0C,800,rpm")) + "\n")
    return said_at(read_port_log(path), SPEED, *seconds)


def test_the_value_at_a_moment_by_hand(tmp_path):
    # At 5 s, lagging 0 to 0.5 s: 47.5 km/h; between 3.5 and 6 s 35 to 60 km/h were said;
    # u^2 = (1 / sqrt 3)^2 + (12.5 / sqrt 3)^2.
    said = rising(tmp_path, 5.0, 1.0)
    assert isinstance(said, PortValue)
    assert (said.value, said.low, said.high) == (47.5, 35.0, 60.0)
    assert said.u == pytest.approx(7.2399, abs=1e-4)


def test_nothing_is_said_away_from_every_answer(tmp_path):
    late = rising(tmp_path, 20.0, 1.0)
    assert late == NothingSaid(
        "no answer of vehicle speed within 2 s of the photo's moment (up to 11.0 s away)"
    )
    assert isinstance(rising(tmp_path, 10.5, 1.0), PortValue)
    log = read_port_log(tmp_path / "rise.csv")
    assert isinstance(said_at(log, PIDS[0x05], 5.0, 1.0), NothingSaid)
    gap = said_at(log, ENGINE, 29.9, 0.1)
    assert isinstance(gap, PortValue)
    assert gap.value == 800.0


def test_the_steady_end_of_a_log(tmp_path):
    path = tmp_path / "t.csv"
    lines = [f"{t},0D,{80 if t > 3 else 20},km/h" for t in range(11)]
    path.write_text("\n".join(("time,pid,value,unit", *lines)) + "\n")
    log = read_port_log(path)
    said = said_last(log, SPEED, 5.0)
    assert isinstance(said, PortValue)
    assert (said.value, said.low, said.high, said.at_s) == (80.0, 80.0, 80.0, None)
    assert said.u == pytest.approx(0.57735, abs=1e-5)
    assert "2 answers of vehicle speed in the last 1 s" in str(said_last(log, SPEED, 1.0))


def test_which_number_a_dial_has():
    numbers = {dial.id: pid_of(dial) for dial in FAMILY.dials}
    assert {d: p.number for d, p in numbers.items() if p} == {
        "engine": 0x0C,
        "speed": 0x0D,
        "temp": 0x05,
        "fuel": 0x2F,
    }
    assert {fed_by(dial) for dial in FAMILY.dials} <= {"bus", "own_wire", "not_stated"}


def test_values_are_no_finer_than_they_are_written(tmp_path):
    # 3.2 thousand r/min is written to 100 r/min, whatever is sent; 80.25 % finer than 1 / 2.55 %.
    path = tmp_path / "t.csv"
    path.write_text(
        "time;pid;value;unit\n0,5;0C;3,2;1000 r/min\n1,0;0C;3;1000 r/min\n1,0;2F;80,25;%\n"
    )
    log = read_port_log(path)
    assert log.step_of(ENGINE) == pytest.approx(100.0)
    assert log.step_of(PIDS[0x2F]) == pytest.approx(100 / 255)
    assert log.begin_s == 0.5
    said = said_at(log, ENGINE, 0.75, 0.0)
    assert isinstance(said, PortValue)
    # lagging 0 to 0.5 s it is 3.2 thousand, and 3.1 by the end: linear between the answers
    assert (said.value, said.low, said.high) == (3200.0, 3100.0, 3200.0)
    assert said.u == pytest.approx(sqrt(100**2 + 100**2) / sqrt(3))


def test_a_gap_in_the_middle_of_a_long_doubt(tmp_path):
    path = tmp_path / "t.csv"
    path.write_text("time,pid,value,unit\n0,0D,80,km/h\n20,0D,80,km/h\n")
    found = said_at(read_port_log(path), SPEED, 10.25, 9.75)
    assert isinstance(found, NothingSaid)
    assert "up to 10.0 s away" in found.reason


def test_a_form_that_needs_another_library(tmp_path, monkeypatch):
    monkeypatch.setattr("can.io.mf4.asammdf", None)
    (tmp_path / "log.mf4").write_bytes(b"MDF     4.10    ")
    with pytest.raises(SignalError, match=r"log\.mf4: this form needs a library"):
        read_port_log(tmp_path / "log.mf4")
