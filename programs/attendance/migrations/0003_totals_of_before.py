"""The totals of the courses that are there, worked out from their visits and assessments.

What is worked out here is frozen; ``manage.py verify_totals`` does the same by today's code.
"""

from datetime import timedelta
from itertools import groupby

from django.db import migrations


def fill(apps, schema_editor):
    Enrolment = apps.get_model("enrolment", "Enrolment")
    CourseTotals = apps.get_model("enrolment", "CourseTotals")
    exits = set(
        apps.get_model("assessments", "Assessment")
        .objects.filter(kind="exit", performed_on__isnull=False)
        .values_list("enrolment", flat=True)
    )
    counted = _counted(apps.get_model("attendance", "Visit"))
    names = [
        "pk", "patient__site", "starts_on", "sessions_planned", "closed_on", "outcome",
        "referral__discharged_on", "referral__condition__happened_on", "referral__referred_on",
    ]  # fmt: skip
    rows = []
    for pk, site, starts_on, planned, closed_on, outcome, *dates in (
        Enrolment.objects.order_by().values_list(*names).iterator(chunk_size=2000)
    ):
        n, n_in_36_weeks, first_on = counted.get(pk, (0, 0, None))
        waits_since = next(day for day in dates if day is not None)
        rows.append(
            CourseTotals(
                enrolment_id=pk,
                site_id=site,
                starts_on=starts_on,
                starts_in=starts_on.year * 12 + starts_on.month - 1,
                planned=planned,
                has_ended=closed_on is not None,
                outcome=outcome,
                waits_since=waits_since,
                sessions=n,
                sessions_in_36_weeks=n_in_36_weeks,
                first_on=first_on,
                days_to_start=(first_on - waits_since).days if first_on else None,
                has_exit=pk in exits,
            )
        )
        if len(rows) == 2000:
            CourseTotals.objects.bulk_create(rows)
            rows = []
    CourseTotals.objects.bulk_create(rows)


def _counted(Visit):
    """Sessions, those within 252 days of the first, and the first's day, by course."""
    found = {}
    visits = Visit.objects.filter(counts_first=True) | Visit.objects.filter(counts_second=True)
    days = visits.order_by("enrolment", "on").values_list(
        "enrolment", "on", "counts_first", "counts_second"
    )
    for pk, group in groupby(days.iterator(chunk_size=5000), key=lambda row: row[0]):
        sessions = [(on, first + second) for _, on, first, second in group]
        until = sessions[0][0] + timedelta(days=251)
        in_time = sum(n for on, n in sessions if on <= until)
        found[pk] = (sum(n for _, n in sessions), in_time, sessions[0][0])
    return found


class Migration(migrations.Migration):
    dependencies = [
        ("attendance", "0002_indexes"),
        ("enrolment", "0002_course_totals"),
        ("assessments", "0001_landed_november_2026"),
    ]

    operations = [migrations.RunPython(fill, migrations.RunPython.noop)]
