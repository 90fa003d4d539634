"""From a guide as it is written to the sheet of one family."""

from typing import Final

from needlewright.errors import PlanError
from needlewright.families.model import Family
from needlewright.plans.catalogue.model import listed_in
from needlewright.plans.guides.family_notes import VEHICLE, FamilyNotes, NotedLine, family_notes
from needlewright.plans.guides.file_tables import CheckTable, CountedTable, Listed
from needlewright.plans.guides.line_keys import line_key
from needlewright.plans.guides.load import WAIT, GuideBook, checks_need, levels_of
from needlewright.plans.guides.model import Check, Counted, Guide, Refit, Step

MILEAGE: Final = "{mileage}"
TO_WRITE: Final = "______________"
"""Where the hand writes what nobody told."""


def guide_of(
    book: GuideBook, name: str, family: Family | None = None, *, of_one_dial: bool = False
) -> Guide:
    """The guide of a name.

    Parameters
    ----------
    book
        Every guide.
    name
        Of a guide, or of an operation.
    family
        Whose counts are put in; None: of no family, counts stay open.
    of_one_dial
        Whether the work is done to one dial: of what the guide itself counts by dials there is one
        then. What a level frees stays all, such as every needle before the face comes off.

    Returns
    -------
    Guide
        For one sheet.

    Raises
    ------
    PlanError
        If there is none of that name, or the family's notes are of another form.
    """
    catalogue = book.catalogue
    if name not in book.guides and name in catalogue.operation:
        name = catalogue.operation[name].guide or name
    if name not in book.guides:
        raise PlanError(
            f"there is no guide '{name}'; there are: {', '.join(book.guides)}, and refit"
        )
    table = book.guides[name]
    levels = levels_of(catalogue, table.operations, table.open)
    notes = None if family is None else family_notes(family, tuple(catalogue.level))
    shared = [book.levels.level[level] for level in levels if level in book.levels.level]
    # a guide of one's own from before checks had cautions is not refused: what is lacking is added
    kinds = dict.fromkeys((*table.cautions, *checks_need(catalogue, table.operations, levels)))
    return Guide(
        name=name,
        title=table.title,
        operations=table.operations,
        cautions=(*table.own_cautions, *(catalogue.caution[kind] for kind in kinds)),
        tools=tuple(dict.fromkeys((*(t for one in shared for t in one.tools), *table.tools))),
        steps=tuple(
            Step(one.words, one.drawing, key=line_key("step", one.words)) for one in table.step
        ),
        good=table.good,
        photos=table.photos,
        counted=_counted(book, levels, _at_hand(table.counted, of_one_dial), family, notes),
        checks=_checks(table.check),
        open_first=tuple(_plain(catalogue.level[level].way_in.words) for level in levels),
        close_after=tuple(
            _plain(catalogue.level[level].way_out.words) for level in reversed(levels)
        ),
        source=table.source,
        see_also=_see_also(book, name),
        family=None if family is None else family.name,
        invented=family is not None and family.is_invented,
    )


def _see_also(book: GuideBook, name: str) -> tuple[str, ...]:
    """Other guides of the same operations, those that share most first."""
    mine = set(book.guides[name].operations)
    shared = {other: len(mine & set(one.operations)) for other, one in book.guides.items()}
    others = (other for other, count in shared.items() if count and other != name)
    return tuple(sorted(others, key=lambda other: (-shared[other], other)))


def refit_of(
    book: GuideBook,
    family: Family,
    *,
    wait: str | None = None,
    mileage: str | None = None,
    tag: str | None = None,
) -> Refit:
    """The sheet for whoever puts a cluster of a family back.

    Parameters
    ----------
    book
        Every guide.
    family
        Whose fasteners, loose parts, connectors and cautions are put in.
    wait
        After the battery is off, from this vehicle's own manual; None: as the family says, else 10
        minutes.
    mileage
        As returned, with its unit; None: a line to write on.
    tag
        Of the job.

    Returns
    -------
    Refit
        For one sheet.

    Raises
    ------
    PlanError
        If the family's notes are of another form.
    """
    table = book.refit
    notes = family_notes(family, tuple(book.catalogue.level))
    put_in = {WAIT: wait or notes.wait or table.wait, MILEAGE: mileage or TO_WRITE}
    steps = [
        Step(
            _with(step.words, put_in),
            step.drawing,
            part.title if number == 0 else "",
            step.rows,
            line_key("step", step.words),
        )
        for part in table.part
        for number, step in enumerate(part.step)
    ]
    return Refit(
        title=table.title,
        family=family.name,
        tag=tag,
        cautions=(*table.cautions, *notes.cautions),
        steps=tuple(steps),
        fasteners=_lines(notes.at(VEHICLE, "fasteners")),
        loose_parts=_lines(notes.at(VEHICLE, "loose_parts")),
        connectors=_lines(notes.at(VEHICLE, "connectors")),
        good=table.good,
        checks=_checks(table.check),
        source=table.source,
        invented=family.is_invented,
    )


def _at_hand(rows: tuple[CountedTable, ...], of_one_dial: bool) -> tuple[CountedTable, ...]:
    """What a guide counts, of one dial or of all."""
    if not of_one_dial:
        return rows
    return tuple(
        row.model_copy(update={"of": None, "count": 1}) if row.of == "dials" else row
        for row in rows
    )


def _counted(
    book: GuideBook,
    levels: tuple[str, ...],
    own: tuple[CountedTable, ...],
    family: Family | None,
    notes: FamilyNotes | None,
) -> tuple[Counted, ...]:
    """Level by level, the family's own lines in the place of the general ones; then the guide's."""
    found: list[Counted] = []
    for level in levels:
        noted = () if notes is None else notes.at(level, "fasteners", "loose_parts", "connectors")
        shared = book.levels.level[level].counted if level in book.levels.level else ()
        found += _lines(noted)
        told = notes is not None and notes.at(level, "fasteners")
        found += [_line(row, family) for row in shared if not (row.fasteners and told)]
    found += [_line(row, family) for row in own]
    return tuple(dict.fromkeys(found))


def _line(row: CountedTable, family: Family | None) -> Counted:
    count = row.count
    if row.of is not None and family is not None:
        count = _listed(family, row.of) or count
    return Counted(row.what, count)


def _listed(family: Family, of: Listed) -> int:
    return len(family.dials) if of == "dials" else listed_in(family, of)


def _lines(noted: tuple[NotedLine, ...]) -> tuple[Counted, ...]:
    return tuple(Counted(line.what, line.count, line.tightness) for line in noted)


def _checks(tables: tuple[CheckTable, ...]) -> tuple[Check, ...]:
    return tuple(Check(one.words, one.command) for one in tables)


def _plain(words: str) -> str:
    return words.replace("{dial}", "the dial")


def _with(words: str, put_in: dict[str, str]) -> str:
    for place, said in put_in.items():
        words = words.replace(place, said)
    return words
