"""Informal checks are numbered by their week, so that a site may change how often it checks."""

from django.db import migrations

# The first, second, third... check of a course that checked every fourteen days, week six left
# out. From the last, so that no two share a number meanwhile.
WEEKS = {number: 2 * number + (2 if number > 2 else 0) for number in range(17, 0, -1)}


def by_week(apps, schema_editor):
    for name in ["Assessment", "HistoricalAssessment"]:
        rows = apps.get_model("assessments", name).objects.filter(kind="informal")
        for number, week in WEEKS.items():
            rows.filter(number=number).update(number=week)


def by_count(apps, schema_editor):
    for name in ["Assessment", "HistoricalAssessment"]:
        rows = apps.get_model("assessments", name).objects.filter(kind="informal")
        for number, week in reversed(WEEKS.items()):
            rows.filter(number=week).update(number=number)


class Migration(migrations.Migration):
    dependencies = [("assessments", "0003_schedule_and_policy")]
    operations = [migrations.RunPython(by_week, by_count)]
