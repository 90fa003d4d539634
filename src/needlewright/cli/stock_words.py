"""The stock for people at a terminal."""

from collections.abc import Sequence

from needlewright.cli.job_words import moment_words
from needlewright.cli.shop_options import say
from needlewright.composing.stock import JobNeeds, ToReorder
from needlewright.composing.stock_batches import BatchRecord
from needlewright.records.views.stock import (
    StockImport,
    StockMoveView,
    StockPartView,
    UsedPartView,
)

KIND_WORDS = {
    "received": "received",
    "used": "used in",
    "given_back": "given back from",
    "counted": "counted",
    "scrapped": "scrapped",
}


def show_parts(parts: Sequence[StockPartView]) -> None:
    """One line for each part."""
    if not parts:
        say("no such part in stock; add one with needlewright stock add PART --words TEXT")
        return
    say(_columns("part", "on hand", "reorder at", "place", "words"))
    for part in parts:
        mark = ", TO REORDER" if part.to_reorder else ", kept no more" if part.retired else ""
        say(_columns(part.code, str(part.on_hand), _point(part), part.place, f"{part.words}{mark}"))


def show_part(part: StockPartView) -> None:
    """A part and its batches that have any left."""
    mark = ", TO REORDER" if part.to_reorder else ""
    say(f"{part.code}: {part.words}, {part.on_hand} {part.unit} on hand{mark}")
    for batch in part.batches:
        if batch.on_hand:
            say(f"  batch {batch.mark}, came {batch.received_on}: {batch.on_hand} left")


def show_used(tag: str, used: Sequence[UsedPartView]) -> None:
    """What is used in a job."""
    if not used:
        say(f"{tag}: nothing out of stock is used in it")
        return
    say(f"{tag}: used in it")
    for one in used:
        why = f", {one.why}" if one.why else ""
        say(f"  {one.count} {one.part}, batch {one.batch} ({moment_words(one.at)}, {one.by}{why})")


def show_ledger(part: StockPartView, lines: Sequence[StockMoveView]) -> None:
    """Every line, oldest first."""
    show_part(part)
    for one in lines:
        what = KIND_WORDS[one.kind] + ("" if one.tag is None else f" {one.tag}")
        undone = f", takes back line {one.undoes}" if one.undoes else ""
        undone += ", taken back" if one.undone else ""
        batch = "" if one.batch is None else f", batch {one.batch}"
        why = f", {one.why}" if one.why and not one.undoes else ""
        say(
            f"{one.id:>6}  {moment_words(one.at)}  {one.count:+5d}  {one.on_hand:5d}  "
            f"{what}{batch}{why}{undone}, {one.by}"
        )


def show_to_reorder(listed: Sequence[ToReorder]) -> None:
    """What is to be ordered."""
    if not listed:
        say("nothing is to be ordered")
        return
    for one in listed:
        jobs = "no accepted plan needs it"
        if one.wanted:
            jobs = f"accepted plans need {one.wanted} ({', '.join(one.jobs)})"
        point = one.part.reorder_point
        brings = "are needed" if point is None else "bring it above the point"
        short = f", short by {one.short}" if one.short else ""
        say(
            f"{one.part.code}: {one.part.words}, {one.part.on_hand} on hand, reorder point "
            f"{_point(one.part)}; {jobs}{short}; {one.least} or more {brings}"
        )


def show_batches(records: Sequence[BatchRecord]) -> None:
    """Each batch, its jobs, and how many came back."""
    if not records:
        say("nothing of it has been received yet")
    for one in records:
        say(f"{one.part}, batch {one.mark}: {one.received} received, {one.on_hand} left")
        for job in one.jobs:
            gone = "in the house" if job.closed_at is None else f"out {job.closed_at:%Y-%m-%d}"
            back = "" if job.came_back is None else f", CAME BACK as {job.came_back}"
            serial = f", serial {job.serial}" if job.serial else ""
            say(f"  {job.tag}: {job.count} in {job.family}{serial}, {gone}{back}")
        say(f"  {one.said}")


def show_needed(needs: JobNeeds) -> None:
    """What a plan needs against the stock."""
    say(f"{needs.tag}: plan {needs.number}, option {needs.option}")
    for one in needs.parts:
        place = f" ({one.place})" if one.place else ""
        used = f", {one.used} used" if one.used else ""
        say(f"  {one.count} {one.part}, {one.words}{place}{used}: {one.said}")
    if not needs.parts:
        say("  it needs no parts")


def import_words(done: StockImport) -> str:
    """What a list did, in one sentence."""
    return (
        f"taken in; parts new: {done.parts_new}, changed: {done.parts_changed}; batches received: "
        f"{done.batches_received}, counted otherwise: {done.batches_counted}"
    )


def _point(part: StockPartView) -> str:
    return "-" if part.reorder_point is None else str(part.reorder_point)


def _columns(*cells: str) -> str:
    widths = (18, 8, 10, 12, 0)
    return "  ".join(f"{c:<{w}}" for c, w in zip(cells, widths, strict=True)).rstrip()
