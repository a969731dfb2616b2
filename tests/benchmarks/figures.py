"""The program's figures three ways, by hand: ours, one pass of SQL over the visits, and polars.

    DATABASE_URL=… .venv/bin/python -m tests.benchmarks.figures

Ten years at all sites by month: as the page reads them, as one statement that counts every visit,
and as polars counts an export of visits and courses. All three must say the same of every site and
month; polars is a library of its own (``pip install polars``) and knows nothing of our rules but
what stands here.
"""

import os
import time
from collections.abc import Callable
from datetime import date
from typing import Any

import django

SINCE, UNTIL = date(2000, 1, 1), date(2100, 1, 1)
# Sessions, those of the first 252 days, and the first day, of every course from its visits. Two
# sessions of a day are two flags (CPT 93797/93798 allow two a day).
ONE_PASS = """
WITH days AS (
  SELECT enrolment_id, "on",
         CASE WHEN counts_first THEN 1 ELSE 0 END + CASE WHEN counts_second THEN 1 ELSE 0 END AS n,
         MIN("on") OVER (PARTITION BY enrolment_id) AS first_on
  FROM attendance_visit WHERE counts_first OR counts_second
), counted AS (
  SELECT enrolment_id, SUM(n) AS sessions, MIN(first_on) AS first_on,
         SUM(CASE WHEN {in_time} THEN n ELSE 0 END) AS in_36_weeks
  FROM days GROUP BY enrolment_id
)
SELECT p.site_id, {month} AS month, COUNT(*) AS enrolled,
       SUM(CASE WHEN c.sessions > 0 AND e.closed_on IS NOT NULL THEN 1 ELSE 0 END) AS ended,
       SUM(CASE WHEN e.closed_on IS NOT NULL AND c.in_36_weeks >= 36 THEN 1 ELSE 0 END) AS done,
       SUM(CASE WHEN e.closed_on IS NOT NULL AND 4 * c.sessions > 3 * e.sessions_planned
           THEN 1 ELSE 0 END) AS most
FROM enrolment_enrolment e JOIN patients_patient p ON p.id = e.patient_id
LEFT JOIN counted c ON c.enrolment_id = e.id
GROUP BY 1, 2
"""
FOR = {
    "sqlite": {
        "in_time": 'julianday("on") - julianday(first_on) <= 251',
        "month": "CAST(strftime('%Y', e.starts_on) AS int) * 12"
        " + CAST(strftime('%m', e.starts_on) AS int) - 1",
    },
    "postgresql": {
        "in_time": '"on" - first_on <= 251',
        "month": "(EXTRACT(YEAR FROM e.starts_on) * 12 + EXTRACT(MONTH FROM e.starts_on) - 1)::int",
    },
}
Figures = dict[tuple[int, int], tuple[int, ...]]  # site and month: enrolled, ended, two definitions


def ours() -> Figures:
    """As the page reads them."""
    from programs.staff.models import Site
    from reports import totals
    from reports.calc.completion import BY_KEY, DEFINITIONS

    keys = {str(pk): pk for pk in Site.objects.values_list("pk", flat=True)}
    found = totals.cohorts({pk: name for name, pk in keys.items()}, SINCE, UNTIL)
    wanted = [DEFINITIONS.index(BY_KEY[key]) for key in ("36-in-36", "over-75")]
    return {
        (keys[c.site], c.month): (c.n_enrolled, c.n_ended, *(c.completed[n] for n in wanted))
        for c in found
    }


def one_pass() -> Figures:
    """One statement over every visit."""
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute(ONE_PASS.format(**FOR[connection.vendor]))
        return {(site, month): tuple(map(int, n)) for site, month, *n in cursor.fetchall()}


def export() -> tuple[Any, Any]:
    """Visits that count, and courses, as polars frames."""
    import polars as pl

    from programs.attendance.models import Visit
    from programs.enrolment.models import Enrolment

    visits = (
        Visit.objects.counted()
        .order_by()
        .values_list("enrolment", "on", "counts_first", "counts_second")
    )
    courses = Enrolment.objects.order_by().values_list(
        "pk", "patient__site", "starts_on", "closed_on", "sessions_planned"
    )
    names = ["course", "on", "first", "second"]
    return (
        pl.DataFrame(list(visits.iterator(chunk_size=5000)), schema=names, orient="row"),
        pl.DataFrame(
            list(courses.iterator(chunk_size=5000)),
            schema={
                "course": pl.Int64, "site": pl.Int64, "starts": pl.Date, "closed": pl.Date,
                "planned": pl.Int64,
            },
            orient="row",
        ),
    )  # fmt: skip


def by_polars(visits: Any, courses: Any) -> Figures:
    """As polars counts the export."""
    import polars as pl

    n = pl.col("first").cast(pl.Int64) + pl.col("second").cast(pl.Int64)
    in_time = (pl.col("on") - pl.col("on").min()).dt.total_days() <= 251
    counted = visits.group_by("course").agg(
        sessions=n.sum(), in_36=pl.when(in_time).then(n).otherwise(0).sum()
    )
    ended = pl.col("closed").is_not_null()
    rows = (
        courses.join(counted, on="course", how="left")
        .with_columns(pl.col("sessions", "in_36").fill_null(0))
        .with_columns(
            month=pl.col("starts").dt.year().cast(pl.Int64) * 12 + pl.col("starts").dt.month() - 1
        )
        .group_by("site", "month")
        .agg(
            enrolled=pl.len(),
            ended=(ended & (pl.col("sessions") > 0)).sum(),
            done=(ended & (pl.col("in_36") >= 36)).sum(),
            most=(ended & (4 * pl.col("sessions") > 3 * pl.col("planned"))).sum(),
        )
    )
    return {(site, month): tuple(found) for site, month, *found in rows.iter_rows()}


def timed(what: Callable[[], Figures]) -> tuple[float, Figures]:
    """Seconds of the best of three, and what came out."""
    best = float("inf")
    for _ in range(3):
        start = time.perf_counter()
        found = what()
        best = min(best, time.perf_counter() - start)
    return best, found


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    django.setup()
    from django.db import connection

    seconds, mine = timed(ours)
    print(f"{connection.vendor}: ours {seconds:.3f} s, {len(mine)} sites and months")
    seconds, slow = timed(one_pass)
    print(f"one pass of SQL {seconds:.3f} s, {'the same' if slow == mine else 'DIFFERENT'}")
    start = time.perf_counter()
    frames = export()
    exported = time.perf_counter() - start
    seconds, counted = timed(lambda: by_polars(*frames))
    same = "the same" if counted == mine else "DIFFERENT"
    print(f"polars {seconds:.3f} s after {exported:.1f} s of export, {same}")


if __name__ == "__main__":
    main()
