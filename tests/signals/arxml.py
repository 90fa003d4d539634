"""An invented database in the form of AUTOSAR 4.2: one frame, one speed."""

NAMESPACE = "http:" + "//autosar.org/schema/r4.0"  # a name of the format, nothing is fetched
LITTLE = "<PACKING-BYTE-ORDER>MOST-SIGNIFICANT-BYTE-LAST</PACKING-BYTE-ORDER>"


def _ref(tag: str, kind: str, name: str) -> str:
    return f'<{tag} DEST="{kind}">/Bench/{name}</{tag}>'


def _element(kind: str, name: str, *inside: str) -> str:
    return f"<{kind}><SHORT-NAME>{name}</SHORT-NAME>{''.join(inside)}</{kind}>"


def _nested(tags: str, inside: str) -> str:
    for tag in reversed(tags.split()):
        inside = f"<{tag}>{inside}</{tag}>"
    return inside


CLUSTER = _element(
    "CAN-CLUSTER",
    "Bus",
    _nested(
        "CAN-CLUSTER-VARIANTS CAN-CLUSTER-CONDITIONAL PHYSICAL-CHANNELS",
        _element(
            "CAN-PHYSICAL-CHANNEL",
            "Wire",
            _nested(
                "FRAME-TRIGGERINGS",
                _element(
                    "CAN-FRAME-TRIGGERING",
                    "DashTrigger",
                    _ref("FRAME-REF", "CAN-FRAME", "Dash"),
                    "<CAN-ADDRESSING-MODE>STANDARD</CAN-ADDRESSING-MODE>",
                    "<IDENTIFIER>256</IDENTIFIER>",
                ),
            ),
        ),
    ),
)
FRAME = _element(
    "CAN-FRAME",
    "Dash",
    "<FRAME-LENGTH>8</FRAME-LENGTH>",
    _nested(
        "PDU-TO-FRAME-MAPPINGS",
        _element(
            "PDU-TO-FRAME-MAPPING",
            "WholeFrame",
            LITTLE,
            _ref("PDU-REF", "I-SIGNAL-I-PDU", "DashUnit"),
            "<START-POSITION>0</START-POSITION>",
        ),
    ),
)
UNIT = _element(
    "I-SIGNAL-I-PDU",
    "DashUnit",
    "<LENGTH>8</LENGTH>",
    _nested(
        "I-SIGNAL-TO-PDU-MAPPINGS",
        _element(
            "I-SIGNAL-TO-I-PDU-MAPPING",
            "SpeedPlace",
            _ref("I-SIGNAL-REF", "I-SIGNAL", "Speed"),
            LITTLE,
            "<START-POSITION>8</START-POSITION>",
        ),
    ),
)
SPEED = (
    _element(
        "I-SIGNAL",
        "Speed",
        "<LENGTH>16</LENGTH>",
        _ref("SYSTEM-SIGNAL-REF", "SYSTEM-SIGNAL", "RoadSpeed"),
    )
    + _element(
        "SYSTEM-SIGNAL",
        "RoadSpeed",
        _nested(
            "PHYSICAL-PROPS SW-DATA-DEF-PROPS-VARIANTS SW-DATA-DEF-PROPS-CONDITIONAL",
            _ref("COMPU-METHOD-REF", "COMPU-METHOD", "Hundredths")
            + _ref("UNIT-REF", "UNIT", "Kmh"),
        ),
    )
    + _element("UNIT", "Kmh", "<DISPLAY-NAME>km/h</DISPLAY-NAME>")
    + _element(
        "COMPU-METHOD",
        "Hundredths",
        "<CATEGORY>LINEAR</CATEGORY>",
        _nested(
            "COMPU-INTERNAL-TO-PHYS COMPU-SCALES COMPU-SCALE COMPU-RATIONAL-COEFFS",
            "<COMPU-NUMERATOR><V>0</V><V>1</V></COMPU-NUMERATOR>"
            "<COMPU-DENOMINATOR><V>100</V></COMPU-DENOMINATOR>",
        ),
    )
)
DASH_ARXML = (
    f'<?xml version="1.0" encoding="utf-8"?><AUTOSAR xmlns="{NAMESPACE}" '
    'xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance" '
    f'xsi:schemaLocation="{NAMESPACE} AUTOSAR_4-2-2.xsd">'
    + _nested(
        "AR-PACKAGES",
        _element("AR-PACKAGE", "Bench", f"<ELEMENTS>{CLUSTER}{FRAME}{UNIT}{SPEED}</ELEMENTS>"),
    )
    + "</AUTOSAR>\n"
)
