"""What a page costs: CPU of this process and of its database, queries, bytes, memory.

Requests go through the program's own handler, middleware and all. CPU is what the machine worked,
not what the clock says, so that neighbours on the machine disturb less. The floor is the least a
signed-in page costs: six queries and a table of thirty rows.
"""

import gzip
import os
import re
import statistics
import time
import tracemalloc
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.contrib.auth.decorators import login_required
from django.contrib.staticfiles import finders
from django.core.handlers.wsgi import WSGIHandler
from django.core.signals import request_finished, request_started
from django.db import close_old_connections, connection
from django.http import HttpRequest, HttpResponse
from django.template import engines
from django.test import Client, RequestFactory
from django.test.utils import CaptureQueriesContext
from django.urls import include, path

from patients.models import Patient

HANDLER = WSGIHandler()
FLOOR_URL = "/benchmark-floor/"
FLOOR_PAGE = """{% extends "base.html" %}{% block main %}<table>{% for p in people %}
<tr><td>{{ p.family_name }}</td><td>{{ p.given_name }}</td><td>{{ p.born_on|date:"j M Y" }}</td>
<td>{{ p.record_number }}</td><td>{{ p.phone }}</td></tr>{% endfor %}</table>{% endblock %}"""


@login_required
def floor_page(request: HttpRequest) -> HttpResponse:
    """Session, user, sites and the count beside Due are four queries; two of its own make six."""
    user: Any = request.user
    people = list(Patient.objects.filter(site__in=user.site_ids()).order_by("pk")[:30])
    Patient.objects.filter(pk__in=[p.pk for p in people]).count()
    page = engines["django"].from_string(FLOOR_PAGE)  # type: ignore[attr-defined]
    return HttpResponse(page.render({"people": people}, request))


urlpatterns = [path(FLOOR_URL[1:], floor_page), path("", include("config.urls"))]


@dataclass(frozen=True)
class Cost:
    """What one request took.

    ``cpu_ms`` is the median of process and database together, ``memory_kb`` the most that stood in
    memory at once beyond what stood there before.
    """

    cpu_ms: float
    queries: int
    bytes: int
    memory_kb: int


def answer(client: Client, url: str) -> bytes:
    """One whole request through the program's own handler.

    Django's test client would copy the context of every included template for its own records.
    """
    request = RequestFactory().get(
        url, headers={"cookie": client.cookies.output(header="", sep=";")}
    )
    started: list[str] = []
    body = b"".join(HANDLER(request.environ, lambda status, headers: started.append(status)))
    assert started == ["200 OK"], (url, started)
    return body


def status(client: Client, url: str) -> int:
    """How a page answers."""
    return client.get(url).status_code


def cost(client: Client, url: str, rounds: int, *, memory: bool = True) -> Cost:
    """The cost of a page, once everything that is kept between requests stands.

    Measuring ``memory`` makes one request several times slower.
    """
    body = answer(client, url)
    times = []
    for _ in range(rounds):
        before = _cpu_seconds()
        answer(client, url)
        times.append((_cpu_seconds() - before) * 1000)
    held = _memory_kb(client, url) if memory else 0
    return Cost(statistics.median(times), n_queries(client, url), len(body), held)


def beside_floor(floor: Client, client: Client, url: str, rounds: int) -> float:
    """CPU of a page as times the floor's, both at their best of some rounds taken in turn.

    What else the machine does slows both alike.
    """
    best = [float("inf"), float("inf")]
    for _ in range(rounds):
        for place, (who, what) in enumerate([(floor, FLOOR_URL), (client, url)]):
            before = _cpu_seconds()
            answer(who, what)
            best[place] = min(best[place], _cpu_seconds() - before)
    return best[1] / best[0]


def first_view_bytes(html: bytes) -> int:
    """What a browser that was never here loads: the page, and what it links, compressed.

    Whitenoise serves files under names that change with them, compressed and cached for good; the
    page itself goes as it is.
    """
    names = set(re.findall(rb'(?:src|href)="/static/([^"?]+)"', html))
    found = [finders.find(name.decode()) for name in names]
    return len(html) + sum(len(gzip.compress(Path(str(path)).read_bytes())) for path in found)


def _memory_kb(client: Client, url: str) -> int:
    tracemalloc.start()
    try:
        answer(client, url)
        return tracemalloc.get_traced_memory()[1] // 1024
    finally:
        tracemalloc.stop()


def n_queries(client: Client, url: str) -> int:
    """Queries of a page; every ten seconds a request also stores that somebody is active."""
    counts = []
    for _ in range(3):
        with CaptureQueriesContext(connection) as captured:
            answer(client, url)
        counts.append(len(captured))
    return min(counts)


def median_ms(
    client: Client, *urls: str, rounds: int = 25, before: Callable[[], Any] = int
) -> list[float]:
    """Medians of whole requests by the clock, the pages in turn so that neighbours disturb all.

    ``before`` is done before each, and not timed.
    """
    for url in urls:
        answer(client, url)
    times: dict[str, list[float]] = {url: [] for url in urls}
    for _ in range(rounds):
        for url in urls:
            before()
            start = time.perf_counter()
            answer(client, url)
            times[url].append((time.perf_counter() - start) * 1000)
    return [statistics.median(times[url]) for url in urls]


def _cpu_seconds() -> float:
    return time.process_time() + _database_seconds()


def _database_seconds() -> float:
    """CPU of the PostgreSQL process that serves this connection; SQLite works in ours."""
    if connection.vendor == "sqlite":
        return 0.0
    pid = connection.connection.info.backend_pid
    with open(f"/proc/{pid}/schedstat") as file:
        return int(file.read().split()[0]) / 1e9


@contextmanager
def one_connection() -> Iterator[None]:
    """The connection stays open between requests, as a server's does."""
    for signal in [request_started, request_finished]:
        signal.disconnect(close_old_connections)
    try:
        yield
    finally:
        for signal in [request_started, request_finished]:
            signal.connect(close_old_connections)


def cores() -> str:
    """The machine, for the head of a table."""
    return f"{os.cpu_count()} cores, Python {os.sys.version.split()[0]}, {connection.vendor}"  # type: ignore[attr-defined]
