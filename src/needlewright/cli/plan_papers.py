"""Which papers of a plan are written, and where: the sheet of the work, and the quote."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from needlewright.cli.written import refuse_missing_folder, write_file


@dataclass(frozen=True, slots=True)
class Papers:
    """What is to be written.

    Parameters
    ----------
    option
        The sheet follows; None: what was accepted, else as recommended.
    out, quote
        Where to; None: not.
    sent_by
        On the quote; None: of a job the shop's name and place, else nobody's.
    """

    option: str | None
    out: Path | None
    quote: Path | None
    sent_by: str | None

    @property
    def wanted(self) -> bool:
        """Whether any is."""
        return self.out is not None or self.quote is not None

    def refuse_missing_folders(self) -> None:
        """Say before long work that a file will have no place; raises PaperError."""
        for path in (self.out, self.quote):
            if path is not None:
                refuse_missing_folder(path)

    def write(self, sheet: Callable[[], bytes], quote: Callable[[], bytes]) -> dict[str, str]:
        """Write what is wanted; all of it is made before any of it is written.

        Parameters
        ----------
        sheet
            Makes the sheet of the work.
        quote
            Makes the quote.

        Returns
        -------
        dict
            Path by what it is: `sheet`, `quote`.
        """
        made: dict[str, tuple[Path, bytes]] = {}
        if self.out is not None:
            made["sheet"] = self.out, sheet()
        if self.quote is not None:
            made["quote"] = self.quote, quote()
        for path, content in made.values():
            write_file(path, content)
        return {what: str(path) for what, (path, _) in made.items()}
