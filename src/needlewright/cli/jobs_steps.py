"""`needlewright jobs steps`, `tick`, `untick`, `step-note`, `guide`: the work as it is done."""

from typing import Annotated

import typer

from needlewright.cli import console
from needlewright.cli.job_words import moment_words
from needlewright.cli.shop_options import AsJson, By, ShopFolder, Tag, emit_view, say, shop_at
from needlewright.composing.guide_marks import GuideLine, GuideMarks, marked_line, typed_number
from needlewright.composing.job_guide import job_guide
from needlewright.composing.rebuild import job_rebuild, no_plan, progress_words, rebuild_line
from needlewright.composing.rebuild_model import JobRebuild, RebuildStep
from needlewright.errors import UsageError
from needlewright.records.opening import Shop
from needlewright.records.tick_marks import Marked, Numbered, Ticked, Unticked, write_marks
from needlewright.records.ticks import write_note
from needlewright.records.views.ticks import TickView
from needlewright.records.words import SheetMark

Lines = Annotated[
    list[str],
    typer.Argument(metavar="STEP...", help="Numbers, as `jobs steps` shows them, or keys."),
]


def steps(tag: Tag, *, shop: ShopFolder = None, as_json: AsJson = False) -> None:
    """List the work of a job's plan step by step: what is ticked, and what is left."""
    with shop_at(shop) as opened:
        _after(opened, tag, as_json)


def tick(
    tag: Tag,
    lines: Lines,
    *,
    note: Annotated[
        str | None, typer.Option(metavar="TEXT", help="What was found; goes with one step.")
    ] = None,
    by: By = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Tick steps of a job's plan as done, or parts of it as pulled."""
    if note is not None and len(lines) > 1:
        raise typer.BadParameter("--note goes with one step")
    with shop_at(shop) as opened:
        found = [rebuild_line(opened, tag, one) for one in lines]
        _write(opened, tag, [Ticked(line, note or "") for line in found], by)
        _after(opened, tag, as_json)


def untick(
    tag: Tag, lines: Lines, *, by: By = None, shop: ShopFolder = None, as_json: AsJson = False
) -> None:
    """Take ticks off steps; who had ticked them stays in the job's history."""
    with shop_at(shop) as opened:
        found = [rebuild_line(opened, tag, one) for one in lines]
        _write(opened, tag, [Unticked(line) for line in found], by)
        _after(opened, tag, as_json)


def step_note(
    tag: Tag,
    line: Annotated[str, typer.Argument(metavar="STEP", help="A number or a key.")],
    text: Annotated[str, typer.Argument(metavar="TEXT", help="What was found.")],
    *,
    by: By = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Note at a step what was found there, such as one more cracked joint."""
    with shop_at(shop) as opened:
        write_note(opened, tag, rebuild_line(opened, tag, line), text, by)
        _after(opened, tag, as_json)


def guide(
    tag: Tag,
    name: Annotated[
        str, typer.Argument(metavar="NAME", help="Of a guide or an operation, or `refit`.")
    ],
    *,
    dial: Annotated[
        str | None, typer.Option(metavar="ID", help="The dial the work is done to.")
    ] = None,
    done: Annotated[
        list[str] | None, typer.Option("--tick", metavar="LINE", help="Tick a line.")
    ] = None,
    not_done: Annotated[
        list[str] | None, typer.Option("--untick", metavar="LINE", help="Take its tick off.")
    ] = None,
    out: Annotated[
        list[str] | None, typer.Option(metavar="LINE=N", help="So many were counted out.")
    ] = None,
    back: Annotated[
        list[str] | None, typer.Option("--in", metavar="LINE=N", help="So many are back in.")
    ] = None,
    read: Annotated[
        list[str] | None, typer.Option(metavar="LINE=VALUE", help="What was read, on `refit`.")
    ] = None,
    by: By = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Show a guide or the refit sheet of a job: tick its lines, count parts out and in.

    A line goes by its number in the list or by its key. What is counted out and not back is said.
    """
    with shop_at(shop) as opened:
        if dial is None and (done or not_done or out or back):
            _refuse_no_dial(opened, tag, name)
        marks = job_guide(opened, tag, name, dial).marks
        written: list[Marked] = [Ticked(marked_line(marks, one)) for one in done or ()]
        written += [Unticked(marked_line(marks, one)) for one in not_done or ()]
        given: dict[SheetMark, list[str]] = {
            "out": out or [],
            "in": back or [],
            "reading": read or [],
        }
        for mark, typed in given.items():
            written += [_number(marks, mark, one) for one in typed]
        if written:
            _write(opened, tag, written, by)
        marks = job_guide(opened, tag, name, dial).marks
    emit_view(marks) if as_json else _show_guide(marks)


def add_to(app: typer.Typer) -> None:
    """Put the commands into the group."""
    app.command("steps")(steps)
    app.command("tick")(tick)
    app.command("untick")(untick)
    app.command("step-note")(step_note)
    app.command("guide")(guide)


def _write(opened: Shop, tag: str, marks: list[Marked], by: str | None) -> None:
    """All of it as one step of the history, or nothing."""
    for mark, stands in zip(marks, write_marks(opened, tag, marks, by), strict=True):
        if isinstance(mark, Unticked) and stands is None:
            console.err.print(f"look: '{mark.line.said}' was not ticked", markup=False)


def _refuse_no_dial(opened: Shop, tag: str, name: str) -> None:
    """Work that a plan has of single dials is ticked for one of them."""
    work = job_rebuild(opened, tag)
    steps = () if work is None else work.steps
    of = [one.dial for one in steps if name in (one.guide, one.operation)]
    dials = list(dict.fromkeys(one for one in of if one is not None))
    if dials and None not in of:
        raise UsageError(
            f"job {tag}, guide {name}: its plan has this work of {', '.join(dials)}; say of which "
            f"with --dial, such as --dial {dials[0]}"
        )


def _number(marks: GuideMarks, mark: SheetMark, typed: str) -> Numbered:
    key, sign, number = typed.rpartition("=")
    if not sign:
        raise typer.BadParameter(f"expected LINE=N, found '{typed}'")
    line, value = typed_number(marks, key, mark, number)
    return Numbered(line, mark, value)


def _after(opened: Shop, tag: str, as_json: bool) -> None:
    work = job_rebuild(opened, tag)
    if work is None:
        raise no_plan(tag)
    emit_view(work) if as_json else _show(work)


def _show(work: JobRebuild) -> None:
    say(f"job {work.tag}, plan {work.number}, option {work.title}: {progress_words(work)}")
    if work.acceptance is None:
        older = "to an older plan, not to this one" if work.needs_new_acceptance else "to this plan"
        said = "the owner agreed" if work.needs_new_acceptance else "the owner has not agreed"
        say(f"look: {said} {older}")
    for part in work.parts:
        say(f"{_sign(part.done)}     {part.count} x {part.words}{_who(part.done)}  ({part.key})")
    for step in work.steps:
        _show_step(step)
    for one in work.older:
        said = f": {one.line.note}" if one.line.note else ""
        say(f"under plan {one.number}: {one.line.words or one.line.key}{said}{_who(one.line)}")


def _show_step(step: RebuildStep) -> None:
    minutes = "" if step.minutes is None else f", {step.minutes:.0f} min"
    kind = "check: " if step.kind == "check" else ""
    say(f"{_sign(step.done)} {step.number:>3}  {kind}{step.words}{minutes}{_who(step.done)}")
    for caution in step.cautions if step.done is None else ():
        say(f"         caution: {caution}")
    for note in step.notes:
        say(f"         note: {note.note}{_who(note)}")
    if step.guide is not None and step.done is None:
        dial = "" if step.dial is None else f" --dial {step.dial}"
        say(f"         guide: {step.guide}{dial}")
    elif step.guide_missing:
        say("         there is no guide for this step")


def _show_guide(marks: GuideMarks) -> None:
    say(f"job {marks.tag}, {marks.sheet}: {marks.done} of {marks.of} steps and checks ticked")
    listed = sorted(enumerate(marks.lines, start=1), key=lambda one: one[1].kind != "tool")
    for number, line in listed:  # tools are laid out first; a line keeps its number
        after = f"{_counted(line)}{_who(line.done)}"
        say(f"{_sign(line.done)} {number:>3}  {line.kind}: {line.words}{after}")
    for words in marks.wrong:
        say(f"look: {words}")


def _counted(line: GuideLine) -> str:
    if line.reading is not None:
        return f" = {line.reading.value:g}"
    if line.counts is None:
        return ""
    there = "to count" if line.expected is None else str(line.expected)
    out = "" if line.kind == "row" or line.counts.out is None else f", {line.counts.out} out"
    back = "" if line.counts.back is None else f", {line.counts.back} in"
    return f" ({there}{out}{back})"


def _sign(done: TickView | None) -> str:
    return "[ ]" if done is None else "[x]"


def _who(line: TickView | None) -> str:
    return "" if line is None else f"  {line.by}, {moment_words(line.at)}"
