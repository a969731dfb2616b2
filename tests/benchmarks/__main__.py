"""The whole benchmark, by hand: three sizes, each database, every page; prints a table.

    .venv/bin/python -m tests.benchmarks FOLDER [postgres://…/postgres]

FOLDER holds the SQLite files and what was measured, about 25 GB; the PostgreSQL server needs as
much again and a superuser. Sizes that are there already are brought to today's schema and measured.
The machine should have nothing else to do, and the demo's clinic a weekday, with a class: building
takes three quarters of an hour, measuring ten minutes.
"""

import json
import os
import shutil
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

SIZES = {"1k": 20, "10k": 200, "100k": 2000}  # copies of the demo's past, of some 68 courses each
ROUNDS = 9
STEP = 100  # copies a transaction


def run(what: str, url: str, *more: str) -> None:
    """Do one part in a process of its own: Django knows one database."""
    env = os.environ | {"DATABASE_URL": url, "DJANGO_SETTINGS_MODULE": "config.settings"}
    subprocess.run([sys.executable, "-m", "tests.benchmarks", what, *more], env=env, check=True)


def build(copies_from: int, copies_to: int) -> None:
    """Grow this database from a number of copies to another; from nothing it is made first."""
    from django.core.management import call_command

    from tests.benchmarks import past

    start = time.monotonic()
    if copies_from == 0:
        call_command("migrate", verbosity=0)
        past.demo_at_ten_sites()
    for n in range(copies_from, copies_to, STEP):
        past.grow(n, min(n + STEP, copies_to))
    past.count_courses()
    print(f"{past.counts()} in {time.monotonic() - start:.0f} s", flush=True)


def measure(out: Path) -> None:
    """Every page of this database beside the floor, as JSON."""
    from django.conf import settings

    import config.wsgi  # noqa: F401 - its collector goes through what a server's does
    from tests.benchmarks import measuring, pages, past, plans

    settings.ROOT_URLCONF, settings.ALLOWED_HOSTS = "tests.benchmarks.measuring", ["*"]
    clients = pages.clients()
    found: dict[str, Any] = {}
    with measuring.one_connection():
        for page in [pages.floor(), *pages.pages()]:
            client = clients[page.role]
            if measuring.status(client, page.url) != 200:
                continue
            cost = measuring.cost(client, page.url, ROUNDS)
            times = measuring.beside_floor(clients["clinician"], client, page.url, ROUNDS)
            with plans.Recorder() as recorder:
                measuring.answer(client, page.url)
            whole = sorted({table for asked in recorder.asked() for table in asked.whole})
            found[page.name] = {**vars(cost), "times": times, "whole": whole}
    out.write_text(json.dumps({"counts": past.counts(), "pages": found}, indent=1))


def table(folder: Path, databases: list[str]) -> str:
    """What was measured, a line a page."""
    from tests.benchmarks import pages

    sizes = list(SIZES)
    lines, head = [], ["page"]
    got = {
        (db, size): json.loads((folder / f"{db}-{size}.json").read_text())
        for db in databases
        for size in sizes
    }
    for db in databases:
        head += [f"{db} {' / '.join(sizes)} ms", "growth", "times the floor", "queries", "kB"]
        lines += [f"{db} {size}: {got[db, size]['counts']}" for size in sizes]
    lines += ["", f"| {' | '.join(head)} |", f"|{' --- |' * len(head)}"]
    last = got[databases[0], sizes[-1]]["pages"]
    for name in last:
        cells = [name]
        for place, db in enumerate(databases):
            row = [got[db, size]["pages"].get(name) for size in sizes]
            if None in row:
                cells += ["", "", "", "", ""]
                continue
            bound = pages.BESIDE_FLOOR.get(name)
            asked = f" (at most {bound[place]})" if bound else ""
            whole = f" reads whole: {', '.join(row[-1]['whole'])}" if row[-1]["whole"] else ""
            cells += [
                " / ".join(f"{one['cpu_ms']:.0f}" for one in row),
                f"{row[-1]['cpu_ms'] / row[0]['cpu_ms']:.2f}{whole}",
                f"{row[-1]['times']:.1f}{asked}",
                str(row[-1]["queries"]),
                str(row[-1]["bytes"] // 1000),
            ]
        lines.append(f"| {' | '.join(cells)} |")
    return "\n".join(lines)


def everything(folder: Path, server: str) -> None:
    """Build what is missing, measure all, print the table."""
    folder.mkdir(parents=True, exist_ok=True)
    databases = ["sqlite", "postgresql"] if server else ["sqlite"]
    for db in databases:
        before, copies = None, 0
        for size, wanted in SIZES.items():
            url = f"sqlite:///{folder.resolve()}/{size}.sqlite3"
            if db == "postgresql":
                url = f"{server.rsplit('/', 1)[0]}/bench_{size}"
            if _begin(db, folder, server, size, before):
                run("build", url, str(copies), str(wanted))
            else:
                run("migrate", url)
            run("measure", url, str(folder / f"{db}-{size}.json"))
            before, copies = size, wanted
    print(table(folder, databases))


def _begin(db: str, folder: Path, server: str, size: str, before: str | None) -> bool:
    """Make a database as a copy of the next smaller; False where it is there already."""
    if db == "sqlite":
        file = folder / f"{size}.sqlite3"
        if file.exists():
            return False
        if before:
            shutil.copy(folder / f"{before}.sqlite3", file)
        return True
    import psycopg

    with psycopg.connect(server, autocommit=True) as connection:
        name = f"bench_{size}"
        if connection.execute("SELECT 1 FROM pg_database WHERE datname = %s", [name]).fetchone():
            return False
        template = f" TEMPLATE bench_{before}" if before else ""
        connection.execute(f"CREATE DATABASE {name}{template}".encode())
        return True


def main(arguments: list[str]) -> None:
    if not arguments:
        print(__doc__)
        return
    import django

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    django.setup()
    what, *more = arguments
    if what == "build":
        build(*map(int, more))
    elif what == "measure":
        measure(Path(more[0]))
    elif what == "migrate":
        from django.core.management import call_command

        call_command("migrate", verbosity=0)
    else:
        everything(Path(what), more[0] if more else "")


if __name__ == "__main__":
    main(sys.argv[1:])
