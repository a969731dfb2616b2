"""The filtration rate was always for 1.73 m² of body surface; only its unit did not say so."""

from django.db import migrations

KEY, BARE, WHOLE = "filtration_rate", "mL/min", "mL/min/1.73 m²"


def name_the_surface(apps, schema_editor):
    rows = apps.get_model("assessments", "Measurement").objects
    rows.filter(key=KEY, unit=BARE).update(unit=WHOLE)


def leave_it_out(apps, schema_editor):
    """The column of the version before holds twelve characters."""
    rows = apps.get_model("assessments", "Measurement").objects
    rows.filter(key=KEY, unit=WHOLE).update(unit=BARE)


class Migration(migrations.Migration):
    dependencies = [("assessments", "0008_units_of_filtration_and_longer_courses")]

    operations = [migrations.RunPython(name_the_surface, leave_it_out)]
