"""People are found by the beginnings of words, and the access log by who and when."""

import django.db.models.deletion
from django.db import migrations, models

import patients.models.find
from patients.calc.find import keys_of


def fill(apps, schema_editor):
    """The words of everybody who is there, some thousands at a time."""
    Patient, FindKey = apps.get_model("patients", "Patient"), apps.get_model("patients", "FindKey")
    names = ["pk", "given_name", "family_name", "record_number", "phone"]
    new = []
    for pk, *texts in Patient.objects.values_list(*names).iterator(chunk_size=2000):
        new += [FindKey(patient_id=pk, key=key) for key in keys_of(*texts)]
        if len(new) > 10_000:
            FindKey.objects.bulk_create(new, batch_size=2000)
            new = []
    FindKey.objects.bulk_create(new, batch_size=2000)


class Migration(migrations.Migration):
    dependencies = [("patients", "0001_landed_november_2026")]

    operations = [
        migrations.CreateModel(
            name="FindKey",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("key", patients.models.find.KeyField(max_length=60)),
                (
                    "patient",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="patients.patient",
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(
                        fields=["key", "patient"],
                        name="findkey_begins_idx",
                        opclasses=["varchar_pattern_ops", "int8_ops"],
                    )
                ],
                "constraints": [
                    models.UniqueConstraint(fields=("patient", "key"), name="findkey_once")
                ],
            },
        ),
        migrations.RunPython(fill, migrations.RunPython.noop),
    ]
