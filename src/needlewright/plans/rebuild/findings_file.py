"""Findings from a file: what another command prints as JSON, or a plain list of faults."""

import json
from collections.abc import Mapping
from math import isfinite
from pathlib import Path
from typing import Any, Final

from needlewright.errors import PlanError, UnitError
from needlewright.findings.troubleshooting.model import SOUND, Knowledge
from needlewright.plans.decimal_comma import pointed
from needlewright.plans.rebuild.findings import WHOLE

MOST_BYTES: Final = 20_000_000
ROUNDS: Final = 60

Shares = dict[tuple[str, str], float]


def parse_fault(text: str) -> tuple[tuple[str, str], float]:
    """A fault as it is typed: `speed:lost_steps/movement=0.9`; raises PlanError if it is none."""
    named, equals, value = text.partition("=")
    place, colon, fault = named.strip().partition(":")
    try:
        p = float(pointed(value.strip())) if equals else 1.0
    except (ValueError, UnitError):
        p = float("nan")
    if not (colon and place.strip() and fault.strip() and isfinite(p)):
        raise PlanError(
            f"expected DIAL:FAULT=PROBABILITY, such as speed:lost_steps=0.9, found '{text}'"
        )
    return (place.strip(), fault.strip()), p


def read_findings(path: Path, knowledge: Knowledge) -> Shares:
    """Read findings.

    Parameters
    ----------
    path
        JSON of `needlewright troubleshoot`, or `{"faults": {"speed:lost_steps": 0.9}}`.
    knowledge
        How often a cause lies in which part, where the document tells causes and parts apart only.

    Returns
    -------
    dict
        Probability by place and fault.

    Raises
    ------
    PlanError
        If it cannot be read, or holds neither.
    """
    try:
        content = path.read_bytes()
    except OSError as error:
        raise PlanError(f"{path}: cannot be opened: {error.strerror or error}") from error
    if len(content) > MOST_BYTES:
        raise PlanError(f"{path}: {len(content)} bytes are no findings")
    try:
        document = json.loads(content)
    except (UnicodeDecodeError, json.JSONDecodeError, RecursionError) as error:
        raise PlanError(f"{path}: is no JSON: {error}") from error
    return _shares(str(path), document, knowledge)


def _shares(name: str, document: Any, knowledge: Knowledge) -> Shares:
    if isinstance(document, dict) and isinstance(document.get("faults"), dict):
        given = _numbers(f"{name}: faults", document["faults"])
        shares = {}
        for key, p in given.items():
            place, colon, fault = key.partition(":")
            if not colon:
                raise PlanError(f"{name}: faults: expected 'DIAL:FAULT', found '{key}'")
            shares[place, fault] = p
        return shares
    if isinstance(document, dict) and isinstance(document.get("dials"), dict):
        return _believed(name, document, knowledge)
    raise PlanError(
        f"{name}: holds no findings; give what `needlewright troubleshoot --json` prints, or "
        '{"faults": {"speed:lost_steps": 0.9}}'
    )


def _believed(name: str, document: Mapping[str, Any], knowledge: Knowledge) -> Shares:
    """What troubleshooting believes: causes and parts of every dial, causes of the whole."""
    if document.get("responsible") == []:
        return {}  # nobody complained: what was believed beforehand is no finding
    shares: Shares = {}
    parts = document.get("parts") or {}
    for dial, causes in document["dials"].items():
        believed = _numbers(f"{name}: dials.{dial}", causes)
        of_parts = _numbers(f"{name}: parts.{dial}", parts.get(dial) or {})
        for state, p in joined(believed, of_parts, knowledge).items():
            shares[dial, state] = p
    for code, p in _numbers(f"{name}: whole", document.get("whole") or {}).items():
        shares[WHOLE, code] = p
    return shares


def joined(
    causes: Mapping[str, float], parts: Mapping[str, float], knowledge: Knowledge
) -> dict[str, float]:
    """Causes by part, where only how probable each cause and each part is was told.

    Parameters
    ----------
    causes
        Probability by cause.
    parts
        Probability by part; empty: not told.
    knowledge
        How often a cause lies in which part beforehand.

    Returns
    -------
    dict
        Probability by `code/part`, and by code where a cause has no parts.

    Notes
    -----
    Of all tables with the told sums, the one nearest to what was known beforehand, by fitting rows
    and columns in turn. **Source**: iterative proportional fitting, Deming and Stephan (1940), from
    memory.
    """
    table: dict[tuple[str, str], float] = {}
    plain: dict[str, float] = {}
    for code, p in causes.items():
        cause = knowledge.causes.get(code)
        shares = cause.parts if cause is not None else {}
        if code == SOUND or not shares:
            plain[code] = p
        table.update({(code, part): p * share for part, share in shares.items()})
    for _ in range(ROUNDS if parts else 0):
        _scale(table, 1, parts)
        _scale(table, 0, causes)
    return plain | {f"{code}/{part}": p for (code, part), p in table.items()}


def _scale(table: dict[tuple[str, str], float], axis: int, told: Mapping[str, float]) -> None:
    sums: dict[str, float] = {}
    for key, p in table.items():
        sums[key[axis]] = sums.get(key[axis], 0.0) + p
    for key in table:
        if sums[key[axis]] > 0 and key[axis] in told:
            table[key] *= told[key[axis]] / sums[key[axis]]


def _numbers(place: str, shares: Any) -> dict[str, float]:
    if not isinstance(shares, dict):
        raise PlanError(f"{place}: expected probabilities by name")
    for key, p in shares.items():
        if isinstance(p, bool) or not isinstance(p, int | float):
            raise PlanError(f"{place}.{key}: expected a probability from 0 to 1, found {p!r}")
    return {key: float(p) for key, p in shares.items()}
