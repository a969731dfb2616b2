"""How the database reads for a page: each query's plan, and which tables it reads whole."""

import json
import re
import time
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass, field
from typing import Any

from django.db import connection

from tests.benchmarks.past import of_a_person


@dataclass
class Asked:
    """One query of a page, how long it took, and what of the past its plan reads whole."""

    sql: str
    ms: float
    whole: list[str] = field(default_factory=list)
    plan: str = ""


def growing() -> set[str]:
    """The tables that grow with the past: everything of a person, meetings, the access log."""
    others = {"attendance_classmeeting", "patients_auditevent", "patients_submission"}
    return {model._meta.db_table for model in of_a_person()} | others


class Recorder:
    """Takes every query of what runs inside it; ``asked`` has them with their plans afterwards."""

    def __init__(self) -> None:
        self.taken: list[tuple[str, Any, float]] = []

    def __call__(self, execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        start = time.perf_counter()
        try:
            return execute(sql, params, many, context)
        finally:
            self.taken.append((sql, params, (time.perf_counter() - start) * 1000))

    def __enter__(self) -> "Recorder":
        self._around = connection.execute_wrapper(self)
        self._around.__enter__()
        return self

    def __exit__(self, *args: Any) -> None:
        self._around.__exit__(*args)

    def asked(self, *, is_small: bool = False) -> list[Asked]:
        """The queries that read, each explained; those that write are not.

        PostgreSQL reads a table whole that is small enough. Where all are (``is_small``) it is
        asked how it would do without, so that what is left is what no index fits.
        """
        tables = growing()
        with _forced() if is_small else nullcontext():
            return [
                _explained(sql, params, ms, tables)
                for sql, params, ms in self.taken
                if sql.lstrip("( ").upper().startswith(("SELECT", "WITH"))
            ]


@contextmanager
def _forced() -> Iterator[None]:
    """PostgreSQL plans as for large tables: neither whole reads nor what needs them."""
    names = ["enable_seqscan", "enable_hashjoin", "enable_mergejoin", "enable_material"]
    if connection.vendor != "postgresql":
        yield
        return
    with connection.cursor() as cursor:
        for name in names:
            cursor.execute(f"SET {name} = off")
        try:
            yield
        finally:
            for name in names:
                cursor.execute(f"RESET {name}")


def _explained(sql: str, params: Any, ms: float, tables: set[str]) -> Asked:
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute(f"EXPLAIN QUERY PLAN {sql}", params)
            lines = [row[3] for row in cursor.fetchall()]
            return Asked(sql, ms, _scanned(lines, sql, tables), "\n".join(lines))
        cursor.execute(f"EXPLAIN (FORMAT JSON) {sql}", params)
        found = cursor.fetchone()[0]
        plan = found if isinstance(found, list) else json.loads(found)
        whole: list[str] = []
        _walk(plan[0]["Plan"], tables, _partial_indexes(), whole)
        return Asked(sql, ms, whole, json.dumps(plan, indent=1))


def _scanned(lines: list[str], sql: str, tables: set[str]) -> list[str]:
    """SQLite says SCAN and the name or alias; a scan along an index that a LIMIT ends is none."""
    aliases = {
        alias or table
        : table for table, alias in re.findall(r'(?:FROM|JOIN) "(\w+)"(?: (U\d|V\d|T\d+))?', sql)
    }  # fmt: skip
    partial = _partial_indexes()
    found = []
    for line in lines:
        words = line.split()
        if words[:1] != ["SCAN"]:
            continue
        table = aliases.get(words[1], words[1])
        ends_soon = "USING" in words and (" LIMIT " in sql or words[-1] in partial)
        if table in tables and not ends_soon:
            found.append(table)
    return found


def _partial_indexes() -> set[str]:
    """Indexes of some rows only, such as of what still waits: as long as the present."""
    find = {
        "sqlite": "SELECT name FROM sqlite_master WHERE type = 'index' AND sql LIKE '% WHERE %'",
        "postgresql": "SELECT indexname FROM pg_indexes WHERE indexdef LIKE '% WHERE %'",
    }
    with connection.cursor() as cursor:
        cursor.execute(find[connection.vendor])
        return {name for (name,) in cursor.fetchall()}


def _walk(node: dict[str, Any], tables: set[str], partial: set[str], whole: list[str]) -> None:
    kind, table = node["Node Type"], node.get("Relation Name")
    if kind == "Seq Scan" and table in tables:
        whole.append(table)
    index = node.get("Index Name", "")
    is_walk = kind.startswith("Index") and "Index Cond" not in node
    if is_walk and table in tables and index not in partial:
        # Along an index from its start: right under a limit, all of it without.
        whole.append(f"{table} along an index")
    for below in node.get("Plans", []):
        _walk(below, tables, partial, whole if kind != "Limit" else [])
