"""Queries written as Django query sets and compiled once.

Building a query set costs several times what a small query costs: of 24 ms that Today with forty
rows took, 12 went into that. Only Today needs it, since it stands open all day and asks every few
seconds, a person's changes, a union of every table of versions, and the count beside Due on every
page: they keep the SQL and fill in the values. Every other page builds its queries as usual.
"""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

from django.db import connection
from django.db.models import QuerySet

Value = int | date
_INT, _DAY = 1_900_000_000, date(9000, 1, 1)  # stand for values that are not known yet


class Prepared:
    """A ``values_list`` query whose values come later.

    ``build`` makes the query set from named values; ``kinds`` names each and says what it is. A
    value may be compared, not left out: each must reach the database. What differs by database
    is compiled for each.
    """

    def __init__(
        self, build: Callable[..., QuerySet[Any, Any]], **kinds: type[int] | type[date]
    ) -> None:
        self.build = build
        self.stand_ins: dict[str, Value] = {
            name: _INT + n if kind is int else _DAY + timedelta(days=n)
            for n, (name, kind) in enumerate(kinds.items())
        }
        self.compiled: dict[str, _Compiled] = {}

    def __call__(self, **values: Value) -> list[tuple[Any, ...]]:
        """The rows for these values."""
        compiled = self.compiled.get(connection.vendor)
        if compiled is None:
            compiled = self.compiled[connection.vendor] = _Compiled(self.build, self.stand_ins)
        return compiled.run(values)


def _stored(value: Value) -> Any:
    """A value as the database takes it."""
    return connection.ops.adapt_datefield_value(value) if isinstance(value, date) else value


class _Compiled:
    def __init__(
        self, build: Callable[..., QuerySet[Any, Any]], stand_ins: dict[str, Value]
    ) -> None:
        compiler = build(**stand_ins).query.get_compiler(connection=connection)
        self.sql, given = compiler.as_sql()
        names = {_stored(value): name for name, value in stand_ins.items()}
        # Each parameter is a name, to be filled in, or a value of the query's own.
        self.given = [(names.get(value), value) for value in given]
        missing = set(names.values()) - {name for name, _ in self.given}
        if missing:
            raise ValueError(f"The query does not use {', '.join(sorted(missing))}.")
        expressions = [column for column, *_ in compiler.select]
        self.converters = compiler.get_converters(expressions)

    def run(self, values: dict[str, Value]) -> list[tuple[Any, ...]]:
        ready = {name: _stored(value) for name, value in values.items()}
        params = [value if name is None else ready[name] for name, value in self.given]
        with connection.cursor() as cursor:
            cursor.execute(self.sql, params)
            rows = cursor.fetchall()
        return self._converted(rows) if self.converters and rows else rows

    def _converted(self, rows: list[tuple[Any, ...]]) -> list[tuple[Any, ...]]:
        """Column by column: a page of forty rows is converted in few steps."""
        columns: list[Any] = list(zip(*rows, strict=True))
        for place, (converters, expression) in self.converters.items():
            for convert in converters:
                columns[place] = [convert(cell, expression, connection) for cell in columns[place]]
        return list(zip(*columns, strict=True))
