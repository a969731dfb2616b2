from django.db import migrations


def carry_over(apps, schema_editor):
    """"New symptoms: yes or no" becomes the answer to "anything else new"."""
    for name in ["Visit", "HistoricalVisit"]:
        rows = apps.get_model("attendance", name).objects
        for answer in [True, False]:
            rows.filter(has_new_symptoms=answer).update(answers={"other": answer})


class Migration(migrations.Migration):

    dependencies = [
        ("attendance", "0003_the_floor"),
    ]

    operations = [
        migrations.RunPython(carry_over, migrations.RunPython.noop),
    ]
