"""What was worked out from the database, kept as long as nothing is stored in it.

A page that stands open all day asks for the same every few seconds. Both databases tell exactly
whether anything was committed since they were last asked, so that nothing has to be told by
whoever writes: what is kept under one state is never shown in another.
"""

from collections import OrderedDict
from collections.abc import Callable, Hashable
from itertools import count
from threading import Lock
from typing import Any, Generic, TypeVar

from django.db import connection

T = TypeVar("T")
_opened = count()  # connections of this process


def state() -> Hashable | None:
    """The state of the database: two that are equal have the same rows committed.

    None inside a transaction, which sees what it has not committed yet.

    References
    ----------
    SQLite, PRAGMA data_version: changes by other connections; what this one changed is in
    ``sqlite3_total_changes``. PostgreSQL, pg_current_snapshot: which transactions are in the past.
    """
    if connection.in_atomic_block:
        return None
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SELECT pg_current_snapshot()::text, pg_postmaster_start_time()")
            return connection.settings_dict["NAME"], *cursor.fetchone()
        cursor.execute("PRAGMA data_version")
        (others,) = cursor.fetchone()
    return _this_connection(), others, connection.connection.total_changes


def _this_connection() -> int:
    """A number of this very connection: the version of SQLite says nothing to another one."""
    known: Any = getattr(connection, "kept_number", None)
    if known is None or known[0] is not connection.connection:
        known = connection.connection, next(_opened)
        connection.kept_number = known  # type: ignore[attr-defined]
    return int(known[1])


class Kept(Generic[T]):
    """The newest results of a function of the database, by what it was asked."""

    def __init__(self, most: int) -> None:
        self.most = most
        self._found: OrderedDict[Hashable, T] = OrderedDict()
        self._lock = Lock()

    def of(self, asked: Hashable, work_out: Callable[[], T]) -> T:
        """What was worked out for this in this very state of the database, or is now.

        The state is read first: what is committed while it is worked out belongs to a later one.
        Others get the same object, so nobody may change it.
        """
        at = state()
        if at is None:
            return work_out()
        with self._lock:
            if (at, asked) in self._found:
                self._found.move_to_end((at, asked))
                return self._found[at, asked]
        found = work_out()
        with self._lock:
            self._found[at, asked] = found
            while len(self._found) > self.most:
                self._found.popitem(last=False)
        return found
