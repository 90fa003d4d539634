"""The benchmark's tables."""

import json
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from rich.console import Console
from rich.table import Table

from benchmarks.batch_rate import BatchRate
from benchmarks.scoring import (
    STATES,
    Needle,
    Times,
    allowed_misses,
    error_by_length,
    grouped,
    length_class,
    missed_intervals,
    misses_when_widened,
    summary,
    widening_for_coverage,
)

PAIRS = (("fam-a", "fam-b"), ("fam-c", "fam-d"))


def report(
    ours: Sequence[Needle],
    strangers: Sequence[Needle],
    theirs: Sequence[Needle],
    warm: dict[str, Times],
) -> Iterator[Table]:
    """Every table about what was read, in the order they are printed."""
    yield _statistics("per condition", grouped(ours, lambda n: n.tags), ours)
    yield _statistics("per family", grouped(ours, lambda n: (n.family,)), ours)
    by_length = grouped(
        sorted(ours, key=lambda n: n.visible_px or 0.0), lambda n: (length_class(n),)
    )
    yield _statistics("per visible needle length", by_length, ours)
    yield _refusals([*ours, *strangers])
    yield _reasons(ours)
    yield _coverage(ours)
    yield _side_by_side(ours, theirs, warm)
    yield _gate([*ours, *strangers], ours)


def as_document(table: Table) -> dict[str, Any]:
    """A table as it is printed, for a file."""
    return {
        "title": table.title,
        "columns": [column.header for column in table.columns],
        "rows": [
            list(row) for row in zip(*(column.cells for column in table.columns), strict=True)
        ],
    }


def show_rows(
    figures: Mapping[str, Sequence[Mapping[str, Any]]], width: int, kept: Path | None
) -> None:
    """Print a table of each list of rows, and keep them all in one file where that is asked for."""
    console = Console(width=width)
    for name, rows in figures.items():
        table = Table(*(rows[0] if rows else ()), title=name)
        for row in rows:
            table.add_row(*map(str, row.values()))
        console.print(table)
    if kept is not None:
        kept.write_text(json.dumps(figures, indent=1) + "\n", encoding="utf-8")


def every_dial(needles: Iterable[Needle]) -> Table:
    """One line for each dial of each photo."""
    return _list("every dial", needles)


def worst(needles: Iterable[Needle], count: int) -> Table:
    """The readings furthest off, then how far in their own uncertainties."""
    read = [n for n in needles if n.error_deg is not None]
    return _list("furthest off", sorted(read, key=lambda n: -abs(n.error_deg or 0.0))[:count])


def _table(title: str, first: str, *others: str) -> Table:
    table = Table(title=title, title_justify="left", title_style="bold")
    table.add_column(first)
    for heading in others:
        table.add_column(heading, justify="right")
    return table


def _statistics(title: str, groups: dict[str, list[Needle]], everything: Sequence[Needle]) -> Table:
    table = _table(
        title, "", "clear", "read", "share", "median", "95 %", "max", "off > 1", "at most",
        "missed", "of", "|err| x px",
    )  # fmt: skip
    for name, needles in {**groups, "all": list(everything)}.items():
        s = summary(needles)
        table.add_row(
            name,
            str(s["clear"]),
            str(s["read"]),
            _percent(s["read_share"]),
            *(_deg(s[key]) for key in ("median_deg", "p95_deg", "max_deg")),
            str(s["silent"]),
            _percent(s["silent_bound"]),
            str(s["misses"]),
            str(s["judged"]),
            _number(error_by_length(needles), "{:.1f}"),
        )
    return table


def _refusals(needles: Sequence[Needle]) -> Table:
    table = _table(
        "what must, may and need not be refused", "needles", "how many", "refused", "answered",
        "handled rightly",
    )  # fmt: skip
    groups = grouped(needles, lambda n: (f"{_duty(n)}: {n.why}" if n.why else _duty(n),))
    for name, group in sorted(groups.items(), reverse=True):
        refused = sum(not n.accepted for n in group)
        right = sum(n.handled_rightly for n in group)
        table.add_row(name, str(len(group)), str(refused), str(len(group) - refused), str(right))
    return table


def _duty(needle: Needle) -> str:
    return {"read": "must be read", "either": "may be refused", "refuse": "must be refused"}[
        needle.duty
    ]


def _reasons(needles: Sequence[Needle]) -> Table:
    table = _table("reasons given", "reason", "rightly", "clear needles refused")
    refused = [n for n in needles if not n.accepted]
    rightly = Counter(n.reason for n in refused if n.duty != "read")
    wrongly = Counter(n.reason for n in refused if n.duty == "read")
    for reason in sorted({*rightly, *wrongly}, key=str):
        table.add_row(str(reason), str(rightly[reason]), str(wrongly[reason]))
    return table


def _coverage(needles: Sequence[Needle]) -> Table:
    table = _table(
        "stated 95 % interval: how often it misses", "families", "intervals", "misses", "allowed",
        "widening that gives 95 %", "misses with the others' widening",
    )  # fmt: skip
    of_pair = {pair: [n for n in needles if n.family in pair] for pair in PAIRS}
    for pair, other in (PAIRS, PAIRS[::-1]):
        mine, factor = of_pair[pair], widening_for_coverage(of_pair[other])
        misses, count = missed_intervals(mine)
        table.add_row(
            " and ".join(pair),
            str(count),
            str(misses),
            _range(count),
            _number(widening_for_coverage(mine), "{:.2f}"),
            "" if factor is None else str(misses_when_widened(mine, factor)[0]),
        )
    misses, count = missed_intervals(needles)
    table.add_row(
        "all", str(count), str(misses), _range(count),
        _number(widening_for_coverage(needles), "{:.2f}"), "",
    )  # fmt: skip
    return table


def _side_by_side(
    ours: Sequence[Needle], theirs: Sequence[Needle], warm: dict[str, Times]
) -> Table:
    table = _table(
        "beside a plain textbook reader, on needles both read", "", "needlewright", "textbook",
        "textbook / needlewright",
    )  # fmt: skip
    both = [
        (abs(a.error_deg), abs(b.error_deg))
        for a, b in zip(ours, theirs, strict=True)
        if a.error_deg is not None and b.error_deg is not None and a.duty == "read"
    ]
    table.add_row("needles", str(len(both)), str(len(both)), "")
    if both:
        mine, other = np.array(both).T
        for name, value in (
            ("median |error|, deg", np.median),
            ("95th percentile, deg", lambda e: np.percentile(e, 95)),
            ("largest, deg", np.max),
        ):
            a, b = float(value(mine)), float(value(other))
            table.add_row(name, f"{a:.3f}", f"{b:.3f}", f"{b / a:.1f}")
    a, b = (float(np.median(warm[name].cpu_s)) for name in ("needlewright", "textbook"))
    table.add_row("median time on one core, s", f"{a:.3f}", f"{b:.3f}", f"{b / a:.1f}")
    for name, needles in (("accepted and > 1 deg off", "silent"),):
        a, b = (sum(getattr(n, needles) for n in group) for group in (ours, theirs))
        table.add_row(name, str(a), str(b), "")
    return table


LARGE_PX = 150
"""Visible length from which a needle is judged by its angle; shorter ones by angle x length."""


def _gate(everything: Sequence[Needle], ours: Sequence[Needle]) -> Table:
    table = _table("the gate", "", "reached", "required", "")
    clear = [n for n in ours if n.duty == "read"]
    _line(table, "clear needles read", summary(clear)["read_share"], ">= 0.95")
    errors = [(abs(n.error_deg), n.visible_px) for n in clear if n.error_deg is not None]
    sized = [(error, px) for error, px in errors if px is not None]
    every = [error for error, _ in errors]
    large = [error for error, px in sized if px > LARGE_PX]
    short = [error * px for error, px in sized if px <= LARGE_PX]
    for name, values, limits in (
        ("all, |error|, deg", every, ("0.035", "0.18", "0.5")),
        (f"above {LARGE_PX} px, |error|, deg", large, ("0.015", "0.06", "0.15")),
        (f"up to {LARGE_PX} px, |error| x px, deg px", short, ("2.5", "9", None)),
    ):
        for share, limit in zip((50, 95, 100), limits, strict=True):
            word = {50: "median", 95: "95th percentile", 100: "largest"}[share]
            if limit is not None:
                reached = float(np.percentile(values, share)) if values else None
                _line(table, f"{name}: {word}", reached, f"<= {limit}")
    silent = sum(n.silent for n in everything)
    _line(table, "accepted and more than 1 deg off, all photos", silent, "<= 0")
    wrong = sum(not n.handled_rightly for n in everything if n.duty != "read")
    _line(table, "refusals wrong", wrong, "<= 0")
    for pair in PAIRS:
        misses, count = missed_intervals(n for n in ours if n.family in pair)
        name = f"intervals missed, {' and '.join(pair)} ({count})"
        _line(table, name, misses, f"<= {allowed_misses(count)[1]}")
    return table


def speed(warm: Times, wrong_face: Times, cold: Times | None, batch: BatchRate | None) -> Table:
    """Processor time on one core decides; the clock's time shows what else the machine did."""
    table = _table(
        "speed on one core, four dials and more, 1600 x 1067", "", "reached", "required", ""
    )
    median_s = float(np.median(warm.cpu_s))
    _line(table, "median warm photo, s", median_s, "<= 0.15")
    _line(table, "slowest warm photo, s", max(warm.cpu_s), "<= 0.15")
    table.add_row("median by the clock, s", f"{np.median(warm.wall_s):.3g}", "", "")
    table.add_row("median photo of another face, s", f"{np.median(wrong_face.cpu_s):.3g}", "", "")
    _line(table, "slowest photo of another face, s", max(wrong_face.cpu_s), "<= 0.5")
    if cold is not None:
        more_s = float(np.median(cold.cpu_s)) - median_s
        _line(table, "cold command, s more than a warm photo", more_s, "<= 2.0")
        table.add_row("whole command by the clock, s", f"{np.median(cold.wall_s):.3g}", "", "")
    if batch is not None:
        _batch_rows(table, batch)
    return table


def _batch_rows(table: Table, batch: BatchRate) -> None:
    name = f"{batch.photos} photos, the whole command"
    _line(table, f"{name}: largest process, MB", batch.memory_mb, "<= 400")
    table.add_row(f"{name}: a second on one core", f"{batch.one_core_per_s:.3g}", "", "")
    if batch.two_cores_per_s is not None:
        table.add_row(f"{name}: a second on two", f"{batch.two_cores_per_s:.3g}", "", "")
        ratio = batch.two_cores_per_s / batch.one_core_per_s
        _line(table, f"{name}: two cores over one", ratio, ">= 1.7")


def _line(
    table: Table, name: str, reached: float | None, limit: str, *, counts: bool = True
) -> None:
    """A row of the gate; `limit` is like `>= 0.92`. Rows that do not count carry no verdict."""
    side, number = limit.split()
    met = False
    if reached is not None:
        met = reached >= float(number) if side == ">=" else reached <= float(number)
    verdict = ("met" if met else "MISSED") if counts else ""
    shown = "nothing read" if reached is None else f"{reached:.3g}"
    table.add_row(name, shown, limit, verdict)


def _list(title: str, needles: Iterable[Needle]) -> Table:
    table = _table(title, "photo", "dial", "duty", "error", "u", "error / u", "length, px", "said")
    for n in needles:
        ratio = None if n.error_deg is None or not n.u_deg else n.error_deg / n.u_deg
        said = "read" if n.accepted else str(n.reason)
        conditions = ", ".join(t for t in n.tags if t not in STATES)
        table.add_row(
            f"{n.photo} ({conditions})",
            n.dial,
            n.duty if not n.why else f"{n.duty}: {n.why}",
            _number(n.error_deg, "{:+.3f}"),
            _number(n.u_deg, "{:.3f}"),
            _number(ratio, "{:+.1f}"),
            _number(n.visible_px, "{:.0f}"),
            said,
        )
    return table


def _range(count: int) -> str:
    low, high = allowed_misses(count)
    return f"{low} to {high}"


def _deg(value: float | None) -> str:
    return _number(value, "{:.3f}")


def _percent(value: float | None) -> str:
    return "" if value is None else f"{100 * value:.0f} %"


def _number(value: float | None, form: str) -> str:
    return "" if value is None else form.format(value)
