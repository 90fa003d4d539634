"""A finished job in four lines: how it came in, what needles needed, what turned, what passes."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median

from needlewright.proofs.proof_model import DialRecord, NeedleRecord, Proof, RowRecord, SideRecord
from needlewright.proofs.verdict_words import with_unit
from needlewright.rules.decision import COVERAGE_K


@dataclass(frozen=True, slots=True)
class JobSummary:
    """One line each."""

    came_in: str
    needles: str
    turned: str
    goes_out: str


def summarise(report: Proof, certificate: Proof) -> JobSummary:
    """Say in four lines what the proofs of a job say.

    Parameters
    ----------
    report
        As found.
    certificate
        As left.

    Returns
    -------
    JobSummary
        Every number in it is the proofs'.
    """
    return JobSummary(
        came_in="; ".join(_came_in(report.dials)),
        needles="; ".join(_needed(report.needle_set)),
        turned="; ".join(_turned(report.needle_set, certificate.dials)) or "nothing",
        goes_out=f"{certificate.title}; {_results(certificate.dials)}",
    )


def _came_in(dials: Sequence[DialRecord]) -> Iterable[str]:
    """Each dial with its result and, where it does not pass, its deciding row."""
    for dial in dials:
        side = dial.found
        if side is None:
            continue
        worst = None if side.worst is None else side.rows[side.worst]
        passes = side.code in ("pass", "conditional_pass")
        where = "" if passes or worst is None else f" ({_deviation(worst, dial.unit)})"
        yield f"{dial.dial} {side.words}{where}"


def _deviation(row: RowRecord, unit: str) -> str:
    """`3.5 km/h low at 40 km/h, down`."""
    told = "rest" if row.commanded is None else f"{with_unit(f'{row.commanded:g}', unit)}"
    if row.deviation is None:
        return f"at {told}"
    off = with_unit(f"{abs(row.deviation):.2g}", row.deviation_unit)
    if row.deviation_unit == "deg":
        return f"{off} from its rest at {told}"
    return f"{off} {'low' if row.deviation < 0 else 'high'} at {told}, {row.approach}"


def _needed(needles: Sequence[NeedleRecord]) -> Iterable[str]:
    heads = {"turn": "turn", "not_the_seat": "not the seat", "leave": "leave", None: "not known"}
    for verdict, head in heads.items():
        named = [
            f"{n.dial} {_turn(n)}" if verdict == "turn" else n.dial
            for n in needles
            if n.verdict == verdict
        ]
        if named:
            yield f"{head}: {' and '.join(named)}"


def _turn(needle: NeedleRecord) -> str:
    return f"{needle.turn_deg or 0.0:+.1f} ± {COVERAGE_K * (needle.u_turn_deg or 0.0):.1f}°"


def _turned(needles: Sequence[NeedleRecord], dials: Sequence[DialRecord]) -> Iterable[str]:
    """How far each needle that had to be turned stands from where it stood at the same command."""
    for needle in needles:
        dial = next(d for d in dials if d.dial == needle.dial)
        turns = list(_turns_deg(dial))
        if needle.verdict == "turn" and turns:
            yield f"{dial.dial} by {median(turns):+.1f}°, asked {_turn(needle)}"


def _turns_deg(dial: DialRecord) -> Iterable[float]:
    for found_at, left_at in dial.pairs:
        if found_at is None or left_at is None or dial.found is None or dial.left is None:
            continue
        found, left = _row(dial.found, found_at), _row(dial.left, left_at)
        on_stop = "on_stop" in (*found.flags, *left.flags)
        if found.angle_deg is None or left.angle_deg is None or on_stop:
            continue
        yield left.angle_deg - found.angle_deg


def _row(side: SideRecord, at: int) -> RowRecord:
    return side.rows[at]


def _results(dials: Sequence[DialRecord]) -> str:
    """Dials with one result are named together."""
    by_words: dict[str, list[str]] = {}
    for dial in dials:
        if dial.left is not None:
            by_words.setdefault(dial.left.words, []).append(dial.dial)
    return "; ".join(f"{words}: {' and '.join(names)}" for words, names in by_words.items())
