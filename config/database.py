"""No request waits for a frozen database longer than its worker lives."""

from typing import Any

import psycopg
from django.db.backends.base.base import BaseDatabaseWrapper


def answer_in_time(connection: BaseDatabaseWrapper, seconds: float) -> None:
    """Make a new PostgreSQL connection give up once the server has not answered for so long.

    The server's own time limits hold only as long as the server runs. The connection is closed at
    once: asking it for anything more would wait again.
    """
    raw = connection.connection
    if not isinstance(raw, psycopg.Connection):
        return
    wait = raw.wait

    def wait_in_time(work: Any, *args: Any, **kwargs: Any) -> Any:
        kwargs.setdefault("timeout", seconds)
        try:
            return wait(work, *args, **kwargs)
        except psycopg.errors._WaitTimeout as error:
            raw.close()
            raise psycopg.OperationalError("the database does not answer") from error

    raw.wait = wait_in_time  # type: ignore[assignment,method-assign]
