"""The weight of every standing result of body size becomes the person's weight of that day."""

from django.db import migrations
from django.utils import timezone


def carry_over(apps, schema_editor):
    measurement = apps.get_model("assessments", "Measurement")
    weight = apps.get_model("patients", "BodyWeight")
    version = apps.get_model("patients", "HistoricalBodyWeight")
    rows = measurement.objects.filter(
        key="body_mass_index",
        error_reason="",
        body_weight=None,
        assessment__performed_on__isnull=False,
    ).select_related("assessment__enrolment")
    now = timezone.now()
    for row in rows.iterator(chunk_size=2000):
        kg = row.inputs.get("weight_kg")
        if kg is None:
            continue
        kept = weight.objects.create(
            patient_id=row.assessment.enrolment.patient_id,
            on=row.assessment.performed_on,
            kg=kg,
        )
        version.objects.create(
            id=kept.pk,
            patient_id=kept.patient_id,
            on=kept.on,
            kg=kept.kg,
            history_date=now,
            history_type="+",
            history_change_reason="assessed",
        )
        measurement.objects.filter(pk=row.pk).update(body_weight=kept)


class Migration(migrations.Migration):
    dependencies = [("assessments", "0005_weight_is_of_the_person")]
    # Backwards the table itself goes; the results keep what was typed.
    operations = [migrations.RunPython(carry_over, migrations.RunPython.noop)]
