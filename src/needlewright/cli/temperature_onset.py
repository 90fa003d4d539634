"""`needlewright temperature-series onset`: where the cold begins, from what was taken or typed."""

from pathlib import Path
from typing import Annotated, Any

import typer

from needlewright.bench.series import open_series
from needlewright.cli import console
from needlewright.cli.measured import say_rehearsed
from needlewright.cli.temperature_conditions import AsJson, FamilyDir
from needlewright.cli.temperature_documents import cold_lines
from needlewright.composing.cold_series import (
    cold_document,
    cold_findings,
    cold_findings_of_runs,
)
from needlewright.errors import RunError, UsageError
from needlewright.families.folder import load_family
from needlewright.families.model import Dial, Family
from needlewright.findings.cold.judged import ColdFinding, cold_evidence
from needlewright.findings.cold.sweep_rate import ColdLimit, RateTrial, cold_limit
from needlewright.findings.evidence_file import evidence_documents
from needlewright.readings.complete import complete_run
from needlewright.readings.run_csv import read_run, read_runs
from needlewright.readings.runs import Run

U_TYPED_DEGC = 1.0
"""Of temperatures somebody typed; common practice, no source."""
U_ROOM_DEGC = 1.0


def onset(
    paths: Annotated[
        list[Path] | None,
        typer.Argument(
            metavar="[SERIES, or RUN.csv...]",
            help="A series' folder; or runs whose rows say how warm the cluster was.",
        ),
    ] = None,
    *,
    family: FamilyDir,
    u_temperature: Annotated[
        float,
        typer.Option(
            metavar="DEGC",
            help="Standard uncertainty of typed temperatures, common to all; a series has its own.",
        ),
    ] = U_TYPED_DEGC,
    rate: Annotated[
        list[str] | None,
        typer.Option(
            metavar="DIAL@RATE=HOW",
            help="A long move at room temperature, degrees a second, held or slipped, like "
            "speed@450=held; repeatable.",
        ),
    ] = None,
    room: Annotated[
        float, typer.Option(metavar="DEGC", help="Temperature of the moves of --rate.")
    ] = 21.0,
    as_json: AsJson = False,
) -> None:
    """Say at which temperature half of each movement's demanding moves fail, with its interval.

    And whether that is cold enough for the family's winter. From moves at several rates at room
    temperature alone it says how cold the family's grease lets a movement work, or that there is
    not enough data.
    """
    cluster = load_family(family)
    if not paths and not rate:
        raise UsageError("name a series' folder or runs, or give moves with --rate")
    if not 0.0 <= u_temperature < 50.0:
        raise UsageError(f"--u-temperature {u_temperature:g}: expected degC from 0 to 50")
    trials = _trials(rate or [], cluster)
    found = _found(paths or [], cluster, u_temperature, as_json=as_json)
    limits = {
        dial.id: cold_limit(
            each, dial.movement.rate_deg_s, (room, U_ROOM_DEGC), dial.movement.grease_k
        )
        for dial, each in trials
    }
    if as_json:
        console.emit_json(
            {
                "cold": [cold_document(one) for one in found],
                "limits": [_limit_document(dial, one) for dial, one in limits.items()],
                "evidence": evidence_documents(
                    piece for one in found for piece in cold_evidence(one, _seen_in(paths or []))
                ),
            }
        )
        return
    for line in cold_lines(found):
        console.out.print(line, markup=False)
    for dial, one in limits.items():
        console.out.print(f"{dial}: {_limit_words(one)}", markup=False)


def _seen_in(paths: list[Path]) -> str:
    return f"temperatures of {', '.join(path.name for path in paths)}"


def _found(
    paths: list[Path], family: Family, u_degc: float, *, as_json: bool
) -> tuple[ColdFinding, ...]:
    if not paths:
        return ()
    folders = [path for path in paths if path.is_dir()]
    if folders and len(paths) > 1:
        raise UsageError("name one series' folder, or runs, not both and not several folders")
    if folders:
        kept = open_series(folders[0])
        taken = [kept.run_path(n) for n in range(len(kept.state.temperatures))]
        say_rehearsed(*(read_run(path) for path in taken if path.exists()), as_json=as_json)
        found = cold_findings(kept, family)
        if not found:
            raise RunError(f"{folders[0]}: no move of a dial can be judged yet; take the series")
        return found
    runs = [
        Run(f"{path.name}: {run.name}", complete_run(run, family).rows)
        for path in paths
        for run in read_runs(path)
    ]
    say_rehearsed(*runs, as_json=as_json)
    return cold_findings_of_runs(runs, family, u_degc)


def _trials(texts: list[str], family: Family) -> list[tuple[Dial, list[RateTrial]]]:
    """`DIAL@RATE=held` or `=slipped`, by dial."""
    found: dict[str, list[RateTrial]] = {}
    for text in texts:
        dial_text, at, rest = text.partition("@")
        rate_text, equals, how = rest.partition("=")
        try:
            rate_deg_s = float(rate_text)
        except ValueError:
            rate_deg_s = 0.0
        if not (at and equals) or how not in ("held", "slipped") or not 0 < rate_deg_s < 1e5:
            raise UsageError(f"--rate {text}: expected it like speed@450=held or speed@520=slipped")
        found.setdefault(dial_text, []).append(RateTrial(rate_deg_s, how == "held"))
    dials = []
    for name, each in found.items():
        dial = family.dial(name)
        if dial is None:
            known = ", ".join(one.id for one in family.dials)
            raise UsageError(f"--rate: the family has no dial '{name}'; it has {known}")
        dials.append((dial, each))
    return dials


def _limit_words(one: ColdLimit) -> str:
    if one.high_c is None:
        return one.reason
    if one.low_c is None:
        return f"it works down to {one.high_c:.0f} °C or colder; {one.reason}"
    return (
        f"it works down to somewhere between {one.high_c:.0f} and {one.low_c:.0f} °C, by the "
        f"family's grease; {one.reason}"
    )


def _limit_document(dial: str, one: ColdLimit) -> dict[str, Any]:
    return {
        "dial": dial,
        "enough_data": one.high_c is not None,
        "low_c": None if one.low_c is None else round(one.low_c, 1) + 0.0,
        "high_c": None if one.high_c is None else round(one.high_c, 1) + 0.0,
        "ratio_low": None if one.ratio_low is None else round(one.ratio_low, 3),
        "ratio_high": None if one.ratio_high is None else round(one.ratio_high, 3),
        "reason": one.reason,
    }
