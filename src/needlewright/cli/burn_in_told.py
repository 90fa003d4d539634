"""What is said while a burn-in runs: how far it is, and what happened."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager

from rich.progress import BarColumn, TextColumn, TimeRemainingColumn
from rich.progress import Progress as Bar

from needlewright.bench.burn_in.attended import Listeners, Progress
from needlewright.bench.burn_in.journal import Happened
from needlewright.cli import console


@contextmanager
def told(of_hours: float, unit: str) -> Iterator[Listeners]:
    """A bar and the events, on standard error; where that is no terminal, a line for each hour."""
    if not console.err.is_terminal:
        yield Listeners(progress=each_hour(of_hours, unit))
        return
    columns = (
        TextColumn("burn-in"),
        BarColumn(),
        TextColumn("{task.completed:.2f} of {task.total:g} " + unit),
        TextColumn("{task.description}"),
        TimeRemainingColumn(),
    )
    with Bar(*columns, console=console.err, transient=True) as bar:
        task = bar.add_task("", total=of_hours)

        def progress(now: Progress) -> None:
            words = f"{now.counts.sweeps} sweeps, {now.events} events, {now.words}"
            bar.update(task, completed=min(now.counts.hours, of_hours), description=words)

        def event(one: Happened) -> None:
            bar.console.print(event_words(one), markup=False)

        yield Listeners(progress=progress, event=event)


def each_hour(of_hours: float, unit: str) -> Callable[[Progress], None]:
    """Says each whole hour that is full."""
    said: list[int] = []

    def progress(now: Progress) -> None:
        hour = int(now.counts.hours)
        if said and hour > said[-1] and hour < of_hours:
            words = f"{now.counts.sweeps} sweeps, {now.events} events"
            console.err.print(f"{hour} of {of_hours:g} {unit}: {words}", markup=False)
        if not said or hour > said[-1]:
            said.append(hour)

    return progress


def event_words(one: Happened) -> str:
    """An event in a line."""
    return f"{one.counts.hours:.3f} h  {one.where}: {one.words}"
