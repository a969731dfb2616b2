from django.db import migrations

WORDS = [("acls", "ACLS"), ("als", "ACLS"), ("bls", "BLS"), ("licen", "licence")]


def name_the_kinds(apps, schema_editor):
    """Kinds typed freely become one of four; what was typed stays as the note."""
    for name in ["Credential", "HistoricalCredential"]:
        for row in apps.get_model("staff", name).objects.all():
            typed = row.kind.lower()
            row.number = row.kind
            row.kind = next((kind for word, kind in WORDS if word in typed), "other")
            row.save()


class Migration(migrations.Migration):

    dependencies = [
        ("staff", "0002_readiness"),
    ]

    operations = [
        migrations.RunPython(name_the_kinds, migrations.RunPython.noop),
    ]
