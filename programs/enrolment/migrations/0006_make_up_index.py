from django.db import migrations, models

from patients.migrating import AddIndexBesideWork


class Migration(migrations.Migration):
    atomic = False
    dependencies = [("enrolment", "0005_make_ups")]

    operations = [
        AddIndexBesideWork(
            "plannedsession",
            models.Index(
                condition=models.Q(("makes_up_on__isnull", False)),
                fields=["makes_up_slot", "makes_up_on"],
                name="plannedsession_make_up_idx",
            ),
        ),
    ]
