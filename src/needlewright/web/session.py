"""Who is at the page: a table in memory, so that nothing a browser keeps opens anything later."""

import secrets
from collections.abc import Callable
from dataclasses import dataclass, field
from hashlib import sha256
from threading import Lock
from time import monotonic
from typing import Final

IDLE_S: Final = 4 * 3600.0
"""A session nobody uses for so long ends."""
WHOLE_S: Final = 12 * 3600.0
"""A session ends after so long whatever happens: a working day."""
MOST: Final = 2_000
"""Sessions kept at once; those not signed in go first, then those longest unused."""


@dataclass(slots=True)
class Session:
    """One browser."""

    id: str
    form_token: str
    """Every form that changes something carries it."""
    opened_s: float
    seen_s: float
    signed_in: bool = False
    person: str | None = None
    """Who works at this browser."""


@dataclass(slots=True)
class Sessions:
    """The table."""

    clock: Callable[[], float] = monotonic
    """Seconds, never set back."""
    idle_s: float = IDLE_S
    whole_s: float = WHOLE_S
    most: int = MOST
    _table: dict[bytes, Session] = field(default_factory=dict)
    _lock: Lock = field(default_factory=Lock)

    def open(self, *, signed_in: bool = False, person: str | None = None) -> Session:
        """A new session under a new name."""
        now = self.clock()
        session = Session(
            id=secrets.token_urlsafe(32),
            form_token=secrets.token_urlsafe(32),
            opened_s=now,
            seen_s=now,
            signed_in=signed_in,
            person=person,
        )
        with self._lock:
            if len(self._table) >= self.most:
                self._make_room(now)
            self._table[_key(session.id)] = session
        return session

    def find(self, session_id: str) -> Session | None:
        """The session of that name, unless it has ended; finding it counts as use."""
        now = self.clock()
        with self._lock:
            session = self._table.get(_key(session_id))
            if session is None:
                return None
            if self._is_over(session, now):
                del self._table[_key(session_id)]
                return None
            session.seen_s = now
            return session

    def close(self, session: Session) -> None:
        """End a session."""
        with self._lock:
            self._table.pop(_key(session.id), None)

    def __len__(self) -> int:
        return len(self._table)

    def _is_over(self, session: Session, now: float) -> bool:
        return now - session.seen_s > self.idle_s or now - session.opened_s > self.whole_s

    def _make_room(self, now: float) -> None:
        for key, session in list(self._table.items()):
            if self._is_over(session, now):
                del self._table[key]
        by_use = sorted(self._table.items(), key=lambda one: (one[1].signed_in, one[1].seen_s))
        for key, _ in by_use[: max(0, len(by_use) - self.most + 1)]:
            del self._table[key]


def _key(session_id: str) -> bytes:
    """By its hash, so that how long a look-up takes says nothing about a session's name."""
    return sha256(session_id.encode("utf-8", "surrogatepass")).digest()
