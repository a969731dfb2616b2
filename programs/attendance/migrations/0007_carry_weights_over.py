"""Every weight read in class becomes the person's weight of that day, with its first version."""

from django.db import migrations

BATCH = 2000


def carry_over(apps, schema_editor):
    reading = apps.get_model("attendance", "Reading")
    weight = apps.get_model("patients", "BodyWeight")
    version = apps.get_model("patients", "HistoricalBodyWeight")
    waiting = reading.objects.filter(weight_kg__isnull=False, body_weight=None)
    while True:
        rows = list(waiting.select_related("visit__enrolment").order_by("pk")[:BATCH])
        if not rows:
            return
        made = weight.objects.bulk_create(
            weight(
                patient_id=row.visit.enrolment.patient_id,
                on=row.visit.on,
                at=row.taken_at,
                kg=row.weight_kg,
            )
            for row in rows
        )
        version.objects.bulk_create(
            version(
                id=kept.pk,
                patient_id=kept.patient_id,
                on=kept.on,
                at=kept.at,
                kg=kept.kg,
                history_date=kept.at,
                history_type="+",
                history_change_reason="weighed in class",
            )
            for kept in made
        )
        for row, kept in zip(rows, made):
            row.body_weight = kept
        reading.objects.bulk_update(rows, ["body_weight"])


class Migration(migrations.Migration):
    dependencies = [("attendance", "0006_weight_is_of_the_person")]
    # Backwards the table itself goes; the readings keep what was typed.
    operations = [migrations.RunPython(carry_over, migrations.RunPython.noop)]
