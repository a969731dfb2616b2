"""Lookups of our own: numbers that no column holds, and words that an index knows."""

import json
import re
from collections.abc import Iterable
from typing import Any

from django.db.models import CharField, IntegerField
from django.db.models.lookups import In, Lookup

from patients.typed import LARGEST


@IntegerField.register_lookup
class InWhatFits(In):
    """Numbers among which a column is looked for: one that no column holds is simply not there.

    Django says so of single numbers; of a list SQLite would be asked, and breaks.
    """

    def process_rhs(self, compiler: Any, connection: Any) -> Any:
        if self.rhs_is_direct_value():
            fits = range(-LARGEST - 1, LARGEST + 1)
            self.rhs = [n for n in self.rhs if not isinstance(n, int) or n in fits]
        return super().process_rhs(compiler, connection)


@CharField.register_lookup
class Among(Lookup):
    """One of some plain words that the code itself names, written into the query.

    SQLite uses an index of some rows only where the query states the very condition of the index,
    and what is sent apart as a parameter states nothing.
    """

    lookup_name = "among"
    prepare_rhs = False

    def as_sql(self, compiler: Any, connection: Any) -> Any:
        words = sorted(self.rhs)
        if not all(re.fullmatch(r"[a-z_]+", word) for word in words):
            raise ValueError("Only plain words of the code itself.")
        column, params = self.process_lhs(compiler, connection)
        listed = ", ".join(f"'{word}'" for word in words)
        return f"{column} IN ({listed})", params


@IntegerField.register_lookup
class Aside(InWhatFits):
    """Numbers a column is compared with, row by row; SQLite never begins a query with them.

    Its statistics are taken from a few hundred rows and say so much and no more of a column with
    ten values. Whoever works at all sites has everybody the clinic ever saw: a list begins with
    what is asked for, its order or its state, and asks last whose it is. PostgreSQL knows better.
    """

    lookup_name = "aside"

    def as_sql(self, compiler: Any, connection: Any) -> Any:
        sql, params = super().as_sql(compiler, connection)
        return (f"+{sql}" if connection.vendor == "sqlite" and sql.startswith('"') else sql), params


def sent_list(keys: Iterable[int], vendor: str) -> Any:
    """A list of keys as one value: an array, or its text where a database knows none."""
    found = list(keys)
    return found if vendor == "postgresql" else json.dumps(found)


@IntegerField.register_lookup
class Listed(Lookup):
    """Keys sent as one value, however many they are: a statement of the same text for any number.

    ``patients.prepared`` fills them in later. Nothing is left out of the list: a number that no
    column holds is compared like any other.
    """

    lookup_name = "listed"
    prepare_rhs = False

    def as_sql(self, compiler: Any, connection: Any) -> Any:
        column, params = self.process_lhs(compiler, connection)
        is_known = not isinstance(self.rhs, str)  # else it stands in for a list
        keys = sent_list(self.rhs, connection.vendor) if is_known else self.rhs
        if connection.vendor == "postgresql":
            return f"{column} = ANY(%s)", [*params, keys]
        # The column is one that Django quotes, the list a parameter.
        return f"{column} IN (SELECT value FROM json_each(%s))", [*params, keys]  # noqa: S608
