from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [("enrolment", "0006_make_up_index")]

    operations = [
        migrations.AddField("referrallist", "answers", models.JSONField(default=dict)),
        migrations.AddField(
            "referrallist", "fates", models.TextField(blank=True, default=""),
            preserve_default=False,
        ),
        migrations.AddField("referrallist", "n_changed", models.PositiveIntegerField(default=0)),
    ]
