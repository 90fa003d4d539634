"""Invented dials of every kind of signal, for the tests of this folder."""

import copy
from pathlib import Path
from typing import Any

from families.places import plain, put
from needlewright.families.folder import load_family
from needlewright.families.model import Family

DASH_DBC = """VERSION ""
NS_ :
BS_:
BU_: Bench Cluster
BO_ 256 Dash: 8 Bench
 SG_ Speed : 7|16@0+ (0.01,0) [0|300] "km/h" Cluster
 SG_ Engine : 16|14@1+ (0.5,0) [0|8000] "1/min" Cluster
 SG_ Counter : 52|4@1+ (1,0) [0|15] "" Cluster
 SG_ Check : 56|8@1+ (1,0) [0|255] "" Cluster
BO_ 2566844672 Paged: 4 Bench
 SG_ Page M : 0|8@1+ (1,0) [0|255] "" Cluster
 SG_ Fuel m1 : 8|8@1+ (0.5,0) [0|100] "%" Cluster
 SG_ Coolant m2 : 8|8@1- (1,20) [-60|140] "C" Cluster
 SG_ Odd : 16|8@1+ (1,0) [0|255] "furlong" Cluster
 SG_ Mode : 24|4@1+ (1,0) [0|15] "" Cluster
CM_ "Invented for tests.";
BA_DEF_ BO_ "GenMsgCycleTime" INT 0 10000;
BA_DEF_DEF_ "GenMsgCycleTime" 0;
BA_ "GenMsgCycleTime" BO_ 256 20;
VAL_ 2566844672 Fuel 255 "not there" ;
VAL_ 2566844672 Mode 0 "off" 5 "driving" ;
"""


def dial(dial_id: str, unit: str, first: float, last: float, signal: Any) -> dict[str, Any]:
    """A dial of two marks with a signal."""
    made = copy.deepcopy(plain()["dials"][0])
    made |= {
        "id": dial_id,
        "unit": unit,
        "quantity": dial_id,
        "scale": [[first, -120], [last, 120]],
        "signal": signal,
    }
    return made


RULES = [
    {"kind": "counter", "signal": "Counter", "modulus": 15},
    {"kind": "crc8_j1850", "signal": "Check"},
]

DIALS: dict[str, dict[str, Any]] = {
    each["id"]: each
    for each in (
        dial("j1939-speed", "km/h", 0, 200, {"kind": "j1939", "spn": 84}),
        dial("j1939-mph", "mph", 0, 140, {"kind": "j1939", "spn": 84, "source": 0x31}),
        dial("j1939-engine", "1000 r/min", 0, 8, {"kind": "j1939", "spn": 190}),
        dial("j1939-coolant", "degF", 100, 260, {"kind": "j1939", "spn": 110}),
        dial("j1939-oil", "bar", 0, 10, {"kind": "j1939", "spn": 100}),
        dial("j1939-fuel", "fraction of full", 0, 1, {"kind": "j1939", "spn": 96}),
        dial("j1939-volts", "V", 8, 16, {"kind": "j1939", "spn": 168}),
        dial(
            "dbc-speed",
            "mph",
            0,
            140,
            {
                "kind": "can_database",
                "database": "dash.dbc",
                "message": "Dash",
                "signal": "Speed",
                "rules": RULES,
            },
        ),
        dial(
            "dbc-engine",
            "rpm",
            0,
            7000,
            {
                "kind": "can_database",
                "database": "dash.dbc",
                "message": "Dash",
                "signal": "Engine",
                "rules": RULES,
            },
        ),
        dial(
            "dbc-fuel",
            "%",
            0,
            100,
            {
                "kind": "can_database",
                "database": "dash.dbc",
                "message": "Paged",
                "signal": "Fuel",
                "fixed": {"Mode": "driving"},
                "period_ms": 200,
            },
        ),
        dial(
            "dbc-coolant",
            "degC",
            -40,
            120,
            {
                "kind": "can_database",
                "database": "dash.dbc",
                "message": "Paged",
                "signal": "Coolant",
                "fixed": {"Mode": "driving"},
                "period_ms": 200,
            },
        ),
        dial(
            "vpw-speed",
            "km/h",
            0,
            220,
            {
                "kind": "j1850_vpw",
                "frame": "48 29 10 02 00 00",
                "first_byte": 5,
                "bytes": 2,
                "factor": 0.0078125,
                "period_ms": 100,
            },
        ),
        dial(
            "vpw-falling",
            "degC",
            -40,
            120,
            {
                "kind": "j1850_vpw",
                "frame": "48 49 10 00",
                "first_byte": 4,
                "factor": -1,
                "offset": 150,
                "period_ms": 500,
            },
        ),
        dial("obd-speed", "mph", 0, 140, {"kind": "obd", "pid": "0D"}),
        dial("obd-engine", "rpm", 0, 8000, {"kind": "obd", "pid": "0C", "bits": 29, "ecu": 16}),
        dial("obd-coolant", "degC", 40, 120, {"kind": "obd", "pid": "05", "ecu": 7}),
        dial("obd-fuel", "fraction of full", 0, 1, {"kind": "obd", "pid": "2F"}),
        dial("obd-volts", "V", 8, 16, {"kind": "obd", "pid": "42"}),
        dial("pulses-km", "km/h", 0, 220, {"kind": "pulses", "per": "km", "pulses": 4000}),
        dial("pulses-mile", "mph", 0, 140, {"kind": "pulses", "per": "mile", "pulses": 8000}),
        dial("pulses-turn", "1000 r/min", 0, 8, {"kind": "pulses", "per": "turn", "pulses": 2}),
        dial(
            "duty",
            "fraction of full",
            0,
            1,
            {"kind": "duty_cycle", "frequency_hz": 128, "table": [[0, 0.9], [0.5, 0.6], [1, 0.1]]},
        ),
        dial("pair", "fraction of full", 0, 1, {"kind": "resistance", "pair": [240, 33]}),
        dial("pair-rising", "%", 0, 100, {"kind": "resistance", "pair": [0, 90]}),
        dial(
            "ohms",
            "bar",
            0,
            10,
            {"kind": "resistance", "table": [[0, 10], [2, 52], [5, 110], [10, 184]]},
        ),
        dial(
            "thermistor",
            "degC",
            40,
            120,
            {
                "kind": "resistance",
                "steinhart_hart": {"a": 1.1041591e-3, "b": 2.3891795e-4, "c": 6.9316265e-8},
            },
        ),
        dial("volts", "V", 8, 16, {"kind": "voltage"}),
        dial("amps", "A", -60, 60, {"kind": "voltage", "table": [[-60, -0.06], [60, 0.06]]}),
        dial("volts-table", "psi", 0, 100, {"kind": "voltage", "table": [[0, 0.5], [100, 4.5]]}),
    )
}


def family_with(folder: Path, *dials: dict[str, Any], **fields: Any) -> Family:
    """A family folder with these dials, the database beside it, loaded."""
    (folder / "dash.dbc").parent.mkdir(parents=True, exist_ok=True)
    (folder / "dash.dbc").write_text(DASH_DBC, encoding="utf-8")
    return load_family(put(folder, plain() | {"dials": list(dials)} | fields))
