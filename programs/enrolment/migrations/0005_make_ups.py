import django.db.models.deletion
from django.db import migrations, models

FOR_THE_CLASS = {
    "blank": True,
    "null": True,
    "db_index": False,
    "related_name": "+",
    "to": "enrolment.classslot",
    "verbose_name": "make-up for the class",
}


class Migration(migrations.Migration):
    dependencies = [("enrolment", "0004_words_of_the_intake")]

    operations = [
        migrations.AddField(
            "contactattempt",
            "missed_until",
            models.DateField(blank=True, null=True, verbose_name="sessions missed until"),
        ),
        migrations.AddField(
            "historicalcontactattempt",
            "missed_until",
            models.DateField(blank=True, null=True, verbose_name="sessions missed until"),
        ),
        migrations.AddField(
            "historicalplannedsession",
            "makes_up_on",
            models.DateField(blank=True, null=True, verbose_name="make-up for"),
        ),
        migrations.AddField(
            "historicalplannedsession",
            "makes_up_slot",
            models.ForeignKey(
                db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, **FOR_THE_CLASS
            ),
        ),
        migrations.AddField(
            "plannedsession",
            "makes_up_on",
            models.DateField(blank=True, null=True, verbose_name="make-up for"),
        ),
        migrations.AddField(
            "plannedsession",
            "makes_up_slot",
            models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, **FOR_THE_CLASS),
        ),
    ]
