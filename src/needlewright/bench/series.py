"""A temperature series as it is kept: one file for the series, one run for each temperature.

`series.json` says which temperatures are done and how warm the cluster was at each step, with the
uncertainty of that; the runs beside it are ordinary ones. It is written before a step is kept, so
it knows at least as many steps as the runs.
"""

import os
from contextlib import suppress
from pathlib import Path
from typing import Final

from pydantic import TypeAdapter, ValidationError

from needlewright.bench.series_state import SeriesState
from needlewright.errors import RunError

SERIES_FILE: Final = "series.json"


class KeptSeries:
    """A series that is kept in a folder as it grows.

    Parameters
    ----------
    folder
        Of the series.
    state
        What is kept so far.
    """

    def __init__(self, folder: Path, state: SeriesState) -> None:
        self.folder, self.state = folder, state

    @property
    def path(self) -> Path:
        """The series' file."""
        return self.folder / SERIES_FILE

    def run_path(self, place: int) -> Path:
        """Where the run of a temperature lies."""
        return self.folder / self.state.temperatures[place].run

    def keep(self, state: SeriesState) -> None:
        """Keep what is known; the file appears whole or not at all.

        Parameters
        ----------
        state
            From now on.

        Raises
        ------
        RunError
            If it cannot be written.
        """
        part = self.folder / f".{SERIES_FILE}.{os.getpid()}.part"
        try:
            self.folder.mkdir(exist_ok=True)
            part.write_text(state.model_dump_json(indent=1) + "\n", encoding="utf-8")
            part.replace(self.path)
        except OSError as error:
            raise RunError(
                f"{self.path}: cannot be written ({error.strerror or error}); check the folder and "
                "its room, then the same command goes on"
            ) from error
        finally:
            with suppress(OSError):
                part.unlink(missing_ok=True)
        self.state = state

    def change(self, place: int, **update: object) -> SeriesState:
        """The state with one temperature changed; not kept yet.

        Parameters
        ----------
        place
            Which of the temperatures.
        update
            Its fields.

        Returns
        -------
        SeriesState
            For `keep`.
        """
        temperatures = list(self.state.temperatures)
        temperatures[place] = temperatures[place].model_copy(update=update)
        return self.state.model_copy(update={"temperatures": tuple(temperatures)})


def open_series(folder: Path) -> KeptSeries:
    """A series that was begun.

    Parameters
    ----------
    folder
        It lies in.

    Returns
    -------
    KeptSeries
        As it stands.

    Raises
    ------
    RunError
        If there is none, or it is damaged.
    """
    path = folder / SERIES_FILE
    try:
        return KeptSeries(folder, TypeAdapter(SeriesState).validate_json(path.read_bytes()))
    except OSError as error:
        raise RunError(
            f"{path}: cannot be opened ({error.strerror or error}); name the folder of a series"
        ) from error
    except ValidationError as error:
        raise RunError(
            f"{path}: is damaged; put it back from a backup, or begin the series again in another "
            "folder. The runs beside it are whole"
        ) from error


def begin_series(folder: Path, fresh: SeriesState) -> KeptSeries:
    """Begin a series, or take up the one that was interrupted.

    Parameters
    ----------
    folder
        It lies in; made if it is not there.
    fresh
        What is to be done.

    Returns
    -------
    KeptSeries
        With what is done already.

    Raises
    ------
    RunError
        If the folder holds another series, a finished one, or other files.
    """
    path = folder / SERIES_FILE
    if not path.exists():
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            raise RunError(f"{folder}: is no empty folder; name a new one for the series")
        if not folder.absolute().parent.is_dir():
            raise RunError(f"{folder}: there is no folder {folder.parent}; make it first")
        return KeptSeries(folder, fresh)
    kept = open_series(folder)
    was = kept.state
    for what, before, now in (
        ("another family", was.family, fresh.family),
        ("another cluster", was.cluster, fresh.cluster),
        ("another kind of run", was.which, fresh.which),
        ("another way of cooling", was.way, fresh.way),
        ("other temperatures", _at(was), _at(fresh)),
    ):
        if before != now:
            raise RunError(
                f"{folder}: holds a series of {what} ('{before}', now '{now}'); give the same as "
                "then to go on with it, or name another folder"
            )
    if all(one.state == "finished" for one in was.temperatures):
        raise RunError(f"{folder}: the series is finished; name another folder for a new one")
    return kept


def _at(state: SeriesState) -> str:
    return ", ".join(f"{one.at_c:g}" for one in state.temperatures) + " degC"
