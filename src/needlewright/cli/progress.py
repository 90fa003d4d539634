"""Long work says how far it is and how long it will take."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager

from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

from needlewright.cli import console


@contextmanager
def progress_bar(what: str, of: int) -> Iterator[Callable[[int, int], None] | None]:
    """Show a bar on standard error, where that is a terminal and there is more than one step.

    Parameters
    ----------
    what
        What is being done, in a word or two.
    of
        How many steps there are.

    Yields
    ------
    callable or None
        To be called with the steps done and of all; None where nothing is shown.
    """
    if of < 2 or not console.err.is_terminal:
        yield None
        return
    columns = (TextColumn(what), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=console.err, transient=True) as progress:
        task = progress.add_task(what, total=of)
        yield lambda done, total: progress.update(task, completed=done, total=total)
