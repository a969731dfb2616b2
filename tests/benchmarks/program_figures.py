"""The program page's figures over ten years, by hand: each timed, and some counted three ways.

    DATABASE_URL=… .venv/bin/python -m tests.benchmarks.program_figures

People referred by month: how many there were, how many began, whose course ended, who has 36
sessions in 36 weeks, and the published rate of 36 sessions by day 180. As the page reads them from
one narrow row a referral, as one statement over every visit, and as polars counts an export
(``pip install polars``); all three must say the same.
"""

import os
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import django

from tests.benchmarks.figures import timed

SINCE, UNTIL = date(2000, 1, 1), date(2100, 1, 1)
EVENTS = ("mi", "pci", "cabg", "transplant", "valve")  # HEDIS Cardiac Rehabilitation
WINDOW_DAYS = 180
# A line a session: two flags of a visit are two sessions (CPT 93797/93798 allow two a day).
ONE_PASS = """
WITH sessions AS (
  SELECT enrolment_id, "on" FROM attendance_visit WHERE counts_first
  UNION ALL SELECT enrolment_id, "on" FROM attendance_visit WHERE counts_second
), numbered AS (
  SELECT enrolment_id, "on",
         ROW_NUMBER() OVER (PARTITION BY enrolment_id ORDER BY "on") AS n,
         MIN("on") OVER (PARTITION BY enrolment_id) AS first_on
  FROM sessions
), counted AS (
  SELECT enrolment_id, COUNT(*) AS sessions, MIN(CASE WHEN n = 36 THEN "on" END) AS last_on,
         SUM(CASE WHEN {in_36_weeks} THEN 1 ELSE 0 END) AS in_36_weeks
  FROM numbered GROUP BY enrolment_id
), rows_of AS (
  SELECT {month} AS month, c.sessions, c.in_36_weeks, e.closed_on, c.last_on,
         COALESCE(r.discharged_on, k.happened_on) AS event_on,
         k.kind IN ('mi', 'pci', 'cabg', 'transplant', 'valve')
         AND COALESCE(NULLIF(e.outcome, ''), r.why_not) <> 'died' AS may_count
  FROM enrolment_referral r JOIN patients_condition k ON k.id = r.condition_id
  LEFT JOIN enrolment_enrolment e ON e.referral_id = r.id
  LEFT JOIN counted c ON c.enrolment_id = e.id
)
SELECT month, COUNT(*),
       SUM(CASE WHEN sessions > 0 THEN 1 ELSE 0 END),
       SUM(CASE WHEN sessions > 0 AND closed_on IS NOT NULL THEN 1 ELSE 0 END),
       SUM(CASE WHEN closed_on IS NOT NULL AND in_36_weeks >= 36 THEN 1 ELSE 0 END),
       SUM(CASE WHEN may_count AND event_on <= {before} THEN 1 ELSE 0 END),
       SUM(CASE WHEN may_count AND event_on <= {before} AND {in_window} THEN 1 ELSE 0 END)
FROM rows_of GROUP BY month
"""
FOR = {
    "sqlite": {
        "in_36_weeks": 'julianday("on") - julianday(first_on) <= 251',
        "in_window": "julianday(last_on) - julianday(event_on) <= 180",
        "month": "CAST(strftime('%Y', r.referred_on) AS int) * 12"
        " + CAST(strftime('%m', r.referred_on) AS int) - 1",
    },
    "postgresql": {
        "in_36_weeks": '"on" - first_on <= 251',
        "in_window": "last_on - event_on <= 180",
        "month": "(EXTRACT(YEAR FROM r.referred_on) * 12"
        " + EXTRACT(MONTH FROM r.referred_on) - 1)::int",
    },
}
Months = dict[int, tuple[int, ...]]


def asked_of_all() -> Any:
    """Everybody ever referred, at every site."""
    from programs.staff.models import Site
    from reports.figures import Asked

    return Asked(dict(Site.objects.values_list("pk", "name")), SINCE, UNTIL, django_today())


def django_today() -> date:
    from django.utils import timezone

    return timezone.localdate()


def ours() -> Months:
    """As the page reads them: two queries of one narrow row a referral."""
    from reports import figures
    from reports.calc.completion import BY_KEY
    from reports.calc.quality import BY_KEY as MEASURES

    asked, measure = asked_of_all(), MEASURES["achievement"]
    rates = {
        month: (n, met)
        for month, n, met in figures.referred(asked)
        .values_list("referred_in")
        .annotate(
            n=figures.number(figures.population(measure, asked.today)),
            met=figures.number(figures.met(measure, asked.today)),
        )
    }
    return {
        m.month: (m.n, m.started, m.ended, m.completed, *rates[m.month])
        for m in figures.by_month(asked, BY_KEY["36-in-36"])
    }


def one_pass() -> Months:
    """One statement over every visit."""
    from django.db import connection

    before = f"'{django_today() - timedelta(days=WINDOW_DAYS)}'"
    with connection.cursor() as cursor:
        cursor.execute(ONE_PASS.format(before=before, **FOR[connection.vendor]))
        return {month: tuple(map(int, n)) for month, *n in cursor.fetchall()}


def export() -> tuple[Any, Any]:
    """Sessions, and referrals with their courses, as polars frames."""
    import polars as pl

    from programs.attendance.models import Visit
    from programs.enrolment.models import Referral

    visits = Visit.objects.counted().order_by()
    days = [
        (course, on)
        for course, on, first, second in visits.values_list(
            "enrolment", "on", "counts_first", "counts_second"
        ).iterator(chunk_size=5000)
        for _ in range(first + second)
    ]
    referrals = Referral.objects.order_by().values_list(
        "enrolment", "referred_on", "discharged_on", "condition__happened_on", "condition__kind",
        "enrolment__closed_on", "enrolment__outcome", "why_not",
    )  # fmt: skip
    names = ["course", "referred", "discharged", "event", "kind", "closed", "outcome", "why_not"]
    kinds = [pl.Int64, pl.Date, pl.Date, pl.Date, pl.String, pl.Date, pl.String, pl.String]
    return (
        pl.DataFrame(days, schema={"course": pl.Int64, "on": pl.Date}, orient="row"),
        pl.DataFrame(
            list(referrals.iterator(chunk_size=5000)),
            schema=dict(zip(names, kinds, strict=True)),
            orient="row",
        ),
    )


def by_polars(days: Any, referrals: Any) -> Months:
    """As polars counts the export."""
    import polars as pl

    on = pl.col("on").sort()
    counted = days.group_by("course").agg(
        sessions=pl.len(),
        in_36=((on - on.first()).dt.total_days() <= 251).sum(),
        last=on.get(35, null_on_oob=True),
    )
    rows = referrals.join(counted, on="course", how="left").with_columns(
        pl.col("sessions", "in_36").fill_null(0),
        event=pl.coalesce("discharged", "event"),
        month=pl.col("referred").dt.year().cast(pl.Int64) * 12 + pl.col("referred").dt.month() - 1,
    )
    died = (pl.col("outcome") == "died").fill_null(value=False) | (pl.col("why_not") == "died")
    old = pl.col("event") <= django_today() - timedelta(days=WINDOW_DAYS)
    counts = (pl.col("kind").is_in(EVENTS) & ~died & old).fill_null(value=False)
    in_window = ((pl.col("last") - pl.col("event")).dt.total_days() <= WINDOW_DAYS).fill_null(
        value=False
    )
    ended = pl.col("closed").is_not_null() & (pl.col("sessions") > 0)
    found = rows.group_by("month").agg(
        n=pl.len(),
        started=(pl.col("sessions") > 0).sum(),
        ended=ended.sum(),
        done=(ended & (pl.col("in_36") >= 36)).sum(),
        counted=counts.sum(),
        met=(counts & in_window).sum(),
    )
    return {month: tuple(map(int, n)) for month, *n in found.iter_rows()}


def each_figure(years: int) -> dict[str, Callable[[], Any]]:
    """Every figure of the page, and of the pages behind it, over the last years of the past.

    The last 62 weeks hold the present alone, which is the same at every size.
    """
    from reports import day_totals, figures, running
    from reports.calc.completion import DEFINITIONS
    from reports.outcomes_of_many import tallies_of
    from reports.program import with_year_before

    today = django_today()
    until = today - timedelta(weeks=62)
    since = until.replace(year=until.year - years, day=1)
    asked = replace(asked_of_all(), since=since, until=until)
    by = DEFINITIONS[0]
    span = running.Span(asked.sites, asked.since, asked.until, today)
    return {
        "the way": lambda: figures.way(asked),
        "months": lambda: figures.by_month(with_year_before(asked), by),
        "waits": lambda: figures.waits(with_year_before(asked)),
        "waits since the event": lambda: figures.event_waits(asked),
        "retention": lambda: figures.stays(asked, "site"),
        "definitions": lambda: figures.every_definition(asked),
        "published measures": lambda: figures.rates(asked),
        "by site": lambda: figures.groups(asked, "site", by),
        "by age": lambda: figures.groups(asked, "age", by),
        "by payer": lambda: figures.groups(asked, "payer", by),
        "sessions, seats and findings": lambda: day_totals.totals(
            span.sites, span.since, span.until, span.today
        ),
        "signatures": lambda: running._signatures(span),
        "six-week reassessments": lambda: running._six_weeks(span),
        "exits": lambda: running._exits(span),
        "the page of sessions, whole": lambda: running.running(span),
        "gains, every measure": lambda: tallies_of(
            figures.referred(asked).filter(figures.ENDED), figures.completed(by)
        ),
    }


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    django.setup()
    from django.db import connection

    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SET max_parallel_workers_per_gather = 0")
    decade = each_figure(10)
    for name, figure in each_figure(1).items():
        year, ten = (1000 * timed(one)[0] for one in (figure, decade[name]))
        print(f"{connection.vendor}: {name}, a year {year:.0f}, ten years {ten:.0f} ms")
    seconds, mine = timed(ours)
    print(f"{len(mine)} months: ours {seconds:.3f} s")
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
