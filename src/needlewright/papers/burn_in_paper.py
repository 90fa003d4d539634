"""A burn-in on paper: counts, events with pictures, drift, and the two statements apart."""

from collections.abc import Mapping
from datetime import date
from typing import Any, Final

from needlewright.papers.blocks import (
    Block,
    Cell,
    Column,
    Drawing,
    Facts,
    Heading,
    Notice,
    Paragraph,
    Picture,
    Pictures,
    Sheet,
    Sign,
    Table,
)
from needlewright.papers.document import sheet_pdf
from needlewright.papers.wording import (
    count_words,
    grouped,
    hours_words,
    id_words,
    plus_minus,
    sentence_for_people,
    short,
    unit_words,
)

CHART: Final = "drift.svg"
MOST_EVENTS: Final = 40
SHOWN_EVENTS: Final = 4
"""So many events have their pictures on the paper; all have them beside the journal."""
Document = Mapping[str, Any]
FROM_THE_START: Final = (
    "None of this is counted as a failure: it was there when the run began. Friction and play hold "
    "a needle back on its way, so that it stands otherwise from above than from below; the highest "
    "check point is never come to from above. How far a needle stands from where it was told holds "
    "as far as the cluster makes of its command what its design says; whether it may read so is "
    "judged by the bench check."
)
STATES: Final[Mapping[str, tuple[Sign, str]]] = {
    "finished": ("good", "Finished"),
    "stopped": ("none", "Stopped, not finished"),
    "failed": ("bad", "Ended by a fault"),
    "under_way": ("none", "Under way"),
}


def burn_in_pdf(document: Document, chart: str | None, pictures: Mapping[str, bytes]) -> bytes:
    """Lay a burn-in's report out.

    Parameters
    ----------
    document
        As `composing.burn_in_report.report_document` gives it.
    chart
        The drift drawn, SVG; None: nothing was read.
    pictures
        Of the events, by file name as in the document.

    Returns
    -------
    bytes
        A PDF.

    Raises
    ------
    PaperError
        If it cannot be laid out.
    """
    assets = {} if chart is None else {CHART: chart.encode()}
    blocks: list[Block] = [_outcome(document), _facts(document), *_statements(document)]
    blocks += _counts(document)
    if document["from_start"]:
        blocks += _from_the_start(document)
    if chart is not None:
        blocks += [
            Heading("Drift of the check points"),
            _drift(document),
            Drawing(CHART, "How far each check point has gone from its first reading"),
        ]
    blocks += _events(document, pictures, assets)
    sheet = Sheet(
        title="Burn-in",
        under_title=f"Unit {document['unit']}, family {document['family']}. No certificate.",
        head_left=f"Family {document['family']}",
        head_right=f"Unit {document['unit']}",
        foot_left="No certificate. ± is the expanded uncertainty, k = 2 (about 95 %)",
        banner="Rehearsed. Not seen on a real cluster." if document["rehearsed"] else "",
        end=f"end of the burn-in of {document['unit']}",
        blocks=tuple(blocks),
        assets=assets,
    )
    return sheet_pdf(sheet, date.fromisoformat(document["last"][:10]))


def _outcome(document: Document) -> Notice:
    sign, words = STATES[document["state"]]
    failures = sum(document["failures"].values())
    if failures and sign == "good":
        sign = "bad_doubt"
    elif sign == "good" and any(_differs(one) for one in document["from_start"]):
        sign = "doubt"
    if sign == "good" and not document["says_something"]:
        sign = "none"
        words = "Rehearsal finished" if document["rehearsed"] else "Finished, too short to say much"
    found = f"{failures or 'no'} failure{'' if failures == 1 else 's'}"
    said = [_sentence(document["words"])]
    if dials := dict.fromkeys(one["dial"] for one in document["from_start"] if _differs(one)):
        names = " and ".join(map(id_words, dials))
        said.append(f"Otherwise from above than from below, from the first look on: {names}.")
    return Notice(sign, f"{words}: {found}", tuple(said))


def _facts(document: Document) -> Facts:
    lamps = ", ".join(map(id_words, document["lamps_watched"])) or document["lamps_none"]
    if document["lamp_looks"]:
        lamps += f", {count_words(document['lamp_looks'], 'look')}"
    if document["lamp_looks_not_judged"]:
        more = (
            f"{grouped(document['lamp_looks_not_judged'])} not judged: the room's light had changed"
        )
        lamps += f"; {more}"
    unseen = ", ".join(
        map(id_words, (*document["lamps_drowned"], *document["lamps_without_place"]))
    )
    gone_on = count_words(document["gone_on"], "time") if document["gone_on"] else "never"
    if document["lines_cut_off"]:
        gone_on += f"; {document['lines_cut_off']} with the last line cut off"
    rows = (
        (
            "With the power on",
            f"{hours_words(document['hours'])} of {hours_words(document['of_hours'])}",
        ),
        ("Sweeps", grouped(document["sweeps"])),
        ("Key-ons", grouped(document["key_ons"])),
        ("Begun", _moment(document["begun"])),
        ("Last entry", _moment(document["last"])),
        ("Gone on after an interruption", gone_on),
        ("Lamps watched", lamps),
        *([("Lamps not watched", unseen or "none")] if unseen or document["lamps_watched"] else []),
    )
    return Facts(rows, 4)


def _statements(document: Document) -> list[Block]:
    return [
        Heading("What was to be expected beforehand"),
        Paragraph(_sentence(document["beforehand"]["words"])),
        Paragraph(_laws(document), faint=True),
        Heading("What this run shows by itself"),
        Paragraph(_sentence(document["shown"]["words"])),
        Paragraph(
            "The two are not to be mixed: nothing of this run is in the first, and nothing that "
            "was known beforehand is in the second.",
            faint=True,
        ),
    ]


def _laws(document: Document) -> str:
    """Where the first statement comes from, law by law."""
    laws = [
        f"{one['part']}: shape {one['shape']:.3g}, scale {grouped(one['scale'])} "
        f"{'h' if one['clock'] == 'hours' else 'sweeps'} ({one['from']})"
        for one in document["beforehand"]["parts"]
    ]
    warranty = f" Warranty: {document['beforehand']['warranty_from']}."
    return f"Made of the law of the {'; of the '.join(laws)}.{warranty}"


def _counts(document: Document) -> list[Block]:
    if not document["counts"]:
        return [Heading("Events"), Paragraph("None.")]
    columns = (
        Column("event"),
        Column("where"),
        Column("times", "right", 16.0),
        Column("first at", "right", 24.0),
        Column("last at", "right", 24.0),
        Column("counts as"),
    )
    rows = tuple(
        (
            Cell(one["name"]),
            Cell(id_words(one["where"])),
            Cell(grouped(one["times"])),
            Cell(hours_words(one["first_hours"])),
            Cell(hours_words(one["last_hours"])),
            Cell("failure", "bad") if one["is_failure"] else Cell("remark", "none"),
        )
        for one in document["counts"]
    )
    return [Heading("Events"), Table(columns, rows)]


def _from_the_start(document: Document) -> list[Block]:
    left = document["left_run"]
    columns = [
        Column("dial", "left", 24.0),
        Column("at", "right", 26.0),
        Column("from above against from below"),
        Column("from where it was told"),
        *([] if left is None else [Column("from the run before")]),
    ]
    rows = []
    for row in document["from_start"]:
        cells = [Cell(row["dial"]), Cell(f"{short(row['value'])} {unit_words(row['unit'])}")]
        cells += [_way_cell(row["reversal"]), _off_cell(row["from_told"])]
        if left is not None:
            cells.append(_off_cell(row["from_left"]))
        rows.append(tuple(cells))
    words = [FROM_THE_START]
    if left is not None:
        words.append(f"The run before is {left['name']}, {left['at'][:10]}.")
    return [
        Heading("From the first look on"),
        Table(tuple(columns), tuple(rows)),
        Paragraph(" ".join(words), faint=True),
    ]


def _off_cell(one: Mapping[str, Any] | None) -> Cell:
    if one is None:
        return Cell("–")
    return Cell(
        f"{plus_minus(one['off_deg'], one['expanded_deg'], 2, signed=True)}°",
        "bad_doubt" if one["off"] else None,
    )


def _way_cell(one: Mapping[str, Any] | None) -> Cell:
    if one is None or one["reversal_deg"] is None:
        return Cell("–")
    by = f"{plus_minus(one['reversal_deg'], one['expanded_deg'], 3, signed=True)}°"
    if one["code"] == "not_judged":
        return Cell(f"{by}, not judged")
    said = {"differs": "differs", "alike": "alike", "open": "in doubt"}[one["code"]]
    return Cell(
        f"{by}, {said} ({short(one['allowed_deg'])}° is allowed)",
        "bad" if one["code"] == "differs" else None,
    )


def _differs(row: Mapping[str, Any]) -> bool:
    return row["reversal"] is not None and row["reversal"]["code"] == "differs"


def _drift(document: Document) -> Table:
    columns = (
        Column("dial", "left", 24.0),
        Column("at", "right", 26.0),
        Column("looks", "right", 14.0),
        Column("change"),
    )
    rows = tuple(
        (
            Cell(row["dial"]),
            Cell(f"{short(row['value'])} {unit_words(row['unit'])}"),
            Cell(grouped(row["looks"])),
            Cell(
                sentence_for_people(row["words"].replace(" deg", "°")),
                "bad" if row["drifts"] else None,
            ),
        )
        for row in document["drift"]
    )
    return Table(columns, rows)


def _events(
    document: Document, pictures: Mapping[str, bytes], assets: dict[str, bytes]
) -> list[Block]:
    blocks: list[Block] = []
    shown = 0
    for event in document["events"][:MOST_EVENTS]:
        if not blocks:
            blocks.append(Heading("Events in time"))
        blocks.append(
            Paragraph(
                f"{event['number']}.  {hours_words(event['hours'])}, "
                f"{count_words(event['sweeps'], 'sweep')}, {id_words(event['where'])}: "
                f"{sentence_for_people(event['words']).replace(' deg', '°')}"
            )
        )
        there = [
            (name, at_s)
            for name, at_s in zip(event["pictures"], event["picture_s"], strict=True)
            if name in pictures
        ]
        if there and shown < SHOWN_EVENTS:
            shown += 1
            blocks.append(Pictures(tuple(_around(there, pictures, assets)), 3))
    left = len(document["events"]) - MOST_EVENTS
    if left > 0:
        blocks.append(Paragraph(f"{grouped(left)} more are in the journal.", faint=True))
    return blocks


def _around(
    there: list[tuple[str, float]], pictures: Mapping[str, bytes], assets: dict[str, bytes]
) -> list[Picture]:
    """The picture before an event, the first of it, and the last after it."""
    before = [one for one in there if one[1] < 0]
    after = [one for one in there if one[1] >= 0]
    chosen = dict.fromkeys([*before[-1:], *after[:1], *after[-1:]])
    found = []
    for name, at_s in chosen:
        asset = name.replace("/", "-")
        assets[asset] = pictures[name]
        found.append(Picture(asset, f"{at_s:+.2f} s"))
    return found


def _sentence(words: str) -> str:
    """Words as a sentence stands on paper."""
    said = sentence_for_people(words)
    return f"{said[:1].upper()}{said[1:]}."


def _moment(text: str) -> str:
    return f"{text[:10]} {text[11:16]} UTC"
