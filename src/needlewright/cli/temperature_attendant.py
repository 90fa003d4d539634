"""The person at a terminal who cools the cluster, and how far the series is."""

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from math import isfinite
from typing import Final

from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

from needlewright.bench.run import Listeners
from needlewright.bench.series import KeptSeries
from needlewright.bench.series_run import Soaked, Told
from needlewright.bench.stays import Cooling
from needlewright.cli import console
from needlewright.cli.signal_send import show_lines
from needlewright.errors import UnitError
from needlewright.plans.decimal_comma import pointed

LOOK_S: Final = 1.0


class SeriesBar:
    """A bar over all temperatures; it is out of the way while somebody types.

    Parameters
    ----------
    at
        Temperatures in their order, degC.
    """

    def __init__(self, at: tuple[float, ...]) -> None:
        self._at = at
        columns = (
            TextColumn("{task.description}"),
            BarColumn(),
            MofNCompleteColumn(),
            TimeRemainingColumn(),
        )
        self._progress = Progress(*columns, console=console.err, transient=True)
        self._task = self._progress.add_task("", total=None, visible=False)

    @property
    def told(self) -> Told:
        """For the series."""
        return Told(self._tell, Listeners())

    def _tell(self, place: int, degc: float, done: int, of: int) -> None:
        words = f"at {self._at[place]:g} degC, now {degc:.1f}"
        total = of * len(self._at)
        self._progress.update(
            self._task, description=words, completed=place * of + done, total=total, visible=True
        )

    @contextmanager
    def shown(self) -> Iterator[None]:
        """Show it, where there is a terminal."""
        if console.err.is_terminal:
            with self._progress:
                yield
        else:
            yield

    @contextmanager
    def aside(self) -> Iterator[None]:
        """Leave the terminal to somebody who types."""
        if not console.err.is_terminal:
            yield
            return
        self._progress.stop()
        yield
        self._progress.start()


class PersonAtTerminal:
    """Cools by hand, is asked for minutes and degrees; the clock is the wall's.

    Parameters
    ----------
    bar
        Out of the way while the person types.
    thermometer
        Whether there is one beside the movements.
    clock
        Seconds; another in tests.
    sleep
        Lets seconds pass; another in tests.
    """

    def __init__(
        self,
        bar: SeriesBar,
        *,
        thermometer: bool,
        clock: Callable[[], float] = time.time,
        sleep: Callable[[float], None] = time.sleep,
    ) -> None:
        self._bar, self._thermometer = bar, thermometer
        self._clock, self._sleep = clock, sleep

    def now_s(self) -> float:
        """Seconds of the wall's clock: it goes on while the program is not there."""
        return self._clock()

    def cool(self, asked: Cooling) -> Soaked | None:
        """Show what is to be done and wait until it is.

        Parameters
        ----------
        asked
            How cold, how long.

        Returns
        -------
        Soaked or None
            What was done; None: given up.
        """
        with self._bar.aside():
            show_lines(asked.words())
            if asked.conditions.way == "chamber":
                answer = _typed("Enter when it shows it, q and Enter to give up: ")
                return None if answer in ("q", "quit") else Soaked(0.0, None)
            minutes = self._minutes(asked.soak_min)
            if minutes is None:
                return None
            return Soaked(60.0 * minutes, self._degrees("beside the movements now"))

    def begins(self, stay: int, kept: KeptSeries) -> None:
        """Nothing is to be done.

        Parameters
        ----------
        stay
            Which.
        kept
            The series.
        """

    def wait(self, seconds: float, words: str) -> None:
        """Let time pass.

        Parameters
        ----------
        seconds
            How much.
        words
            What it is for.
        """
        show_lines([f"{words}: {seconds / 60:.1f} min; Ctrl-C stops, the same command goes on"])
        until_s = self._clock() + seconds
        while (left_s := until_s - self._clock()) > 0.0:
            self._sleep(min(left_s, LOOK_S))

    def thermometer_c(self, words: str) -> float | None:
        """Ask for what the thermometer shows.

        Parameters
        ----------
        words
            When.

        Returns
        -------
        float or None
            degC; None: there is none.
        """
        with self._bar.aside():
            return self._degrees(words)

    def _minutes(self, usual: int) -> float | None:
        while True:
            answer = _typed(
                f"Enter when it is done after {usual} min, else the minutes it was in the cold, "
                "q to give up: "
            )
            if answer in ("q", "quit"):
                return None
            minutes = _number(answer) if answer else float(usual)
            if minutes is not None and 0.0 <= minutes <= 10_000.0:
                return minutes
            show_lines([f"'{answer}' is no number of minutes"])

    def _degrees(self, when: str) -> float | None:
        if not self._thermometer:
            return None
        while True:
            answer = _typed(f"thermometer {when}, degC (Enter: none): ")
            if answer in ("", "q", "quit"):
                return None
            degc = _number(answer)
            if degc is not None:
                return degc
            show_lines([f"'{answer}' is no temperature in degC"])


def _typed(words: str) -> str:
    """What is typed; a closed input gives up."""
    console.err.print(words, end="", markup=False)
    try:
        return input().strip().lower()
    except EOFError:
        return "q"


def _number(text: str) -> float | None:
    try:
        value = float(pointed(text))
    except (UnitError, ValueError):
        return None
    return value if isfinite(value) else None
