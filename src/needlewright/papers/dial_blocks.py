"""One dial of a proof on paper: its strip, its table before and after, its notes.

A dial comes as the JSON document of a proof has it (docs/json/proof.md).
"""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

from needlewright.papers.blocks import SIGNS, Cell, Column, Table
from needlewright.papers.strip_data import (
    Side,
    StripData,
    StripGap,
    StripLimit,
    StripPoint,
)
from needlewright.papers.wording import (
    number,
    place_words,
    places_for,
    plus_minus,
    probability,
    sentence_for_people,
    short,
    unit_words,
)

Dial = Mapping[str, Any]
Row = Mapping[str, Any]

FAILING: Final = ("fail", "conditional_fail")
LOW_MARK: Final = "↓"
_READS_LOW: Final = "may read low"


def strip_data(dial: Dial, coverage_k: float) -> StripData:
    """What a dial's strip shows.

    Parameters
    ----------
    dial
        From the document of a proof.
    coverage_k
        Coverage factor of its expanded uncertainties.

    Returns
    -------
    StripData
        Rows at rest are left out: they have no place on the scale.
    """
    rule = dial["rule"]
    return StripData(
        title=dial_title(dial),
        unit=unit_words(dial["unit"]),
        marks=tuple((value, angle) for value, angle in dial["marks"]),
        limits=tuple(
            tuple(StripLimit(p["true_value"], p["lower"], p["upper"]) for p in stretch)
            for stretch in dial["allowed"]
        ),
        points=tuple(p for side in ("found", "left") for p in _points(dial, side)),
        gaps=tuple(g for side in ("found", "left") for g in _gaps(dial, side)),
        programme=tuple((value, error) for value, error in dial["programme"]),
        coverage_k=coverage_k,
        rule=None if rule is None else rule_words(rule),
    )


def dial_title(dial: Dial) -> str:
    """The dial for people: `speed (road speed, km/h)`."""
    return f"{dial['dial']} ({dial['quantity']}, {unit_words(dial['unit'])})"


def rule_words(rule: Mapping[str, Any]) -> str:
    """A rule's title and formula in one line."""
    return f"{rule['title']}: {formula_words(rule['formula'])}"


def formula_words(formula: str) -> str:
    """A rule's formula as people read it: `0 ≤ shown − true ≤ 0.1 true + 4 km/h`."""
    signs = formula.replace("<=", "≤").replace(" - ", " − ")
    return sentence_for_people(signs.replace("V1", "shown").replace("V2", "true"))


def _rows(dial: Dial, side: Side) -> Sequence[Row]:
    record = dial[side]
    return () if record is None else record["rows"]


def _points(dial: Dial, side: Side) -> Iterator[StripPoint]:
    for row in _rows(dial, side):
        if row["commanded"] is None or row["shown"] is None or "on_stop" in row["flags"]:
            continue
        by_angle = row["basis"] == "rest"
        yield StripPoint(
            true_value=row["commanded"],
            error=row["shown"] - row["commanded"],
            expanded=None if by_angle else row["expanded"],
            side=side,
            approach=row["approach"],
            conforms=None if row["code"] == "not_judged" else row["code"] not in FAILING,
        )


def _gaps(dial: Dial, side: Side) -> Iterator[StripGap]:
    for row in _rows(dial, side):
        if row["commanded"] is None:
            continue
        if row["shown"] is None:
            yield StripGap(row["commanded"], side, "not read")
        elif "on_stop" in row["flags"]:
            yield StripGap(row["commanded"], side, "on its stop")


def two_sided_table(dial: Dial) -> Table:
    """As found beside as left, row by row."""
    places = _places(dial)
    rows = []
    for found_at, left_at in dial["pairs"]:
        found = None if found_at is None else _rows(dial, "found")[found_at]
        left = None if left_at is None else _rows(dial, "left")[left_at]
        told = left or found
        assert told is not None
        rows.append(
            (
                *_told(told, places),
                *_seen(found, places),
                *_seen(left, places),
                Cell("" if left is None else _chance(left)),
            )
        )
    widest = max((len(row[0].text) for row in rows), default=0)
    seen = (
        Column("shown", "right", 11),
        Column("error", "right", 22.5),
        Column("result", "left", None),
    )
    return Table(
        columns=(
            Column("true", "right", 8 if widest <= 4 else 12),
            Column("told", "left", 9),
            Column("may show", "right", 20.5),
            *seen,
            *seen,
            Column("P", "right", 11),
        ),
        rows=tuple(rows),
        groups=(("", 3), ("as found", 3), ("as left", 3), ("", 1)),
    )


def one_sided_table(dial: Dial, side: Side) -> Table:
    """One run, row by row, with the room to the nearer limit."""
    places = _places(dial)
    rows = [
        (
            *_told(row, places),
            *_seen(row, places),
            Cell(_room(row, places)),
            Cell(_chance(row)),
        )
        for row in _rows(dial, side)
    ]
    return Table(
        columns=(
            Column("true", "right", 12),
            Column("told", "left", 12),
            Column("may show", "right", 28),
            Column("shown", "right", 16),
            Column("error", "right", 26),
            Column("result", "left", None),
            Column("room ± U", "right", 26),
            Column("P", "right", 13),
        ),
        rows=tuple(rows),
    )


def _places(dial: Dial) -> int:
    rows = [*_rows(dial, "found"), *_rows(dial, "left")]
    return places_for(r["expanded"] for r in rows if r["basis"] != "rest")


def _told(row: Row, places: int) -> tuple[Cell, ...]:
    told = "" if row["commanded"] is None else short(row["commanded"])
    return Cell(told), Cell(row["approach"]), Cell(_allowed(row, places), faint=True)


def _allowed(row: Row, places: int) -> str:
    low, high = row["lower"], row["upper"]
    if row["basis"] == "rest" and low is not None and high is not None:
        return f"rest ± {number((high - low) / 2, 1)}°"
    if low is None and high is None:
        return "not limited"
    if low is None:
        return f"≤ {number(high, places)}"
    if high is None:
        return f"≥ {number(low, places)}"
    return f"{number(low, places)} to {number(high, places)}"


def _seen(row: Row | None, places: int) -> tuple[Cell, Cell, Cell]:
    if row is None:
        return Cell(""), Cell(""), Cell("not in this run", faint=True)
    shown = "" if row["shown"] is None else number(row["shown"], places)
    low = f"{LOW_MARK} " if any(note.startswith(_READS_LOW) for note in row["notes"]) else ""
    words = "not judged" if row["code"] == "not_judged" else row["words"]  # why stands above
    result = Cell(words, sign=SIGNS[row["code"]])
    return Cell(shown), Cell(low + _error(row, places)), result


def _error(row: Row, places: int) -> str:
    deviation, expanded = row["deviation"], row["expanded"]
    if deviation is None:
        return "on its stop" if "on_stop" in row["flags"] else ""
    if row["basis"] == "rest":
        return plus_minus(deviation, expanded, 1, signed=True) + "°"
    return plus_minus(deviation, expanded, places, signed=True)


def _room(row: Row, places: int) -> str:
    margin, guard = row["margin"], row["guard_band"]
    if margin is None:
        return ""
    if row["limits_unit"] == "deg":
        return plus_minus(margin, guard, 1, signed=True) + "°"
    return plus_minus(margin, guard, places, signed=True)


def _chance(row: Row) -> str:
    return "" if row["margin"] is None else probability(row["probability"])


def notes_under(dial: Dial, side: Side) -> tuple[str, ...]:
    """What the rows of a table carry beside their numbers, each note once.

    Parameters
    ----------
    dial
        From the document of a proof.
    side
        The run whose notes are wanted.

    Returns
    -------
    tuple of str
        Sentences; of rows that may read low the lowest one speaks for all.
    """
    unit = dial["unit"]
    places: dict[str, list[str]] = {}
    low_rows = []
    for row in _rows(dial, side):
        for note in row["notes"]:
            if note.startswith(_READS_LOW):
                low_rows.append((_lowest(row), row, note))
            else:
                places.setdefault(note, []).append(place_words(row, unit))
    said = [f"{_listed(where)}: {sentence_for_people(note)}." for note, where in places.items()]
    if low_rows:
        _, row, note = min(low_rows, key=lambda entry: entry[0])
        of_all = f"the most {place_words(row, unit)}: " if len(low_rows) > 1 else ""
        said.append(f"{LOW_MARK} marks what may read low; {of_all}{sentence_for_people(note)}.")
    return tuple(said)


def _listed(places: Sequence[str]) -> str:
    return places[0] if len(places) == 1 else f"{'; '.join(places[:-1])} and {places[-1]}"


def _lowest(row: Row) -> float:
    """The lowest error a row may have; a needle on its stop has none and comes last."""
    deviation = row["deviation"]
    return float("inf") if deviation is None else float(deviation - (row["expanded"] or 0.0))
