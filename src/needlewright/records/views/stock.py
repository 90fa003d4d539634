"""The stock, as plain values."""

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from needlewright.records.words import StockMoveKind


@dataclass(frozen=True, slots=True)
class StockBatchView:
    """One delivery of a part."""

    id: int
    mark: str
    received_on: date
    received: int
    """How many came."""
    on_hand: int
    """How many of them are left."""
    note: str
    price: Decimal | None
    """Paid for one."""
    currency: str | None
    by: str
    at: datetime


@dataclass(frozen=True, slots=True)
class StockPartView:
    """A part, and how many of it there are."""

    code: str
    """Its id in the catalogue of operations, or the shop's own."""
    words: str
    unit: str
    on_hand: int
    reorder_point: int | None
    place: str
    price: Decimal | None
    currency: str | None
    retired: bool
    to_reorder: bool
    """Whether so few are left that it is to be ordered."""
    counted_at: datetime | None
    """When it was last counted."""
    batches: tuple[StockBatchView, ...]
    """Oldest first, those that are used up too."""
    version: int
    """To be handed back as `seen` with changes of these fields."""
    last_move: int
    """Newest line of the ledger; to be handed back as `seen` with what comes or goes."""


@dataclass(frozen=True, slots=True)
class StockMoveView:
    """One line of a part's ledger."""

    id: int
    part: str
    kind: StockMoveKind
    count: int
    """Below zero: it went."""
    on_hand: int
    """Of the part, after it."""
    batch: str | None
    """Its mark."""
    batch_id: int | None
    tag: str | None
    """Of the job."""
    why: str
    by: str
    at: datetime
    undoes: int | None
    """The earlier line it takes back."""
    undone: bool
    """Whether a later line takes it back."""


@dataclass(frozen=True, slots=True)
class UsedPartView:
    """So many of one batch of a part, used in a job and not given back."""

    part: str
    words: str
    unit: str
    count: int
    batch: str
    batch_id: int
    why: str
    """Of the newest use."""
    by: str
    at: datetime


@dataclass(frozen=True, slots=True)
class BatchJobView:
    """A job with parts of a batch in it."""

    tag: str
    family: str
    serial: str | None
    owner: str
    count: int
    used_at: datetime
    closed_at: datetime | None
    """When it went out; None: it is still in the house."""
    came_back: str | None
    """Tag of the first job that is marked a return of it."""
    came_back_at: datetime | None


@dataclass(frozen=True, slots=True)
class StockImport:
    """What a list that was taken in did."""

    lines: int
    parts_new: int
    parts_changed: int
    batches_received: int
    batches_counted: int
    """Counted otherwise than they stood."""
