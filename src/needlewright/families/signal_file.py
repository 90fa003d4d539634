"""The shape of a dial's `signal` and of the family's `supply` in `family.json`.

One model per kind of signal, told apart by `kind`. What involves the dial (its unit, its marks) is
checked in `signal_checks`.
"""

from typing import Annotated, Final, Literal

from pydantic import Field

from needlewright.families.fields import Length, NotNegative, Number, Open, Share, Text, UnitSymbol

Whole = Annotated[int, Field(strict=True, ge=0)]
Byte = Annotated[int, Field(strict=True, ge=0, le=255)]
Seen = Annotated[str, Field(strict=True, min_length=1)]
HexBytes = Annotated[str, Field(strict=True, pattern=r"^\s*([0-9A-Fa-f]{2}\s*)+$")]
Table = Annotated[list[tuple[Number, NotNegative]], Field(min_length=2)]

J1939_SPNS: Final = (84, 96, 100, 110, 168, 190)
"""Parameters a dial may be commanded by. SPN 245, total distance, is recorded, never commanded."""


class J1939File(Open):
    """One parameter of SAE J1939, by its number."""

    kind: Literal["j1939"]
    spn: Annotated[
        int, Field(strict=True, description=f"One of {', '.join(map(str, J1939_SPNS))}.")
    ]
    source: Byte = Field(0, description="Source address of the sender the cluster listens to.")
    priority: Annotated[int, Field(strict=True, ge=0, le=7)] | None = Field(
        None, description="Absent: 3 for engine speed, else 6."
    )
    period_ms: Length | None = Field(None, description="Absent: the parameter's published rate.")
    bitrate: Length = Field(250_000.0, description="Bits a second.")


class CounterFile(Open):
    """A signal that counts the messages sent."""

    kind: Literal["counter"]
    signal: Seen = Field(description="The counter's signal in the message.")
    modulus: Annotated[int, Field(strict=True, ge=2, le=256)] | None = Field(
        None, description="Absent: all the signal's bits."
    )


class ChecksumFile(Open):
    """A signal of eight bits computed over the other bytes."""

    kind: Literal["crc8_j1850", "xor", "sum"]
    signal: Seen = Field(description="The checksum's signal in the message.")
    seed: Byte = Field(0, description="Taken first; for xor and sum.")
    inverted: Annotated[bool, Field(strict=True)] = Field(
        False, description="All bits of the result turned; for xor and sum."
    )


FrameRuleFile = Annotated[CounterFile | ChecksumFile, Field(discriminator="kind")]


class DatabaseFile(Open):
    """A signal of the shop's own message database."""

    kind: Literal["can_database"]
    database: Seen = Field(description="File beside family.json: dbc, kcd, sym or arxml.")
    message: Seen
    signal: Seen
    unit: UnitSymbol | None = Field(
        None, description="Unit of the database's signal; absent: as the database says."
    )
    fixed: dict[str, Number | Text] = Field(
        default_factory=dict, description="Other signals of the message, multiplexers included."
    )
    rules: list[FrameRuleFile] = Field(
        default_factory=list, description="Counters first, then checksums, in order."
    )
    period_ms: Length | None = Field(None, description="Absent: the database's cycle time.")
    bitrate: Length | None = Field(None, description="Bits a second.")


class VpwFile(Open):
    """A number inside a frame of SAE J1850 at 10.4 kbit/s, variable pulse width."""

    kind: Literal["j1850_vpw"]
    frame: HexBytes = Field(description="All bytes before the CRC, in hex; the value's are 00.")
    first_byte: Annotated[int, Field(strict=True, ge=1, le=11)] = Field(
        description="Where the value starts, counted from 1; most significant byte first."
    )
    bytes: Annotated[int, Field(strict=True, ge=1, le=4)] = 1
    factor: Number = Field(description="Value of one bit, in the dial's unit.")
    offset: Number = Field(0.0, description="Value of raw 0, in the dial's unit.")
    period_ms: Length = Field(description="How often the frame is repeated.")


class ObdFile(Open):
    """An answer to a request of OBD-II mode 01."""

    kind: Literal["obd"]
    pid: Literal["05", "0C", "0D", "2F", "42"]
    bits: Literal[11, 29] = Field(11, description="Of the CAN identifier.")
    ecu: Byte = Field(
        0, description="11 bit: 0 to 7, answers from 7E8 + ecu; 29 bit: source address."
    )
    bitrate: Length = Field(500_000.0, description="Bits a second.")


class PulsesFile(Open):
    """Pulses whose frequency follows the value."""

    kind: Literal["pulses"]
    per: Literal["km", "mile", "turn"]
    pulses: Length = Field(description="How many, for each of `per`.")
    duty: Annotated[float, Field(strict=True, gt=0, lt=1)] = 0.5
    high_v: Number | None = Field(None, description="Level of a pulse, volts.")
    low_v: Number = Field(0.0, description="Level between pulses, volts.")


class DutyFile(Open):
    """Pulses of one frequency whose duty cycle follows the value."""

    kind: Literal["duty_cycle"]
    frequency_hz: Length
    table: Annotated[list[tuple[Number, Share]], Field(min_length=2)] = Field(
        description="[value, share of the period at the high level], rising value."
    )
    high_v: Number | None = None
    low_v: Number = 0.0


class SteinhartFile(Open):
    """Coefficients of 1/T = a + b ln R + c (ln R)^3, T in kelvin, R in ohm."""

    a: Number
    b: Number
    c: Number


class ResistanceFile(Open):
    """A sender's resistance: exactly one of `pair`, `table`, `steinhart_hart`."""

    kind: Literal["resistance"]
    pair: tuple[NotNegative, NotNegative] | None = Field(
        None, description="Ohms at the first and at the last mark, linear between."
    )
    table: Table | None = Field(None, description="[value, ohm], rising value.")
    steinhart_hart: SteinhartFile | None = None


class VoltageFile(Open):
    """A voltage that states the value: a table, or the supply itself."""

    kind: Literal["voltage"]
    table: Annotated[list[tuple[Number, Number]], Field(min_length=2)] | None = Field(
        None, description="[value, volts], rising value; absent: the dial's own volts."
    )


AnySignalFile = (
    J1939File
    | DatabaseFile
    | VpwFile
    | ObdFile
    | PulsesFile
    | DutyFile
    | ResistanceFile
    | VoltageFile
)
SignalFile = Annotated[AnySignalFile, Field(discriminator="kind")]


class SupplyFile(Open):
    """What the cluster is fed with on the bench."""

    nominal_v: Length = Field(13.5, description="What the supply is set to, volts.")
    lowest_v: NotNegative = Field(9.0, description="Below it a run stops, volts.")
    highest_v: Length = Field(16.0, description="Above it a run stops, volts.")
    limit_a: Length = Field(2.0, description="Current limit, amperes; more stops a run.")
    rest_a: tuple[NotNegative, Length] | None = Field(
        None, description="[least, most] a sound cluster draws at rest, key on, amperes."
    )
    sweep_a: tuple[NotNegative, Length] | None = Field(
        None, description="[least, most] it draws on average while its needles sweep, amperes."
    )
