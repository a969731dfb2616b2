from django.db import migrations, models

from patients.migrating import AddIndexBesideWork


class Migration(migrations.Migration):
    atomic = False
    dependencies = [("attendance", "0001_landed_november_2026")]

    operations = [
        AddIndexBesideWork(
            "finding",
            models.Index(
                condition=models.Q(("answered_at", None), ("cleared_at", None)),
                fields=["visit", "level"],
                name="finding_unanswered_idx",
            ),
        ),
        AddIndexBesideWork(
            "classmeeting", models.Index(fields=["on"], name="classmeeting_day_idx")
        ),
        AddIndexBesideWork(
            "safetyevent",
            models.Index(fields=["site", "-happened_at", "-id"], name="safetyevent_newest_idx"),
        ),
        AddIndexBesideWork(
            "safetyevent",
            models.Index(
                condition=models.Q(("is_withdrawn", False), ("reviewed_at", None)),
                fields=["site", "happened_at"],
                name="safetyevent_to_review_idx",
            ),
        ),
        migrations.RemoveIndex("safetyevent", "attendance__site_id_5c6ebd_idx"),
        migrations.RemoveIndex("finding", "attendance__visit_i_353d6c_idx"),
    ]
