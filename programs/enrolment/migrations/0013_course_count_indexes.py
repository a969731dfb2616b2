from django.db import migrations, models

from patients.migrating import AddIndexBesideWork


class Migration(migrations.Migration):
    atomic = False
    dependencies = [("enrolment", "0012_course_counts")]

    operations = [
        AddIndexBesideWork(
            "referraltotals",
            models.Index(fields=["site", "six_weeks_on"], name="referraltotals_six_weeks_idx"),
        ),
        AddIndexBesideWork(
            "referraltotals",
            models.Index(
                condition=models.Q(("is_counted", False), ("planned__isnull", False)),
                fields=["site", "referred_in"],
                name="referraltotals_uncounted_idx",
            ),
        ),
    ]
