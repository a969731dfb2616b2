from django.db import migrations


class Migration(migrations.Migration):

    dependencies = [
        ("attendance", "0004_answers"),
    ]

    operations = [
        migrations.RemoveField(model_name="historicalvisit", name="has_new_symptoms"),
        migrations.RemoveField(model_name="visit", name="has_new_symptoms"),
    ]
