"""Queries written as Django query sets and compiled once.

Building a query set costs several times what a small query costs: of 24 ms that Today with forty
rows took, 12 went into that, of 60 that Due took, 25. Pages that stand open all day or gather from
many tables keep the SQL and fill in the values. Every other page builds its queries as usual.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from functools import cache
from typing import Any

from django.db import connection
from django.db.models import BooleanField, DateField, Model, QuerySet
from django.db.models.query import ModelIterable, get_related_populators

from patients.lookups import sent_list
from patients.typed import LARGEST

Value = int | date | datetime | Iterable[int]
Build = Callable[..., QuerySet[Any, Any]]
# Stand for values that are not known yet.
_INT, _DAY, _LIST = 1_900_000_000, datetime(9000, 1, 1, tzinfo=UTC), "\u2016list {}\u2016"


def _stand_in(kind: type, n: int) -> Any:
    if kind is list:
        return _LIST.format(n)
    if kind is int:
        return _INT + n
    moment = _DAY + timedelta(days=n)
    return moment if kind is datetime else moment.date()


class Prepared:
    """A query whose values come later: of bare values by ``values_list``, else of model rows.

    ``build`` makes the query set from named values; ``kinds`` names each and says what it is. A
    value may be compared, not left out: each must reach the database. A list of keys is compared
    by the lookup ``listed``. What differs by database is compiled for each.
    """

    def __init__(self, build: Build, **kinds: type) -> None:
        self.build = build
        self.stand_ins = {name: _stand_in(kind, n) for n, (name, kind) in enumerate(kinds.items())}
        self.compiled: dict[str, _Compiled] = {}

    def __call__(self, **values: Value) -> list[Any]:
        """The rows for these values."""
        compiled = self.compiled.get(connection.vendor)
        if compiled is None:
            compiled = self.compiled[connection.vendor] = _Compiled(self.build, self.stand_ins)
        return compiled.run(values)


@dataclass(frozen=True)
class AtSites:
    """Somebody at these sites, while a query is compiled."""

    sites: list[int]

    def site_ids(self) -> list[int]:
        return self.sites


@cache
def _at(build: Build, n_sites: int, *kinds: tuple[str, type]) -> Prepared:
    def asked(**values: Any) -> QuerySet[Any, Any]:
        sites = [values.pop(f"site_{n}") for n in range(n_sites)]
        return build(AtSites(sites), **values)

    return Prepared(asked, **{f"site_{n}": int for n in range(n_sites)}, **dict(kinds))


def rows_at(build: Build, sites: Sequence[int], **values: Value) -> list[Any]:
    """What a query finds for somebody at these sites; compiled once for each number of them."""
    if not sites:
        return []
    kinds = [(name, type(value)) for name, value in values.items()]
    return _at(build, len(sites), *kinds)(
        **{f"site_{n}": site for n, site in enumerate(sites)}, **values
    )


def _stored(value: Any) -> Any:
    """A value as the database takes it; a list as the lookup ``listed`` writes it."""
    if isinstance(value, int | str):
        return value
    if isinstance(value, datetime):
        return connection.ops.adapt_datetimefield_value(value)
    if isinstance(value, date):
        return connection.ops.adapt_datefield_value(value)
    return sent_list(value, connection.vendor)


class _Compiled:
    def __init__(self, build: Build, stand_ins: dict[str, Any]) -> None:
        rows: Any = build(**stand_ins)
        compiler = rows.query.get_compiler(connection=connection)
        self.sql, given = compiler.as_sql()
        names = {_stored(value): name for name, value in stand_ins.items()}
        # Each parameter is a name, to be filled in, or a value of the query's own.
        self.given = [(names.get(value), value) for value in given]
        missing = set(names.values()) - {name for name, _ in self.given}
        if missing:
            raise ValueError(f"The query does not use {', '.join(sorted(missing))}.")
        expressions = [column for column, *_ in compiler.select]
        self.converters = compiler.get_converters(expressions)
        is_whole = rows._iterable_class is ModelIterable
        self.made = _Made(compiler) if is_whole else None

    def run(self, values: dict[str, Value]) -> list[Any]:
        if any(isinstance(value, int) and abs(value) > LARGEST for value in values.values()):
            return []  # what no column holds is simply not there
        ready = {name: _stored(value) for name, value in values.items()}
        params = [value if name is None else ready[name] for name, value in self.given]
        with connection.cursor() as cursor:
            cursor.execute(self.sql, params)
            rows = cursor.fetchall()
        rows = self._converted(rows) if self.converters and rows else rows
        return self.made.of(rows) if self.made is not None else rows

    def _converted(self, rows: list[tuple[Any, ...]]) -> list[tuple[Any, ...]]:
        """Column by column: a page of forty rows is converted in few steps."""
        columns: list[Any] = list(zip(*rows, strict=True))
        for place, (converters, expression) in self.converters.items():
            cells = columns[place]
            # The same few days stand in many rows: each is read once.
            is_repeated = isinstance(expression.output_field, DateField | BooleanField)
            for convert in converters:
                if is_repeated:
                    read = {cell: convert(cell, expression, connection) for cell in set(cells)}
                    cells = [read[cell] for cell in cells]
                else:
                    cells = [convert(cell, expression, connection) for cell in cells]
            columns[place] = cells
        return list(zip(*columns, strict=True))


class _Made:
    """Model rows out of a statement's columns, as Django's own ``ModelIterable`` makes them."""

    def __init__(self, compiler: Any) -> None:
        info = compiler.klass_info
        places = info["select_fields"]
        self.model: type[Model] = info["model"]
        self.span = slice(places[0], places[-1] + 1)
        self.names = [column.target.attname for column, *_ in compiler.select[self.span]]
        # The stubs describe a later Django, which asks for one argument more.
        populators: Any = get_related_populators
        self.related = populators(info, compiler.select, connection.alias)
        self.annotated = dict(compiler.annotation_col_map or {})

    def of(self, rows: Sequence[tuple[Any, ...]]) -> list[Any]:
        found = []
        for row in rows:
            made = self.model.from_db(connection.alias, self.names, row[self.span])
            for related in self.related:
                related.populate(row, made)
            for name, place in self.annotated.items():
                setattr(made, name, row[place])
            found.append(made)
        return found


def attach(
    rows: Iterable[Any], name: str, found: Iterable[Any], key: str, *, model: type[Model]
) -> None:
    """Give each row its share of what was found, as ``prefetch_related`` would: ``row.name.all()``.

    ``key`` is what holds the row's key in what was found; of a foreign key it is its column.
    """
    shares: dict[Any, list[Any]] = defaultdict(list)
    for one in found:
        shares[getattr(one, key)].append(one)
    for row in rows:
        held: Any = model._default_manager.get_queryset()
        held._result_cache, held._prefetch_done = shares.get(row.pk, []), True
        vars(row).setdefault("_prefetched_objects_cache", {})[name] = held
