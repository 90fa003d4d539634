"""A dial commanded by one signal of one message of the shop's own database."""

from dataclasses import dataclass
from math import ceil, floor
from typing import Any, ClassVar, Final, Protocol, cast

import cantools
from cantools.database.can import Message
from cantools.database.can.signal import Signal as DatabaseField

from needlewright.errors import SignalError
from needlewright.signals.frame_rules import FrameRule
from needlewright.signals.frame_signal import NumberSignal
from needlewright.signals.model import Frame, FrameStimulus, Reach, Stated, Stimulus
from needlewright.signals.signal import Wire
from needlewright.units import convert

RAW_ROUNDING: Final = 1e-6
"""A limit that is a whole raw value is not missed for the last binary digits."""


class _Encoder(Protocol):
    def encode(self, data: dict[str, Any], scaling: bool, strict: bool) -> bytes: ...


def raw_limits(field: DatabaseField) -> tuple[int, int]:
    """Lowest and highest number the field's bits can hold."""
    if field.is_signed:
        return -(1 << field.length - 1), (1 << field.length - 1) - 1
    return 0, (1 << field.length) - 1


def name_of(field: DatabaseField, raw: int) -> str:
    """What the database calls a raw value; empty: it is an ordinary number."""
    return str(field.choices[raw]) if field.choices and raw in field.choices else ""


def encoded(message: Message, raws: dict[str, float]) -> bytes:
    """A message's data.

    Parameters
    ----------
    message
        Of the database.
    raws
        Signal to raw value, all that are sent.

    Returns
    -------
    bytes
        As long as the message.

    Raises
    ------
    SignalError
        If a signal is missing or does not fit.
    """
    try:
        return bytes(cast(_Encoder, message).encode(raws, scaling=False, strict=False))
    except (cantools.Error, KeyError, ValueError, OverflowError) as error:
        words = " ".join(str(error).split())
        raise SignalError(f"message '{message.name}' cannot be encoded: {words}") from error


@dataclass(frozen=True, slots=True)
class DatabaseSignal(NumberSignal):
    """A dial commanded by one signal of a message; the others are held at what the family says."""

    kind: ClassVar[str] = "can_database"

    wire: Wire
    message: Message
    field: DatabaseField
    unit: str
    """Of the field."""
    others: dict[str, float]
    """Raw values of the message's other signals."""
    mask: int
    rules: tuple[FrameRule, ...]
    repeated_s: float | None
    bitrate: float | None
    page: str
    """See `FrameStimulus`."""

    @property
    def reach(self) -> Reach:
        """What the database allows, and the field's bits can state."""
        scale, offset = float(self.field.scale), float(self.field.offset)
        low, high = sorted(scale * raw + offset for raw in raw_limits(self.field))
        minimum, maximum = self.field.minimum, self.field.maximum
        if minimum is not None and maximum is not None and maximum > minimum:
            low, high = max(low, float(minimum)), min(high, float(maximum))
        return Reach(*(convert(each, self.unit, self.wire.unit) for each in (low, high)))

    @property
    def period_s(self) -> float | None:
        """As the family says, else the database's cycle time."""
        return self.repeated_s

    @property
    def factor(self) -> float:
        """See `NumberSignal`."""
        there = convert(float(self.field.scale), self.unit, self.wire.unit)
        return there - convert(0.0, self.unit, self.wire.unit)

    def stated_by(self, stimulus: Stimulus | Frame) -> Stated:
        """See `Signal`; checksums are checked, and a multiplexed signal must be the one sent."""
        frame = stimulus.frame() if isinstance(stimulus, FrameStimulus) else stimulus
        if not isinstance(frame, Frame):
            raise self._foreign(frame)
        message = self.message
        if (frame.arbitration_id, frame.extended) != (
            message.frame_id,
            message.is_extended_frame,
        ):
            raise SignalError(
                f"dial '{self.wire.dial}': frame {frame.text} is not message '{message.name}'"
            )
        if len(frame.data) != message.length:
            return self._not(f"expected {message.length} bytes", frame)
        for rule in self.rules:
            if complaint := rule.complaint(frame.data):
                return self._not(complaint, frame)
        try:
            found = message.decode(frame.data, decode_choices=False, scaling=False)
        except (cantools.Error, KeyError) as error:
            return self._not(" ".join(str(error).split()), frame)
        return self._stated(cast("dict[str, Any]", found), frame)

    def _stated(self, found: dict[str, Any], frame: Frame) -> Stated:
        name = self.field.name
        if name not in found:
            return self._not(f"its multiplexer leaves '{name}' out", frame)
        raw = int(found[name])
        named = name_of(self.field, raw)
        if named:
            return Stated(None, "not_available", f"signal '{name}' says '{named}' (raw {raw})")
        value, reach = self._value_of_raw(raw), self.reach
        if not reach.low - 1e-9 <= value <= reach.high + 1e-9:
            words = (
                f"signal '{name}' states {value:g} {self.wire.unit}, outside its "
                f"{reach.low:g} to {reach.high:g}"
            )
            return Stated(None, "out_of_range", words)
        return Stated(value, "valid")

    def _raw_of(self, value: float) -> int:
        field = self.field
        raw = round(self._exact_raw(value))
        low, high = self._raw_reach()
        raw = min(max(raw, low), high)  # rounded inwards at an end
        if named := name_of(field, raw):
            raise SignalError(
                f"dial '{self.wire.dial}': {value:g} {self.wire.unit} is raw {raw} of signal "
                f"'{field.name}', which the database keeps for '{named}'"
            )
        return raw

    def _exact_raw(self, value: float) -> float:
        there = convert(value, self.wire.unit, self.unit)
        return (there - float(self.field.offset)) / float(self.field.scale)

    def _raw_reach(self) -> tuple[int, int]:
        """The outermost raw values within `reach`."""
        ends = sorted(self._exact_raw(each) for each in (self.reach.low, self.reach.high))
        return ceil(ends[0] - RAW_ROUNDING), floor(ends[1] + RAW_ROUNDING)

    def _value_of_raw(self, raw: int) -> float:
        there = raw * float(self.field.scale) + float(self.field.offset)
        return convert(there, self.unit, self.wire.unit)

    def _stimulus(self, raw: int) -> FrameStimulus:
        message = self.message
        data = encoded(message, {**self.others, self.field.name: raw})
        return FrameStimulus(
            message.frame_id,
            message.is_extended_frame,
            data,
            self.mask,
            self.repeated_s,
            self.bitrate,
            self.rules,
            self.page,
        )
