"""What comes due, day by day, in place of the one next review; and that the baseline was done."""

from django.db import migrations, models

FIRST = "Baseline assessment"


def ahead(apps, schema_editor):
    for name in ["Enrolment", "HistoricalEnrolment"]:
        model = apps.get_model("enrolment", name)
        for row in model.objects.exclude(next_review="").exclude(next_review_on=None).iterator():
            day = f"{row.next_review_on}"
            changed = {
                "reviews_ahead": [[day, row.next_review, day]],
                "has_baseline": row.next_review != FIRST,
            }
            model.objects.filter(pk=row.pk).update(**changed)


class Migration(migrations.Migration):
    dependencies = [("enrolment", "0007_course_clinician")]
    operations = [
        operation
        for model in ["enrolment", "historicalenrolment"]
        for operation in [
            migrations.AddField(
                model, "reviews_ahead", models.JSONField(blank=True, default=list)
            ),
            migrations.AddField(model, "has_baseline", models.BooleanField(default=False)),
        ]
    ] + [
        migrations.RunPython(ahead, migrations.RunPython.noop),
    ] + [
        migrations.RemoveField(model, field)
        for model in ["enrolment", "historicalenrolment"]
        for field in ["next_review", "next_review_on"]
    ]
