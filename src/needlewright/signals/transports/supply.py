"""A bench supply by SCPI: voltage, current limit, current drawn, and when a run must end."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import ClassVar, Final

import pyvisa

from needlewright.errors import OverCurrentError, TransportError
from needlewright.families.signal_file import SupplyFile
from needlewright.signals.model import Command, Stimulus, VoltageStimulus
from needlewright.signals.settings import SupplySettings
from needlewright.signals.transports.transport import Transport
from needlewright.signals.transports.visa import Session, open_visa, trouble_words

SUPPLY: Final = "supply"
"""The name under which the supply's own voltage stands among the dials."""
SET_SLACK_V: Final = 0.02
"""How far the supply may round what it is set to."""
OUTPUT_SLACK_V: Final = 0.005


@dataclass(frozen=True, slots=True)
class SupplyReading:
    """What the supply measures at its output."""

    volts: float
    amperes: float


class SupplyTransport(Transport):
    """Carries a voltage within the family's limits; switches off when they are left.

    **Source**: SCPI-1999 volume 2, subsystems SOURce, OUTPut and MEASure, from memory.

    Parameters
    ----------
    settings
        The supply.
    limits
        The family's.
    opened_by
        Opens the instrument; another in tests.
    """

    name: ClassVar[str] = "bench supply"

    def __init__(
        self,
        settings: SupplySettings,
        limits: SupplyFile,
        opened_by: Callable[[SupplySettings], Session] = open_visa,
    ) -> None:
        super().__init__()
        self._settings = settings
        self._limits = limits
        self._opened_by = opened_by
        self._session: Session | None = None
        self.identity = ""
        """What the instrument says of itself."""

    def carries(self, stimulus: Stimulus) -> bool:
        """A voltage."""
        return isinstance(stimulus, VoltageStimulus)

    def power(self, volts: float | None = None) -> Command:
        """The command that feeds the cluster.

        Parameters
        ----------
        volts
            None: the family's nominal voltage.

        Returns
        -------
        Command
            For `apply`.
        """
        volts = self._limits.nominal_v if volts is None else volts
        return Command(SUPPLY, "V", volts, volts, self._settings.u_v, VoltageStimulus(volts))

    def reading(self) -> SupplyReading:
        """Voltage and current at the output now.

        Returns
        -------
        SupplyReading
            As the supply measures them.

        Raises
        ------
        TransportError
            If the supply does not answer with numbers.
        """
        return SupplyReading(self._number("MEAS:VOLT?"), self._number("MEAS:CURR?"))

    def _open(self) -> None:
        self._session = self._opened_by(self._settings)
        try:
            self.identity = self._ask("*IDN?")
            self._write("OUTP OFF")
            self._write(f"CURR {self._limits.limit_a:.3f}")
            self._refuse_errors("the current limit")
        except TransportError:
            self._close()
            raise

    def _put(self, wanted: Mapping[str, Command], new: tuple[Command, ...]) -> None:
        volts = {
            c.dial: c.stimulus.volts
            for c in wanted.values()
            if isinstance(c.stimulus, VoltageStimulus)
        }
        low, high = self._limits.lowest_v, self._limits.highest_v
        for command in new:
            set_to = volts[command.dial]
            if not low <= set_to <= high:
                raise TransportError(
                    f"'{command.dial}' asks the supply for {set_to:g} V, outside the family's "
                    f"{low:g} to {high:g} V; check the value, or the family's `supply`"
                )
            if any(abs(other - set_to) > OUTPUT_SLACK_V for other in volts.values()):
                told = ", ".join(f"'{dial}' {each:g} V" for dial, each in volts.items())
                raise TransportError(f"one supply gives one voltage, and is asked for {told}")
        if not new:
            return
        set_to = volts[new[-1].dial]
        self._write(f"VOLT {set_to:.3f}")
        self._refuse_errors(f"{set_to:g} V")
        answered = self._number("VOLT?")
        if abs(answered - set_to) > SET_SLACK_V:
            raise TransportError(f"the supply was set to {set_to:g} V and says {answered:g} V")
        self._write("OUTP ON")

    def _check(self) -> None:
        if not self._on_wires:
            return
        now, limits = self.reading(), self._limits
        if now.amperes > limits.limit_a:
            raise OverCurrentError(
                f"the cluster draws {now.amperes:.3g} A, above the family's limit of "
                f"{limits.limit_a:g} A; the supply is off; look for a short before it is on again"
            )
        if not limits.lowest_v <= now.volts <= limits.highest_v:
            raise TransportError(
                f"the supply gives {now.volts:.4g} V at {now.amperes:.3g} A, outside the family's "
                f"{limits.lowest_v:g} to {limits.highest_v:g} V; it is off; check the current "
                "limit and the leads"
            )

    def _stop(self) -> None:
        if self._session is None:
            return
        self._write("OUTP OFF")
        if self._ask("OUTP?").upper() not in ("0", "OFF"):
            raise TransportError("the supply does not switch off; switch it off by hand NOW")

    def _close(self) -> None:
        session, self._session = self._session, None
        if session is None:
            return
        try:
            session.close()
        except (pyvisa.Error, OSError) as error:
            raise TransportError(f"the supply cannot be closed: {trouble_words(error)}") from error

    def _write(self, line: str) -> None:
        try:
            self._live.write(line)
        except (pyvisa.Error, OSError) as error:
            raise self._silent(line, error) from error

    def _ask(self, line: str) -> str:
        try:
            answer = self._live.query(line).strip()
        except (pyvisa.Error, OSError) as error:
            raise self._silent(line, error) from error
        if not answer:
            raise TransportError(
                f"supply {self._settings.resource}: answers nothing to '{line}'; check its cable "
                "and its resource name"
            )
        return answer

    @property
    def _live(self) -> Session:
        if self._session is None:
            raise TransportError("the bench supply is closed; open it first")
        return self._session

    def _silent(self, line: str, error: Exception) -> TransportError:
        return TransportError(
            f"the supply does not take '{line}': {trouble_words(error)}; check its cable and power"
        )

    def _number(self, line: str) -> float:
        answer = self._ask(line)
        try:
            return float(answer)
        except ValueError as error:
            raise TransportError(
                f"the supply answers '{answer}' to '{line}', expected a number"
            ) from error

    def _refuse_errors(self, what: str) -> None:
        answer = self._ask("SYST:ERR?")
        if answer.partition(",")[0].strip().lstrip("+-") != "0":
            raise TransportError(f"the supply refuses {what}: {answer}")
