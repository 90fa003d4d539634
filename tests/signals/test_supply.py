"""The bench supply: what is sent, what is read, and what ends a run."""

import socket
import threading

import pytest
import pyvisa

from needlewright.errors import TransportError
from needlewright.signals.settings import SupplySettings
from needlewright.signals.transports.by_hand import HandTransport
from needlewright.signals.transports.supply import SupplyTransport
from needlewright.signals.transports.testing import ExpectedCommands, ExpectedDialogue
from needlewright.signals.transports.visa import TIMEOUT_MS, trouble_words
from signals.benches import LIMITS, SUPPLY, ohm_command, supply, volts_command

OPENING = [
    ("*IDN?", "INVENTED,SUPPLY,0,1"),
    ("OUTP OFF", None),
    ("CURR 2.000", None),
    ("SYST:ERR?", '+0,"No error"'),
]
SETTING = [
    ("VOLT 13.500", None),
    ("SYST:ERR?", "0,No error"),
    ("VOLT?", "13.500"),
    ("OUTP ON", None),
]
OFF = [("OUTP OFF", None), ("OUTP?", "0")]


def scripted(*lines):
    dialogue = ExpectedDialogue([*OPENING, *lines])
    return dialogue, SupplyTransport(SUPPLY, LIMITS, opened_by=lambda settings: dialogue)


def test_the_current_limit_is_set_before_the_voltage_and_both_before_the_output():
    measuring = [("MEAS:CURR?", "0.31"), ("MEAS:VOLT?", "13.49")]
    dialogue, transport = scripted(*SETTING, *reversed(measuring), *OFF)
    with transport:
        transport.apply(transport.power())
        transport.check()
    dialogue.finish()
    assert dialogue.closed
    assert transport.identity == "INVENTED,SUPPLY,0,1"


@pytest.mark.parametrize(
    ("volts", "amperes", "says"),
    [
        ("13.5", "2.01", "the cluster draws 2.01 A, above the family's limit of 2 A"),
        ("8.9", "2.00", "gives 8.9 V at 2 A, outside the family's 9 to 16 V"),
        ("16.1", "0.3", "gives 16.1 V at 0.3 A, outside the family's 9 to 16 V"),
        ("?", "0.3", "answers '?' to 'MEAS:VOLT?', expected a number"),
    ],
)
def test_over_current_and_wrong_voltage_switch_off_and_end_the_run(volts, amperes, says):
    measuring = [("MEAS:VOLT?", volts)] + ([("MEAS:CURR?", amperes)] if volts != "?" else [])
    dialogue, transport = scripted(*SETTING, *measuring, *OFF, *OFF)
    with transport:
        transport.apply(transport.power())
        with pytest.raises(TransportError) as ended:
            transport.check()
        assert says in str(ended.value)
        assert transport.state == "failed"
    dialogue.finish()


def test_a_supply_that_refuses_or_rounds_is_not_switched_on():
    refusing = [("VOLT 13.500", None), ("SYST:ERR?", '-222,"Data out of range"')]
    dialogue, transport = scripted(*refusing, *OFF, *OFF)
    with transport, pytest.raises(TransportError, match=r"refuses 13.5 V: -222"):
        transport.apply(transport.power())
    dialogue.finish()
    rounding = [("VOLT 13.500", None), ("SYST:ERR?", "0"), ("VOLT?", "12.0")]
    dialogue, transport = scripted(*rounding, *OFF, *OFF)
    with transport, pytest.raises(TransportError, match=r"was set to 13.5 V and says 12 V"):
        transport.apply(transport.power())
    dialogue.finish()


def test_a_supply_that_does_not_switch_off_is_told_loudly():
    dialogue, transport = scripted(*SETTING, ("OUTP OFF", None), ("OUTP?", "1"))
    transport.open()
    transport.apply(transport.power())
    with pytest.raises(TransportError, match="switch it off by hand NOW"):
        transport.close()
    assert transport.state == "closed"
    assert dialogue.closed


def test_a_failure_that_cannot_be_switched_off_says_both():
    measuring = [("MEAS:VOLT?", "13.5"), ("MEAS:CURR?", "2.5")]
    stuck = [("OUTP OFF", None), ("OUTP?", "1")]
    dialogue, transport = scripted(*SETTING, *measuring, *stuck, *OFF)
    with transport:
        transport.apply(transport.power())
        with pytest.raises(
            TransportError, match=r"draws 2.5 A.*and stopping failed: .*by hand NOW"
        ):
            transport.check()
    dialogue.finish()


@pytest.mark.parametrize("volts", [8.99, 16.01, 24.0])
def test_a_voltage_outside_the_familys_limits_is_refused(volts):
    with supply() as transport:
        with pytest.raises(TransportError, match=r"outside the family's 9 to 16 V"):
            transport.apply(transport.power(volts))
        assert transport._live.query("OUTP?") == "OFF"


def test_one_supply_gives_one_voltage():
    with supply() as transport:
        transport.apply(transport.power(13.5))
        with pytest.raises(TransportError, match=r"is asked for 'supply' 13.5 V, 'volts' 12 V"):
            transport.apply(volts_command("volts", 12.0))


def test_the_simulated_supply_from_power_to_over_current():
    with supply() as transport:
        assert transport.identity == "INVENTED,BENCH SUPPLY,0,1.0"
        session = transport._live
        assert session.query("CURR?") == "2.000"
        transport.apply(transport.power())
        assert (session.query("VOLT?"), session.query("OUTP?")) == ("13.500", "ON")
        reading = transport.reading()
        assert (reading.volts, reading.amperes) == (13.5, 0.3)
        transport.check()
        session.write("TEST:CURR 2.500")
        with pytest.raises(TransportError, match=r"draws 2.5 A"):
            transport.check()
        assert session.query("OUTP?") == "OFF"


@pytest.mark.parametrize(
    ("resource", "library", "why"),
    [
        ("nonsense", SUPPLY.library, "this is no VISA resource name; write one like TCPIP::192.0"),
        ("TCPIP::h::SOCKET", "@py", "this is no VISA resource name"),
        ("TCPIP::h::99999::SOCKET", "@py", "'99999' is no port, a number from 1 to 65535"),
        ("TCPIP::h::one::SOCKET", "@py", "'one' is no port"),
        ("GPIB0::5::INSTR", "@py", "GPIB needs the Python package gpib-ctypes, which is not"),
        (SUPPLY.resource, "no-such-file.yaml@sim", "the VISA library 'no-such-file.yaml@sim'"),
        (SUPPLY.resource, "@nowhere", "the VISA library '@nowhere' cannot be used; leave `lib"),
    ],
)
def test_an_absent_supply_is_one_sentence_of_our_own(resource, library, why):
    transport = SupplyTransport(SupplySettings(resource=resource, library=library), LIMITS)
    with pytest.raises(TransportError) as refused:
        transport.open()
    words = str(refused.value)
    assert f"supply {resource}: cannot be opened: {why}" in words.replace("a resource ", "")
    assert "\n" not in words
    assert not any(theirs in words for theirs in ("read_termination", "Wrapper", "[Errno", "VI_"))
    assert transport.state == "closed"


@pytest.mark.parametrize(
    ("code", "words"),
    [
        # names and numbers of the codes: VPP-4.3, VISA library specification, appendix B (memory)
        (-1073807343, "there is no such device"),  # BFFF0011h, resource not found
        (-1073807246, "another program uses it"),  # BFFF0072h, resource busy
        (-1073807339, "it does not answer in time"),  # BFFF0015h, timeout
        (-1073807327, "VISA status VI_ERROR_INV_ACCESS_KEY"),  # BFFF0021h, none of the common
    ],
)
def test_a_status_code_of_visa_is_told_in_words(code, words):
    assert trouble_words(pyvisa.VisaIOError(code)) == words


def test_an_error_of_the_system_is_told_without_its_number():
    refused = ConnectionRefusedError(111, "Connection refused")
    assert trouble_words(refused) == "connection refused"
    assert trouble_words(Exception("could not connect: [Errno 111]")) == "it cannot be reached"


def test_a_supply_that_says_nothing_of_itself_is_no_supply():
    dialogue = ExpectedDialogue([("*IDN?", " ")])
    transport = SupplyTransport(SUPPLY, LIMITS, opened_by=lambda settings: dialogue)
    with pytest.raises(TransportError, match=r"answers nothing to '\*IDN\?'; check its cable"):
        transport.open()
    assert dialogue.closed
    assert transport.state == "closed"


def test_the_fakes_fail_on_what_is_left_over_and_on_what_was_not_expected():
    dialogue = ExpectedDialogue([("A", None), ("B?", "1")])
    with pytest.raises(AssertionError, match="was never sent"):
        dialogue.finish()
    with pytest.raises(AssertionError, match="expected 'A', and 'B' came"):
        dialogue.write("B")
    dialogue = ExpectedDialogue([("B?", "1")])
    with pytest.raises(AssertionError, match="is it answered or not"):
        dialogue.write("B?")
    with pytest.raises(AssertionError, match="nothing more was expected"):
        dialogue.write("C")
    with ExpectedCommands([("fuel", 1.0), ("fuel", 2.0)]) as commands:
        commands.apply(ohm_command("fuel", 1.0))
        with pytest.raises(AssertionError, match="was never commanded"):
            commands.finish()
        with pytest.raises(AssertionError, match="expected"):
            commands.apply(ohm_command("fuel", 3.0))
        with pytest.raises(AssertionError, match="nothing more was expected"):
            commands.apply(ohm_command("fuel", 4.0))


def test_a_person_is_shown_what_to_do_and_may_give_up():
    shown: list[list[str]] = []
    answers = iter([True, False])
    with HandTransport(shown.append, lambda: next(answers)) as transport:
        transport.apply(ohm_command("fuel", 136.5))
        assert shown[0][0].startswith("fuel: 136.5 ohm")
        assert shown[0][1].startswith("decade box to 136.5 ohm in the sender's place")
        with pytest.raises(TransportError, match=r"dial 'fuel' was not set to 33 ohm.*given up"):
            transport.apply(ohm_command("fuel", 33.0))
        assert transport.state == "failed"
    off = "take everything off the wires: outputs off, sender's place open"
    assert [lines for lines in shown if lines[0] == off] == [shown[-1]]
    shown.clear()
    with HandTransport(shown.append, lambda: True):
        pass
    assert shown == []


class SocketSupply(threading.Thread):
    """An invented supply behind a socket of this machine, line by line."""

    def __init__(self) -> None:
        super().__init__(daemon=True)
        self._listening = socket.create_server(("127.0.0.1", 0))
        self.port = self._listening.getsockname()[1]
        self.lines: list[str] = []

    def run(self) -> None:
        volts, output = "0", "0"
        connection, _ = self._listening.accept()
        with self._listening, connection, connection.makefile("rw", newline="\n") as stream:
            for line in stream:
                said = line.strip()
                self.lines.append(said)
                volts = said.removeprefix("VOLT ") if said.startswith("VOLT ") else volts
                output = {"OUTP ON": "1", "OUTP OFF": "0"}.get(said, output)
                answers = {"*IDN?": "INVENTED", "VOLT?": volts, "MEAS:VOLT?": volts}
                answers |= {"MEAS:CURR?": "+2.5E-01", "OUTP?": output, "SYST:ERR?": "0"}
                if said.endswith("?"):
                    stream.write(answers[said] + "\n")
                    stream.flush()


def test_a_supply_behind_a_socket_by_the_library_that_benches_use():
    server = SocketSupply()
    server.start()
    settings = SupplySettings(resource=f"TCPIP0::127.0.0.1::{server.port}::SOCKET", library="@py")
    with SupplyTransport(settings, LIMITS) as transport:
        transport.apply(transport.power(12.6))
        transport.check()
        assert transport.reading().amperes == 0.25
    server.join(180.0)
    assert server.lines[:3] == ["*IDN?", "OUTP OFF", "CURR 2.000"]
    assert server.lines[-2:] == ["OUTP OFF", "OUTP?"]


def test_a_supply_that_falls_silent_ends_the_run():
    server = SocketSupply()
    server.start()
    settings = SupplySettings(resource=f"TCPIP0::127.0.0.1::{server.port}::SOCKET", library="@py")
    transport = SupplyTransport(settings, LIMITS).open()
    transport._live.timeout = 50  # only now: opening may take what a busy machine takes
    with pytest.raises(TransportError, match=r"does not take 'SILENT': .*check its cable"):
        transport._ask("SILENT")
    transport._live.timeout = TIMEOUT_MS
    transport.close()
