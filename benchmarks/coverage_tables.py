"""The tables of `benchmarks/coverage.py`, and what is asked of them."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from rich.table import Table
from scipy.stats import binomtest, norm

from benchmarks.drawn_photos import DrawnNeedle
from benchmarks.scoring import (
    Needle,
    error_by_length,
    grouped,
    length_class,
    missed_intervals,
    summary,
    widening_for_coverage,
)

NEEDLES_ASKED = 2000
FACES_ASKED = 20
COVERAGE_ASKED = (0.93, 0.97)
COVERAGE_ASKED_EACH = (0.90, 0.98)
QUANTILES = (0.5, 0.6827, 0.9, 0.95, 0.99)
HALF_CLEAR = 0.5


@dataclass(frozen=True, slots=True)
class Line:
    """A row of the gate."""

    what: str
    reached: str
    asked: str
    met: bool


def report(drawn: Sequence[DrawnNeedle]) -> Iterator[Table]:
    """Every table but the gate, in the order they are printed."""
    needles = [d.needle for d in drawn]
    by_length = grouped(
        sorted(needles, key=lambda n: n.visible_px or 0.0), lambda n: (length_class(n),)
    )
    yield _statistics("per condition", by_condition(needles), needles)
    yield _statistics("per visible needle length", by_length, needles)
    yield _statistics("per face", grouped(needles, lambda n: (n.family,)), needles)
    yield _quantiles({**by_length, "all": needles})
    yield _components(drawn)
    yield _partly(drawn)
    yield _reasons(needles)


def by_condition(needles: Sequence[Needle]) -> dict[str, list[Needle]]:
    """Needles by what their photo suffers from, which is its first tag."""
    return grouped(needles, lambda n: (n.tags[0],))


def verdict_of(drawn: Sequence[DrawnNeedle]) -> list[Line]:
    """What is asked, and what was reached."""
    needles = [d.needle for d in drawn]
    misses, judged = missed_intervals(needles)
    faces = len({n.family for n in needles})
    silent = sum(n.silent for n in needles)
    lines = [
        Line("needles read", str(judged), f">= {NEEDLES_ASKED}", judged >= NEEDLES_ASKED),
        Line("faces", str(faces), f">= {FACES_ASKED}", faces >= FACES_ASKED),
        Line("read and more than 1 deg off", str(silent), "0", silent == 0),
        _covered("coverage of the stated 95 % interval", misses, judged, COVERAGE_ASKED),
    ]
    return lines + [
        _covered(f"coverage, {name}", *missed_intervals(group), COVERAGE_ASKED_EACH)
        for name, group in by_condition(needles).items()
    ]


def _covered(what: str, misses: int, judged: int, asked: tuple[float, float]) -> Line:
    share = (judged - misses) / judged if judged else float("nan")
    low, high = asked
    limits = f"{100 * low:.0f} to {100 * high:.0f} %"
    return Line(what, _share(judged - misses, judged), limits, low <= share <= high)


def gate(lines: Sequence[Line]) -> Table:
    """The rows of the gate, as a table."""
    table = _table("the gate", "", "reached", "asked", "")
    for line in lines:
        table.add_row(line.what, line.reached, line.asked, "met" if line.met else "MISSED")
    return table


def worst(drawn: Sequence[DrawnNeedle], count: int) -> Table:
    """The readings furthest off in their own uncertainties."""
    table = _table(
        "furthest off, in their own uncertainties", "photo", "dial", "condition", "error", "u",
        "error / u", "length, px", "clear", "components", "flags",
    )  # fmt: skip
    for d in sorted(drawn, key=lambda d: -_ratio(d.needle))[:count]:
        n = d.needle
        table.add_row(
            n.photo,
            n.dial,
            d.condition,
            _number(n.error_deg, "{:+.3f}"),
            _number(n.u_deg, "{:.3f}"),
            f"{_ratio(n):.1f}",
            _number(n.visible_px, "{:.0f}"),
            f"{d.visible_fraction:.2f}",
            " ".join(f"{name} {u:.3f}" for name, u in d.components_deg),
            " ".join(d.flags),
        )
    return table


def _ratio(needle: Needle) -> float:
    if needle.error_deg is None or not needle.u_deg:
        return 0.0
    return abs(needle.error_deg) / needle.u_deg


def _statistics(title: str, groups: Mapping[str, list[Needle]], every: Sequence[Needle]) -> Table:
    table = _table(
        title, "", "clear", "read", "share", "median", "95 %", "max", "off > 1", "at most",
        "intervals", "hold", "95 % range of that", "widening", "|err| x px",
    )  # fmt: skip
    for name, needles in {**groups, "all": list(every)}.items():
        s = summary(needles)
        held = s["judged"] - s["misses"]
        table.add_row(
            name,
            str(s["clear"]),
            str(s["read"]),
            _percent(s["read_share"]),
            *(_number(s[key], "{:.3f}") for key in ("median_deg", "p95_deg", "max_deg")),
            str(s["silent"]),
            _percent(s["silent_bound"]),
            str(s["judged"]),
            _percent(held / s["judged"] if s["judged"] else None),
            _range(held, s["judged"]),
            _number(widening_for_coverage(needles), "{:.2f}"),
            _number(error_by_length(needles), "{:.1f}"),
        )
    return table


def _quantiles(groups: Mapping[str, Sequence[Needle]]) -> Table:
    """Of |error| / u; the last line is what a normal law with the stated uncertainty has."""
    table = _table("|error| / u", "", "needles", *(f"{100 * q:g} %" for q in QUANTILES), "largest")
    for name, needles in groups.items():
        ratios = np.array([_ratio(n) for n in needles if n.error_deg is not None and n.u_deg])
        if not len(ratios):
            continue
        cells = (f"{value:.2f}" for value in np.quantile(ratios, QUANTILES))
        table.add_row(name, str(len(ratios)), *cells, f"{ratios.max():.1f}")
    normal = norm.ppf(0.5 + np.array(QUANTILES) / 2)
    table.add_row("normal law", "", *(f"{value:.2f}" for value in normal), "")
    return table


def _components(drawn: Sequence[DrawnNeedle]) -> Table:
    """How much of the stated variance each component is, on the median and on the largest."""
    table = _table("what the stated uncertainty is made of", "", "median, deg", "share of u^2")
    names = dict.fromkeys(name for d in drawn for name, _ in d.components_deg)
    every = [dict(d.components_deg) for d in drawn if d.components_deg]
    for name in names:
        values = np.array([parts.get(name, 0.0) for parts in every])
        shares = values**2 / np.array([sum(u * u for u in parts.values()) for parts in every])
        table.add_row(name, f"{np.median(values):.4f}", _percent(float(np.mean(shares))))
    return table


def _partly(drawn: Sequence[DrawnNeedle]) -> Table:
    """Needles that may be refused: those of which half or more is clear should be read."""
    table = _table("needles not wholly clear", "", "needles", "read", "refused", "off > 1")
    groups: dict[str, list[Needle]] = {}
    for d in drawn:
        if d.needle.duty == "read":
            continue
        half = "half or more clear" if d.visible_fraction >= HALF_CLEAR else "less than half clear"
        groups.setdefault(f"{d.needle.why}, {half}", []).append(d.needle)
    for name, group in sorted(groups.items()):
        read = sum(n.accepted for n in group)
        silent = sum(n.silent for n in group)
        table.add_row(name, str(len(group)), str(read), str(len(group) - read), str(silent))
    return table


def _reasons(needles: Sequence[Needle]) -> Table:
    conditions = by_condition(needles)
    table = _table("clear needles refused, by reason", "reason", *conditions, "all", "others")
    refused = [n for n in needles if not n.accepted]
    wrongly = {
        name: Counter(n.reason for n in group if n.duty == "read" and not n.accepted)
        for name, group in conditions.items()
    }
    rightly = Counter(n.reason for n in refused if n.duty != "read")
    for reason in sorted({str(n.reason) for n in refused}):
        counts = [wrongly[name][reason] for name in conditions]
        table.add_row(reason, *map(str, counts), str(sum(counts)), str(rightly[reason]))
    return table


def _table(title: str, first: str, *others: str) -> Table:
    table = Table(title=title, title_justify="left", title_style="bold")
    table.add_column(first)
    for heading in others:
        table.add_column(heading, justify="right")
    return table


def _share(part: int, whole: int) -> str:
    return f"{100 * part / whole:.1f} % of {whole}" if whole else "none"


def _range(held: int, judged: int) -> str:
    """The two-sided 95 % Clopper-Pearson interval of a share."""
    if not judged:
        return ""
    interval = binomtest(held, judged).proportion_ci(0.95, method="exact")
    return f"{100 * interval.low:.0f} to {100 * interval.high:.0f} %"


def _percent(value: float | None) -> str:
    return "" if value is None else f"{100 * value:.1f} %"


def _number(value: float | None, form: str) -> str:
    return "" if value is None else form.format(value)
