"""Lines of the stock's ledger as they are written: out of which batches, and never below zero."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Final

from sqlalchemy import ColumnElement, select
from sqlalchemy.orm import Session

from needlewright.errors import ConflictError, RecordError
from needlewright.records.stock_rows import batches_in, batches_meant, left_in
from needlewright.records.tables import Job, Person, StockBatch, StockMove, StockPart
from needlewright.records.words import StockMoveKind

NOT_KNOWN: Final = "not known"
"""Mark of parts that were found when counting and came in no delivery on record."""

Drawn = tuple[tuple[StockBatch, int], ...]
"""So many of each batch."""


@dataclass(frozen=True, slots=True)
class Hand:
    """Who is at a part's drawer, and for which job, if any."""

    session: Session
    part: StockPart
    person: Person
    at: datetime
    job: Job | None = None

    def batch(self, mark: str, day: date, note: str, money: Mapping[str, str | None]) -> StockBatch:
        """A new delivery."""
        row = StockBatch(
            part_id=self.part.id,
            mark=mark,
            received_on=day,
            note=note,
            at=self.at,
            person=self.person,
            **money,
        )
        self.session.add(row)
        self.session.flush()
        return row

    def line(
        self, kind: StockMoveKind, batch: StockBatch | None, count: int, why: str = ""
    ) -> StockMove:
        """A line of the ledger, to be added."""
        return StockMove(
            part_id=self.part.id,
            batch=batch,
            job_id=None if self.job is None else self.job.id,
            kind=kind,
            count=count,
            why=why,
            at=self.at,
            person=self.person,
        )

    def drawn(self, count: int, batch: str | int | None, seen: int | None) -> Drawn:
        """From which batches so many are drawn.

        Parameters
        ----------
        count
            How many.
        batch
            A mark, or the number of a delivery; None: the oldest, then the next.
        seen
            Newest line the person was looking at; None: not compared. A later one that took of
            this part, for the same job where it is one's, is taken for the same thing sent twice.

        Returns
        -------
        tuple
            Of batch and how many.

        Raises
        ------
        ConflictError
            If somebody drew the missing ones after the person looked, or this was sent before.
        RecordError
            If there are not so many.
        """
        self.refuse_twice("used" if self.job is not None else "scrapped", seen)
        batches = batches_meant(self.session, self.part, batch)
        left = left_in(self.session, batches)
        on_hand = sum(left.values())
        if on_hand >= count:
            return one_after_the_other(batches, left, count)
        refuse_since(self.session, self.part, seen, f"{on_hand} left, {count} wanted")
        every = left_in(self.session, batches_in(self.session, self.part))
        other = sum(every.values()) - on_hand
        elsewhere = f"; of other batches there are {other}" if other else ""
        raise RecordError(
            f"part {self.part.code} ({self.part.words}): {count} wanted and {on_hand} on hand"
            f"{of_batch(batch)}{elsewhere}; count what is in the drawer, or receive the delivery "
            "first"
        )

    def refuse_twice(self, kind: StockMoveKind, seen: int | None) -> None:
        """Raise ConflictError where the part has such a line, of the same job, that is newer."""
        job = None if self.job is None else self.job.id
        same = (StockMove.kind == kind, StockMove.job_id.is_not_distinct_from(job))
        refuse_since(self.session, self.part, seen, "yours may be the same, sent twice", *same)

    def correction(self, counted: int, batch: str | int | None, why: str) -> Iterator[StockMove]:
        """The lines that bring the ledger to what was counted."""
        batches = batches_meant(self.session, self.part, batch)
        yield from self.correction_of(batches, counted, why, named=batch is not None)

    def correction_of(
        self, batches: Sequence[StockBatch], counted: int, why: str, *, named: bool
    ) -> Iterator[StockMove]:
        """The same for these batches; `named`: they alone were counted, and not the part."""
        left = left_in(self.session, batches)
        over = counted - sum(left.values())
        if over > 0:
            yield self.line("counted", batches[-1] if named else self._not_known(), over, why)
        elif over < 0:
            for one, missing in one_after_the_other(batches, left, -over):
                yield self.line("counted", one, -missing, why)
        else:
            yield self.line("counted", batches[-1] if named else None, 0, why)

    def _not_known(self) -> StockBatch:
        money = {"price": None, "currency": None}
        day = self.at.astimezone().date()
        return self.batch(NOT_KNOWN, day, "found when counting", money)


def one_after_the_other(
    batches: Sequence[StockBatch], left: Mapping[int, int], count: int
) -> Drawn:
    """So many out of batches, in their order, while they last."""
    drawn = list[tuple[StockBatch, int]]()
    for batch in batches:
        some = min(count, left[batch.id])
        if some > 0:
            count -= some
            drawn.append((batch, some))
    return tuple(drawn)


def refuse_since(
    session: Session, part: StockPart, seen: int | None, what: str, *of: ColumnElement[bool]
) -> None:
    """Raise ConflictError where something came or went after the person looked.

    Parameters
    ----------
    session
        Of the change.
    part
        The part.
    seen
        Newest line of the stock's ledger the person was looking at; None: not compared.
    what
        Said in brackets.
    of
        Lines for which this holds count alone.
    """
    if seen is None:
        return
    query = select(StockMove).where(StockMove.part_id == part.id, StockMove.id > seen, *of)
    row = session.scalars(query.order_by(StockMove.id.desc()).limit(1)).first()
    if row is None:
        return
    on_job = "" if row.job is None else f" on job {row.job.tag}"
    done = "taken back" if row.undoes_id is not None else row.kind.replace("_", " ")
    raise ConflictError(
        f"part {part.code} ({part.words}): {row.person.name} saved '{done} {abs(row.count)}'"
        f"{on_job} at {row.at.astimezone():%H:%M} after you opened it ({what}); yours was not "
        "saved; look at what is there now and save again"
    )


def of_batch(batch: str | int | None) -> str:
    """Which batch was meant, for a sentence."""
    return "" if batch is None else f" of batch {batch}"
