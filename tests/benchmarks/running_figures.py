"""Sessions, findings and gains over ten years, by hand: each timed, and counted three ways.

    DATABASE_URL=… .venv/bin/python -m tests.benchmarks.running_figures

By month who came, the minutes, the findings, the sessions under a signed plan; and what people
gained in speed of walking. As the pages read them from narrow rows, as statements over every
visit and every result, and as polars counts an export (``pip install polars``); all three must say
the same. ``manage.py verify_totals --mend`` first, so that nothing waits to be counted.
"""

import os
import time
from typing import Any

import django

from reports.calc.paired import Sums
from tests.benchmarks.figures import timed

KEY, VARIANT = "gait_speed", "course_m"
VISITS = """
WITH found AS (
  SELECT visit_id, COUNT(*) AS n FROM attendance_finding GROUP BY visit_id
)
SELECT {month} AS month,
       SUM(CASE WHEN v.state IN ('arrived', 'exercising', 'finished', 'held', 'stopped')
           THEN 1 ELSE 0 END),
       SUM(COALESCE(v.minutes, 0)), SUM(COALESCE(f.n, 0)),
       SUM(CASE WHEN (v.counts_first OR v.counts_second) AND EXISTS (
             SELECT 1 FROM prescription_treatmentplan p WHERE p.enrolment_id = v.enrolment_id
             AND p.signed_on <= v."on" AND {days_since} <= 30) THEN 1 ELSE 0 END)
FROM attendance_visit v LEFT JOIN found f ON f.visit_id = v.id
WHERE v."on" <= '{last}'
GROUP BY 1
"""
# Measured alike: the same formula, a course as long, inside its range.
GAINS = """
WITH ends AS (
  SELECT a.enrolment_id, a.kind, m.value, m.formula_version, m.is_in_range,
         COALESCE({variant}, '') AS variant
  FROM assessments_measurement m JOIN assessments_assessment a ON a.id = m.assessment_id
  WHERE m.key = '{key}' AND m.error_reason = '' AND a.performed_on IS NOT NULL
), sessions AS (
  SELECT DISTINCT enrolment_id FROM attendance_visit WHERE counts_first OR counts_second
)
SELECT COUNT(*), SUM(x.value - b.value), SUM((x.value - b.value) * (x.value - b.value))
FROM ends b JOIN ends x ON x.enrolment_id = b.enrolment_id AND x.kind = 'exit'
JOIN enrolment_enrolment e ON e.id = b.enrolment_id
JOIN sessions s ON s.enrolment_id = e.id
WHERE b.kind = 'baseline' AND e.closed_on IS NOT NULL AND b.formula_version = x.formula_version
  AND b.is_in_range AND x.is_in_range AND b.variant = x.variant
"""
FOR = {
    "sqlite": {
        "month": "CAST(strftime('%Y', v.\"on\") AS int) * 12"
        " + CAST(strftime('%m', v.\"on\") AS int) - 1",
        "days_since": 'julianday(v."on") - julianday(p.signed_on)',
        "variant": "CAST(json_extract(m.inputs, '$.{name}') AS text)",
    },
    "postgresql": {
        "month": '(EXTRACT(YEAR FROM v."on") * 12 + EXTRACT(MONTH FROM v."on") - 1)::int',
        "days_since": 'v."on" - p.signed_on',
        "variant": "m.inputs->>'{name}'",
    },
}
Months = dict[int, tuple[int, ...]]  # came, minutes, findings, sessions under a plan


def months_of_ours() -> Months:
    """As the page adds them up: one narrow row a day of a site."""
    from django.db.models import Sum

    from programs.enrolment.models import DayTotals

    names = ("came", "minutes", "findings", "with_plan")
    found: dict[int, list[int]] = {}
    for on, *numbers in (
        DayTotals.objects.order_by().values_list("on").annotate(*[Sum(name) for name in names])
    ):
        held = found.setdefault(on.year * 12 + on.month - 1, [0] * len(names))
        held[:] = [a + b for a, b in zip(held, numbers, strict=True)]
    return {month: tuple(numbers) for month, numbers in found.items() if any(numbers)}


def months_of_visits() -> Months:
    """One statement over every visit of the days that are kept."""
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute(VISITS.format(last=last_day(), **FOR[connection.vendor]))
        return {month: tuple(map(int, n)) for month, *n in cursor.fetchall() if any(n)}


def last_day() -> Any:
    """The last day of which all sites have a row."""
    from django.db.models import Max

    from programs.enrolment.models import DayTotals

    return DayTotals.objects.aggregate(last=Max("on"))["last"]


Pairs = tuple[int, float, float]  # people, sum of their changes, and of the squares


def gain_of_ours() -> Pairs:
    """As the page reads it: one narrow row a measure of a course."""
    from reports import figures
    from reports.calc.completion import DEFINITIONS
    from reports.outcomes_of_many import tallies_of
    from tests.benchmarks.program_figures import asked_of_all

    rows = figures.referred(asked_of_all()).filter(figures.ENDED)
    done = figures.completed(DEFINITIONS[0])
    groups = tallies_of(rows, done, gains__key=KEY)[KEY].values()
    change = sum((group.change for group in groups), start=Sums(0, 0, 0))
    return change.n, round(change.total, 3), round(change.squares, 3)


def gain_of_results() -> Pairs:
    """One statement over every result of the measure."""
    from django.db import connection

    variant = FOR[connection.vendor]["variant"].format(name=VARIANT)
    with connection.cursor() as cursor:
        cursor.execute(GAINS.format(key=KEY, variant=variant))
        n, total, squares = cursor.fetchone()
    return n, round(total, 3), round(squares, 3)


def export() -> tuple[Any, Any, Any, Any]:
    """Visits, findings by visit, signatures, and results of one measure, as polars frames."""
    import polars as pl

    from assessments.models import Measurement
    from programs.attendance.models import Finding, Visit
    from programs.prescription.models import TreatmentPlan

    def frame(rows: Any, *names: str) -> Any:
        told = list(rows.order_by().values_list(*names).iterator(chunk_size=5000))
        return pl.DataFrame(
            told, schema=[n.rsplit("__", 1)[-1] for n in names], orient="row",
            infer_schema_length=None,
        )  # fmt: skip

    ended = Measurement.objects.standing().filter(
        key=KEY, assessment__performed_on__isnull=False,
        assessment__enrolment__closed_on__isnull=False,
    )  # fmt: skip
    return (
        frame(
            Visit.objects.filter(on__lte=last_day()),
            "pk", "enrolment", "on", "state", "minutes", "counts_first", "counts_second",
        ),
        frame(Finding.objects.all(), "visit"),
        frame(TreatmentPlan.objects.filter(signed_on__isnull=False), "enrolment", "signed_on"),
        frame(
            ended, "assessment__enrolment", "assessment__kind", "value", "formula_version",
            "is_in_range", f"inputs__{VARIANT}",
        ),
    )  # fmt: skip


def months_by_polars(visits: Any, findings: Any, signed: Any, _: Any) -> Months:
    """As polars counts the export: the last signature up to the day decides."""
    import polars as pl

    came = ["arrived", "exercising", "finished", "held", "stopped"]
    n = findings.group_by("visit").agg(found=pl.len())
    rows = (
        visits.sort("on")
        .join_asof(
            signed.sort("signed_on"), left_on="on", right_on="signed_on", by="enrolment",
            strategy="backward",
        )
        .join(n, left_on="pk", right_on="visit", how="left")
    )  # fmt: skip
    days = (pl.col("on") - pl.col("signed_on")).dt.total_days()
    covered = (pl.col("counts_first") | pl.col("counts_second")) & (days <= 30)
    months = rows.group_by(
        month=pl.col("on").dt.year().cast(pl.Int64) * 12 + pl.col("on").dt.month() - 1
    ).agg(
        came=pl.col("state").is_in(came).sum(),
        minutes=pl.col("minutes").sum(),
        findings=pl.col("found").sum(),
        with_plan=covered.fill_null(value=False).sum(),
    )
    return {month: tuple(map(int, n)) for month, *n in months.iter_rows() if any(n)}


def gain_by_polars(visits: Any, _: Any, __: Any, results: Any) -> Pairs:
    """As polars pairs the export."""
    import polars as pl

    began = visits.filter(pl.col("counts_first") | pl.col("counts_second")).select("enrolment")
    alike = ["enrolment", "formula_version", VARIANT]
    first = results.filter((pl.col("kind") == "baseline") & pl.col("is_in_range"))
    last = results.filter((pl.col("kind") == "exit") & pl.col("is_in_range"))
    pairs = first.join(last, on=alike, nulls_equal=True, suffix="_exit").join(
        began.unique(), on="enrolment", how="semi"
    )
    change = pairs["value_exit"] - pairs["value"]
    return len(change), round(change.sum(), 3), round((change * change).sum(), 3)


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    django.setup()
    from django.db import connection

    seconds, mine = timed(months_of_ours)
    print(f"{connection.vendor}: {len(mine)} months, ours {seconds:.3f} s")
    pairs_s, pairs = timed(gain_of_ours)
    print(f"{pairs[0]} pairs of {KEY}, ours {pairs_s:.3f} s")
    seconds, slow = timed(months_of_visits)
    print(f"one pass of SQL {seconds:.3f} s, {'the same' if slow == mine else 'DIFFERENT'}")
    seconds, slow_pairs = timed(gain_of_results)
    print(f"one pass of SQL {seconds:.3f} s, {'the same' if slow_pairs == pairs else 'DIFFERENT'}")
    start = time.perf_counter()
    frames = export()
    exported = time.perf_counter() - start
    seconds, counted = timed(lambda: months_by_polars(*frames))
    same = "the same" if counted == mine else "DIFFERENT"
    print(f"polars {seconds:.3f} s after {exported:.1f} s of export, {same}")
    seconds, counted_pairs = timed(lambda: gain_by_polars(*frames))
    same = "the same" if counted_pairs == pairs else "DIFFERENT"
    print(f"polars {seconds:.3f} s after the same export, {same}")


if __name__ == "__main__":
    main()
