from django.db import migrations, models

from patients.migrating import AddIndexBesideWork


class Migration(migrations.Migration):
    atomic = False
    dependencies = [("enrolment", "0002_course_totals")]

    operations = [
        AddIndexBesideWork(
            "referral",
            models.Index(
                condition=models.Q(("state__among", ["asking", "contacted", "new", "seat"])),
                fields=["patient"],
                name="referral_waiting_idx",
            ),
        ),
    ]
