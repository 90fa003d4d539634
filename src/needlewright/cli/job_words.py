"""A job for people: one line on the shelf, and the sheet in the order of the work."""

from collections.abc import Iterator, Sequence
from datetime import date, datetime

from needlewright.cli.shop_options import say
from needlewright.records.jobs import WAITS_FOR_WORDS
from needlewright.records.overdue import is_overdue
from needlewright.records.views import (
    BoxItemView,
    InstrumentView,
    JobSheet,
    RunLine,
    Shelf,
    ShelfLine,
    StageView,
    Visit,
)
from needlewright.records.words import STAGE_WORDS

_STATE_WORDS = {"to_do": "to do", "in_hand": "in hand", "finished": "finished"}


def show_shelf(shelf: Shelf) -> None:
    """One line for each job."""
    say(_columns("tag", "family", "stands at", "waits for", "promised", "complaint"))
    for line in shelf.lines:
        say(_shelf_line(line))
    if shelf.count > len(shelf.lines):
        say(f"{len(shelf.lines)} of {shelf.count}; search, or ask for more with --limit")
    if not shelf.lines:
        say("no such job in the house")


def show_sheet(sheet: JobSheet) -> None:
    """The whole sheet, in the order of the work."""
    for line in (*_head(sheet), *_stages(sheet), *_received(sheet), *_bench(sheet)):
        say(line)
    for line in (
        *_parts(sheet),
        *_sayings(sheet),
        *_returned(sheet),
        *_papers(sheet),
        *_visits(sheet.visits),
    ):
        say(line)


def moment_words(moment: datetime) -> str:
    """A moment in the time of the bench."""
    return f"{moment.astimezone():%Y-%m-%d %H:%M}"


def mileage_words(sheet: JobSheet, mileage: float | None) -> str:
    """A mileage, or why there is none."""
    if sheet.odometer_none is not None:
        return f"none fitted: {sheet.odometer_none}"
    return "not recorded" if mileage is None else f"{mileage:g} {sheet.odometer_unit}"


def _shelf_line(line: ShelfLine) -> str:
    where = "returned" if line.closed_at else STAGE_WORDS[line.stage]
    promised = "" if line.promised is None else line.promised.isoformat()
    return _columns(
        line.tag, line.family, where, WAITS_FOR_WORDS[line.waits_for], promised, line.complaint
    )


def _columns(*cells: str) -> str:
    widths = (12, 18, 12, 20, 10, 0)
    return "  ".join(f"{c:<{w}}" for c, w in zip(cells, widths, strict=True)).rstrip()


def _head(sheet: JobSheet) -> Iterator[str]:
    variant = f", variant {sheet.variant}" if sheet.variant else ""
    built = f", built {sheet.built}" if sheet.built else ""
    yield f"{sheet.tag}: {sheet.family}{variant}, serial {sheet.serial or 'none'}{built}"
    yield f"  owner       {sheet.owner or 'not stated'}"
    yield f"  vehicle     {sheet.vehicle or 'not stated'}"
    yield f"  complaint   {sheet.complaint or 'not stated'}"
    yield f"  odometer    in: {mileage_words(sheet, sheet.odometer_in)}"
    if sheet.odometer_out is not None:
        yield f"              out: {mileage_words(sheet, sheet.odometer_out)}"
    if sheet.promised:
        yield f"  promised    {sheet.promised}"
    yield f"  waits for   {WAITS_FOR_WORDS[sheet.waits_for]}"
    if sheet.return_of:
        yield f"  a return of {sheet.return_of}"


def _stages(sheet: JobSheet) -> Iterator[str]:
    yield ""
    for stage in sheet.stages:
        yield f"  {stage.words:<12} {_state(stage)}"


def _state(stage: StageView) -> str:
    words = _STATE_WORDS[stage.state]
    at, by = (
        (stage.finished_at, stage.finished_by)
        if stage.state == "finished"
        else (stage.started_at, stage.started_by)
    )
    return words if at is None else f"{words}, {moment_words(at)}, {by}"


def _parts(sheet: JobSheet) -> Iterator[str]:
    if sheet.parts:
        yield "\nparts out of stock"
    for one in sheet.parts:
        why = f", {one.why}" if one.why else ""
        yield f"  {one.count} {one.part}, batch {one.batch} ({moment_words(one.at)}, {one.by}{why})"


def due_words(one: InstrumentView) -> str:
    """When an instrument's own calibration is due, and whether that is past today."""
    late = ", overdue" if is_overdue(one.due, date.today()) else ""
    return f", due {one.due}{late}" if one.due else ""


def _received(sheet: JobSheet) -> Iterator[str]:
    got = sheet.received
    if got.day is None:
        return
    yield f"\nreceived {got.day} from {got.sender or 'not stated'}"
    yield from _box(got.contents)
    for words, said in (
        ("packing", got.packing),
        ("damage", got.damage),
        ("condition", got.condition),
        ("odometer", got.odometer_unreadable and f"not readable: {got.odometer_unreadable}"),
    ):
        if said:
            yield f"  {words:<10} {said}"
    for check in got.checks:
        said = "not looked at" if check.ok is None else "ok" if check.ok else "not ok"
        note = f" ({check.note})" if check.note else ""
        yield f"  {check.words:<18} {said}{note}"
    for photo in sheet.photos:
        note = f": {photo.note}" if photo.note else ""
        yield f"  photo ({photo.stage}, {photo.kind}) {photo.name}{note}"


def _box(contents: Sequence[BoxItemView]) -> Iterator[str]:
    for item in contents:
        note = f" ({item.note})" if item.note else ""
        yield f"  {'[x]' if item.ticked else '[ ]'} {item.what}{note}"


def _bench(sheet: JobSheet) -> Iterator[str]:
    if sheet.runs:
        yield "\nruns"
    for run in sheet.runs:
        yield f"  {run_words(run)}"
    if sheet.instruments:
        yield "\ninstruments"
    for one in sheet.instruments:
        yield f"  {one.name}, number {one.number}{due_words(one)}"
    if sheet.work_done:
        yield "\nwork done"
    for work in sheet.work_done:
        yield f"  {work}"


def run_words(run: RunLine) -> str:
    """A run in one line."""
    taken = "typed in" if run.typed else f"{run.photos} of {run.steps} photos"
    unread = f", {run.unread} not read yet" if run.unread else ""
    aside = f", set aside: {run.set_aside_why}" if run.set_aside_at else ""
    taken += "" if run.rehearsed is None else f", {run.rehearsed}"
    return f"{run.name}: {taken}{unread}, {moment_words(run.started_at)}, {run.by}{aside}"


def _sayings(sheet: JobSheet) -> Iterator[str]:
    if sheet.decisions:
        yield "\ndecisions"
    for one in sheet.decisions:
        yield f"  {one.text}, because {one.why} ({moment_words(one.at)}, {one.by})"
    if sheet.notes:
        yield "\nnotes"
    for note in sheet.notes:
        yield f"  {note.text} ({moment_words(note.at)}, {note.by})"


def _returned(sheet: JobSheet) -> Iterator[str]:
    back = sheet.returned
    if not (back.carrier or back.packing or back.contents):
        return
    yield f"\nreturned {back.day or '(not yet)'} by {back.carrier or 'carrier not stated'}"
    yield from _box(back.contents)
    if back.packing:
        yield f"  packing    {back.packing}"


def _papers(sheet: JobSheet) -> Iterator[str]:
    if sheet.papers:
        yield "\npapers"
    for paper in sheet.papers:
        old = f", replaced by {paper.replaced_by}" if paper.replaced_by else ""
        yield f"  {paper.name}: {paper.kind.replace('_', ' ')}, {paper.issued}{old}"


def _visits(visits: Sequence[Visit]) -> Iterator[str]:
    if visits:
        yield "\nother visits of this cluster"
    for visit in visits:
        yield f"  {visit.tag}, {moment_words(visit.opened_at)}: {visit.complaint or 'no complaint'}"
        for work in visit.work_done:
            yield f"    {work}"
        for paper in visit.papers:
            yield f"    {paper.name}: {paper.kind.replace('_', ' ')}, {paper.issued}"
