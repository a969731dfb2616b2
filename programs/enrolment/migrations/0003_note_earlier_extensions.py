from django.db import migrations


def note(apps, schema_editor):
    """Longer courses from before the question was asked keep their sessions, with these words."""
    enrolments = apps.get_model("enrolment", "Enrolment")
    enrolments.objects.filter(sessions_planned__gt=36, extension_reason="").update(
        extension_reason="planned before approval was asked for"
    )


class Migration(migrations.Migration):

    dependencies = [
        ("enrolment", "0002_intake"),
    ]

    operations = [
        migrations.RunPython(note, migrations.RunPython.noop),  # the words may stay
    ]
